package letter

import "testing"

// Names that are put together are translated one by one: a pattern with a place
// at its end does not take all of them for one name.
func TestNamesOfAListAreTranslatedOneByOne(t *testing.T) {
	v := &view{tongue: tongueOf(Spanish)}
	for english, want := range map[string]string{
		"The advice on pH rating, phosphorus rating and potassium rating rests on common practice, no published source.": "El consejo sobre calificación de pH, calificación de fósforo y calificación de potasio se basa en la práctica común, sin fuente publicada.",
		"The soil holds so much zinc, copper and boron that plants may suffer.":                                          "El suelo tiene tanto zinc, cobre y boro que las plantas pueden sufrir.",
	} {
		if got := v.tr(english); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
