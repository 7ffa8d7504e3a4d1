package letter_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
)

// What a check found, with its figures, is for the staff. A client reads once,
// in the language of the letter, that numbers don't agree and who asks.
func TestDoubtsArePlain(t *testing.T) {
	const what = "the printed CEC is not the sum of the printed cations and acidity"
	bad := func(analyte, printed string) *normalize.Result {
		x := r(analyte, printed)
		x.Status = normalize.Flagged
		x.Findings = []normalize.Finding{{Check: "cations-sum", Severity: ingest.Flag, What: what, Source: "definition"}}
		return x
	}
	rec := record("vegetable garden", "Long bed", "Rosalind Applegarth-Vane", "", r("pH", "6.6"), r("P", "40"), bad("K", "80"), bad("Ca", "900"), bad("Mg", "90"), bad("acidity", "2"))
	for lang, want := range map[letter.Language][2]string{
		letter.English: {"Some numbers in this report do not agree with each other.", "no advice on potassium, calcium or magnesium"},
		letter.Spanish: {"Algunos números de este informe no concuerdan entre sí.", "consejo sobre potasio, calcio ni magnesio"},
	} {
		l := of(t, letterCase{rec: rec, ask: interpret.Ask{On: "2026-04-15"}}, lang)
		if n := len(l.Advice.Questions); n < 4 {
			t.Fatalf("%d questions: the staff must see each", n)
		}
		var b bytes.Buffer
		if err := l.HTML(&b); err != nil {
			t.Fatal(err)
		}
		page := b.String()
		if strings.Count(page, want[0]) != 1 || !strings.Contains(page, want[1]) {
			t.Errorf("%s: no %q", lang, want)
		}
		for _, not := range []string{"CEC", "on acidity", "sobre acidez", "en inglés", "What we need from you", "Lo que necesitamos"} {
			if strings.Contains(page, not) {
				t.Errorf("%s: the letter says %q", lang, not)
			}
		}
	}
}
