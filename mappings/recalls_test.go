package mappings

import "testing"

// What people write beside a report when its results are not to stand, and
// what they write anyway; common practice, no source.
func TestRecalls(t *testing.T) {
	for _, text := range []string{
		"Correction: the phosphorus of TG-26-01180 is 31 ppm, not as printed.",
		"Correction: your Phosphorus result was 31 ppm",
		"Good day. Correction - potassium is 144.",
		"Please disregard the attached report.",
		"Please disregard the results we sent on Monday.",
		"Do not use these results, the samples were mixed up.",
		"The results for sample 3 were reported in error.",
		"The phosphorus value should read 31.",
		"We have withdrawn the report of 3 March.",
		"We must withdraw our report QX-118.",
		"Attached are the revised results.",
		"Please find our amended report.",
		"There is a mistake in the attached results.",
		"We sent you the wrong results yesterday.",
		"This replaces the results of 2 May.",
		"Please change the phosphorus value to 31.",
		"Please ignore my last message.",
		"The rose bed and herb bed samples were exchanged in the laboratory.",
		"Two bags were mislabelled.",
		"Las muestras fueron intercambiadas.",
	} {
		if Recalls(text, false) == "" {
			t.Errorf("%q says that results are not to stand", text)
		}
	}
	for _, text := range []string{
		"Attached are the results of job BP4410, 3 samples.",
		"If you are not the intended recipient, please disregard this message and the attached report.",
		"If you received this report in error, please destroy it.",
		"Please disregard this reminder if you have paid.",
		"Samples should be mixed well.", "Results corrected for moisture.", "All values are corrected to 25 C.",
		"Correction of soil acidity takes years: lime in autumn.", "pH correction",
		"Please lime to correct the pH.", "Add amendments such as compost.",
		"To correct a deficiency, apply 2 lb of boron.", "Replace the lid of the box.", "Our price list was revised in January.",
	} {
		if s := Recalls(text, false); s != "" {
			t.Errorf("%q is taken for a correction: %q", text, s)
		}
	}
	for text, want := range map[string]bool{"Correction": true, "Fwd: RE: Corrected soil results": true, "RE: revised report AR-26-1": true, "Fwd: RE: soil results AR-26-2237": false, "Your soil test": false, "pH correction": false} {
		if got := Recalls(text, true) != ""; got != want {
			t.Errorf("the subject %q: %v", text, got)
		}
	}
}

// TestMarkTwice: two stars are another note than one.
func TestMarkTwice(t *testing.T) {
	for marks, texts := range map[string]map[string]string{
		"*":  {"92*": "*", "92": "", "92**": "!", "92 * *": "!"},
		"**": {"92**": "**", "92*": "!"},
	} {
		for text, want := range texts {
			n, err := Style{Marks: []string{marks}}.parseNumber(text)
			if (err != nil) != (want == "!") || err == nil && (n.Mark != want || n.Digits != "92") {
				t.Errorf("%q where %s is declared: %+v, %v", text, marks, n, err)
			}
		}
	}
	if n, err := (Style{Marks: []string{"*", "**", "a"}}).parseNumber("92**a"); err != nil || n.Mark != "**a" {
		t.Errorf("declared both: %+v, %v", n, err)
	}
}
