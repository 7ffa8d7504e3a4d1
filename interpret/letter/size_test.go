package letter_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/interpret/letter"
)

// From half an acre up an area is told in acres: 43,560 square feet by
// definition (NIST Handbook 44, appendix C). A rounded one keeps its square feet.
func TestAreaInAcres(t *testing.T) {
	for sqFt, want := range map[string][2]string{
		"250": {"250\u00a0sq\u00a0ft", "250\u00a0pies cuadrados"}, "21779": {"21,779\u00a0sq\u00a0ft", "21,779\u00a0pies"},
		"21780": {"0.5\u00a0acres", "0.5\u00a0acres"}, "43560": {"one\u00a0acre", "un\u00a0acre"}, "130680": {"3\u00a0acres", "3\u00a0acres"},
		"100000": {"100,000\u00a0sq\u00a0ft (about 2.3\u00a0acres)", "100,000\u00a0pies cuadrados (unos 2.3\u00a0acres)"},
	} {
		for i, lang := range []letter.Language{letter.English, letter.Spanish} {
			l := of(t, cases()[0], lang)
			a := *l.Advice
			a.AreaSqFt, l.Advice = sqFt, &a
			var b bytes.Buffer
			if err := l.HTML(&b); err != nil {
				t.Fatal(err)
			}
			page := b.String()
			if !strings.Contains(page, want[i]) {
				t.Errorf("%s sq ft (%s): no %q", sqFt, lang, want[i])
			}
			if sqFt == "130680" && strings.Contains(page, "130,680") {
				t.Errorf("%s: 3 acres are told in square feet", lang)
			}
		}
	}
}
