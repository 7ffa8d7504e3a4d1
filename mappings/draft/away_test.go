package draft

import (
	"regexp"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

var questionMark = regexp.MustCompile(`(?m)^ *# QUESTION.*\n|; QUESTION:.*$|  # QUESTION.*$`)

// careless is a draft as a steward leaves it who has only taken its questions
// away.
func careless(t *testing.T, dr *Draft) *mappings.Mapping {
	t.Helper()
	m, why := mappings.Decode("draft.yaml", []byte(questionMark.ReplaceAllString(dr.Text, "")), vocabulary())
	if m == nil {
		t.Fatal(why, dr.Text)
	}
	return m
}

// asOf is how the first number with these digits on a report counts in the
// best reading by a mapping, with the reasons that hold the report.
func asOf(t *testing.T, m *mappings.Mapping, doc *ingest.Document, number string) (as string, held []string) {
	t.Helper()
	for _, try := range mappings.TryMapping(m, []*ingest.Document{doc}, vocabulary()) {
		if try.Extract == nil {
			continue
		}
		for _, r := range try.Extract.Reasons {
			if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
				held = append(held, r.Code)
			}
		}
		for _, k := range try.Extract.Marks {
			if strings.Contains(k.Text, number) {
				return k.As, held
			}
		}
	}
	return "", held
}

const limeLetter = `
QUARRY HILL SOIL LABORATORY
Lab no.: QH-1204        Client: Ned Oak

Soil pH ........... 6.1
Phosphorus ........ 31 ppm
Potassium ......... 120 ppm

With our lime mixture the reading fell to 6.83 after an hour.
Extracted with Olsen solution; pH in 1:1 water.
Office telephone 555-0132
`

// A line with a number that is not certainly furniture is never declared
// without a question: a result in words that no list knows would vanish.
func TestDoubtIsNotDeclared(t *testing.T) {
	doc := drawn(limeLetter)
	_, dr := drafted(t, doc)
	for _, l := range strings.Split(dr.Text, "\n") {
		if strings.Contains(l, "lime mixture") && !strings.Contains(l, "QUESTION") {
			t.Errorf("declared without a question: %s", l)
		}
	}
	if as, held := asOf(t, careless(t, dr), doc, "6.83"); as == "declared" || len(held) == 0 {
		t.Errorf("the number counts as %q, and the report is held for %v\n%s", as, held, dr.Text)
	}
	if as, _ := asOf(t, careless(t, dr), doc, "555-0132"); as != "declared" {
		t.Errorf("a telephone number counts as %q, and it is certain", as)
	}
	for _, c := range []struct {
		text string
		want bool
	}{
		{"Call 555-0132", true}, {"Mill Road 11, Calder, CX 40977", true}, {"page 1 of 2", true}, {"Invoice 2231", true},
		{"Advice: spread 3 t/ha", true}, {"Note: the second reading was 6.4", false}, {"lime mixture 6.83", false},
		{"Cation balance 98", false}, {"500-2000", false}, {"Version 3 was 5", false}, {"EC 12345", false}, {"Lead, call if 300", false}, {"we call 6.5 sweet", false}, {"41 @ 20", false}, {"results@calder.example 2", true},
	} {
		if got := newDrafter(Options{Vocabulary: vocabulary()}).certain(c.text); got != c.want {
			t.Errorf("%q is certainly furniture: %v", c.text, got)
		}
	}
}

// What says how results were measured is relied on: when it changes, the
// report is held.
func TestMethodLinesAreReliedOn(t *testing.T) {
	_, dr := drafted(t, drawn(limeLetter))
	if !strings.Contains(dr.Text, "relies on:") || !strings.Contains(dr.Text, "Extracted with Olsen solution") {
		t.Fatal("the method line is not relied on:\n" + dr.Text)
	}
	m := careless(t, dr)
	same := drawn(strings.NewReplacer("6.83", "", "31 ppm", "32 ppm").Replace(limeLetter))
	if _, held := asOf(t, m, same, "Olsen"); strings.Contains(strings.Join(held, " "), "layout-changed") {
		t.Errorf("the same method holds the report: %v", held)
	}
	other := drawn(strings.NewReplacer("6.83", "", "Olsen", "Mehlich-3").Replace(limeLetter))
	if _, held := asOf(t, m, other, "Mehlich-3"); !strings.Contains(strings.Join(held, " "), "layout-changed") {
		t.Errorf("another method does not hold the report: %v", held)
	}
	for text, want := range map[string]string{
		"P by Olsen; salts in 1:2 water": "method", "Results are given in ppm of dry soil": "unit", "All samples are of a 6 inch layer": "depth",
		"lb/acre stands for 2,000,000 lb of soil": "unit", "Call us on 555-0132": "", "Thank you for your order of 3 bags": "",
	} {
		if got := newDrafter(Options{Vocabulary: vocabulary()}).states(text); got != want {
			t.Errorf("%q states %q, want %q", text, got, want)
		}
	}
}

const withChecks = `
VESPER FIELD LABORATORY
Client: Moss Farm          County: Vesper         Reported: 2026-04-02

Lab no.    Field       pH     OM     CEC
                              %      meq/100g
VF26-011   North       6.5    3.0    9.1
VF26-012   South       5.9    2.2    8.8
VF26-013   East        6.1    2.7    9.0
QC soil 8              7.0    2.6    9.9
Average                6.4    2.6    9.2
`

// Check rows are no client's samples: they are left out with a question, and
// a stray row that nothing names holds the report.
func TestCheckRowsAreNoSamples(t *testing.T) {
	got, dr := drafted(t, drawn(withChecks))
	if strings.Contains(got, "QC soil 8 ") || strings.Contains(got, "Average ") || !strings.Contains(got, "VF26-013 CEC") {
		t.Errorf("read as samples:\n%s", got)
	}
	for _, w := range []string{"begins: QC soil 8", "begins: Average"} {
		if !asks(dr, w) {
			t.Errorf("no question on the line with %q", w)
		}
	}
	if !strings.Contains(dr.Text, `reads: lab_sample_id, only: "VF##-###"`) || strings.Contains(dr.Text, `sample: "QC`) {
		t.Error("the form of the sample numbers is not asked for, or a check row is the example:\n" + dr.Text)
	}
	stray := drawn(strings.Replace(withChecks, "QC soil 8  ", "Ringtest 41", 1))
	if _, held := asOf(t, careless(t, dr), stray, "9.9"); !strings.Contains(strings.Join(held, " "), "cell-not-allowed") {
		t.Errorf("a row of another kind is not held: %v", held)
	}
	// A client may call a plot Control or Check; its number is the laboratory's.
	got, _ = drafted(t, drawn(strings.Replace(withChecks, "North  ", "Control", 1)))
	if !strings.Contains(got, "VF26-011 pH = 6.5") {
		t.Errorf("a client's sample is left out:\n%s", got)
	}
}

func TestFormOfNumbers(t *testing.T) {
	for _, c := range []struct{ ids, form, odd string }{
		{"24017-01 24017-02 24031-11", "#####-##", ""},
		{"A1 A2 A10", "A#*", ""},
		{"101 102 103", "#*", ""},
		{"4410 4411 QC9", "####", "QC9"},
		{"N1 S22 x", "", ""},
		{"7", "", ""},
	} {
		form, odd := formOf(strings.Fields(c.ids))
		if form != c.form || strings.Join(odd, " ") != c.odd {
			t.Errorf("%s: form %q, odd %v", c.ids, form, odd)
		}
	}
}

// What the old mapping reads in a revised report, the new layout reads or
// asks about, and never declares away.
func TestReviseKeepsWhatIsRead(t *testing.T) {
	v := vocabulary()
	text := []byte(`windrow mapping: 1
lab: Quarry Hill Soil Laboratory
id: quarry-hill
recognise: [QUARRY HILL SOIL LABORATORY]
tests:
  Soil pH: {analyte: pH, method: "1:1 soil:water"}
  Lime mixture: {analyte: buffer_pH, method: SMP buffer}
  Phosphorus: {analyte: P, unit: ppm, method: Olsen}
  Potassium: {analyte: K, unit: ppm, method: Olsen}
layouts:
  - name: letter
    format: pdf
    one sample each: page
    report:
      - {after: "Client:", reads: client_name}
    sample:
      - {after: "Lab no.:", reads: lab_sample_id}
    tables:
      - name: nutrients
        each row: a test
        columns:
          - {heading: Nutrient, reads: test}
          - {heading: Found, reads: result}
          - {heading: Unit, reads: unit}
    sentences:
      - {text: "With our lime mixture the reading fell to {result} after an hour.", test: Lime mixture}
`)
	old, why := mappings.Decode("quarry-hill.yaml", text, v)
	if old == nil {
		t.Fatal(why)
	}
	doc := drawn(limeLetter)
	dr, reasons := Revise(old, text, [][]*ingest.Document{{doc}}, Options{Vocabulary: v})
	if dr == nil {
		t.Fatal(reasons)
	}
	if as, _ := asOf(t, careless(t, dr), doc, "6.83"); as != "result" {
		t.Errorf("what the old mapping reads counts as %q in the new layout:\n%s", as, dr.Text)
	}
}
