package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// What a report may say of its own results in a sentence that the mapping does
// not know, and what it says that is no such thing; common practice, no source.
func TestSentencesThatSayOtherwise(t *testing.T) {
	m := tested(`  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: ppm, method: Mehlich-3}
  K: {analyte: K, basis: K2O, unit: ppm, method: Mehlich-3}
  Organic matter: {analyte: OM, unit: "%"}
`) + `
    format: workbook
    one sample each: row
    relies on: [Zinc is stated in kg/ha]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm}
          - {heading: OM, test: Organic matter, unit: "%"}
    not results:
      - {text: "All results are in kg/ha of dry soil", why: on every report}
`
	paged := strings.Replace(m, "format: workbook", "format: pdf", 1)
	codes := func(x *Extract) string {
		var out []string
		for _, r := range x.Reasons {
			out = append(out, r.Code)
		}
		return strings.Join(out, " ")
	}
	for _, c := range []struct{ note, want string }{
		{"All results are in kg/ha.", "says-otherwise"},
		{"Results given in lb/acre", "says-otherwise"},
		{"P is given in lb/acre.", "says-otherwise"},
		{"P and K are reported in kg/ha", "says-otherwise"},
		{"Thank you for your order. P values are now in lb/acre. Please call us.", "says-otherwise"},
		{"P is given in ppm and in lb/acre", ""},
		{"Results are on a moist basis", "says-otherwise"},
		{"All values are given per volume of soil", "says-otherwise"},
		{"Note: P by Olsen from this year on.", "says-otherwise"},
		{"Extracted with Olsen", "says-otherwise"},
		{"potash is given as the element.", "says-otherwise"},
		{"K is expressed in elemental form", "says-otherwise"},
		{"P is reported as phosphate", "says-otherwise"},
		{"Multiply all results by ten.", "says-otherwise"},
		{"The printed values must be divided by the density.", "says-otherwise"},
		{"PRELIMINARY RESULTS", "not-final"},
		{"These results are subject to confirmation.", "not-final"},
		{"Provisional soil test report", "not-final"},
		{"This report replaces all earlier ones.", "corrects-earlier"},

		{"Results are of air-dried soil, not of soil as received", ""},
		{"Results are in ppm", ""},
		{"P is given in mg/kg", ""},
		{"K is reported as potash", ""},
		{"Apply potash in lb/acre as the results say.", ""},
		{"Recommended rates are in lb/acre", ""},
		{"We also offer P by Olsen on request.", ""},
		{"Your results are on page two", ""},
		{"Reported by A. Reed", ""},
		{"All results are in kg/ha of dry soil", ""},
		{"Zinc is stated in kg/ha", ""},
		{"Final inspection by our chemist", ""},
		{"Lime in autumn, as given in the leaflet.", ""},
	} {
		rely := "Zinc is stated in kg/ha"
		if c.note == rely {
			rely = ""
		}
		for kind, x := range map[string]*Extract{
			"in a sheet": read(t, m, grid("LAB\nZinc is stated in kg/ha\nNo. | pH | P | K | OM\n | | ppm | ppm | %\n1 | 6.1 | 12 | 140 | 3.1\n\n"+c.note)),
			"on a page":  read(t, paged, drawn("LAB\n"+rely+"\n\nNo.   pH     P     K     OM\n            ppm   ppm   %\n1     6.1    12    140   3.1\n\n\n\n"+c.note)),
		} {
			if rely == "" && kind == "on a page" {
				continue // said already
			}
			if got := codes(x); got != c.want {
				t.Errorf("%q %s: %q, want %q", c.note, kind, got, c.want)
				for _, r := range x.Reasons {
					t.Log(r)
				}
			}
		}
	}
	// A cell may go on behind a text that the mapping names.
	for cell, want := range map[string]string{
		"Zinc is stated in kg/ha. All results are in kg/ha.":                    "says-otherwise",
		"All results are in kg/ha of dry soil. P by Olsen from this year on.":   "says-otherwise",
		"All results are in kg/ha of dry soil. Thank you for your kind orders.": "",
	} {
		x := read(t, m, grid("LAB\nZinc is stated in kg/ha\nNo. | pH | P | K | OM\n | | ppm | ppm | %\n1 | 6.1 | 12 | 140 | 3.1\n\n"+cell))
		if got := codes(x); got != want {
			t.Errorf("%q: %q, want %q", cell, got, want)
		}
	}
	// A sentence may run over lines, and its place is where it begins.
	x := read(t, paged, drawn("LAB\nZinc is stated in kg/ha\n\nNo.   pH     P     K     OM\n            ppm   ppm   %\n1     6.1    12    140   3.1\n\n\n\nAll of our results\nare given in\nkg/ha since spring."))
	if codes(x) != "says-otherwise" || x.Reasons[0].Where.Page != 1 || x.Reasons[0].Severity != ingest.Hold || !strings.Contains(x.Reasons[0].Found, "All of our results are given in kg/ha") {
		t.Errorf("over three lines: %v", x.Reasons)
	}
}

// A part of the page that is declared without its words hides no such sentence.
func TestSentencesInDeclaredParts(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        ends before: Advice
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
    not results:
      - {above: No., why: the letterhead}
      - {from: Advice, why: what to do}
      - {text: Results are for the county in kg/ha, why: on every report}
`
	paged := strings.Replace(m, "format: workbook", "format: pdf", 1)
	for _, c := range []struct{ head, foot, want string }{
		{"", "", ""},
		{"Results are in kg/ha", "", "says-otherwise"},
		{"PRELIMINARY RESULTS", "", "not-final"},
		{"", "Results are in kg/ha.", "says-otherwise"},
		{"", "Extracted by Olsen; results reported so.", "says-otherwise"},
		{"", "Spread 40 lb/acre of potash, as given in the leaflet.", ""},
		{"", "Amounts given are in lb/acre.", ""},
		{"Results are for the county in kg/ha", "", ""},
	} {
		for kind, x := range map[string]*Extract{
			"in a sheet": read(t, m, grid("LAB\n"+c.head+"\nNo. | P\n | ppm\n1 | 12\n\nAdvice\n"+c.foot)),
			"on a page":  read(t, paged, drawn("LAB\n\n"+c.head+"\n\nNo.      P\n         ppm\n1        12\n\nAdvice\n"+c.foot)),
		} {
			got := ""
			for _, r := range x.Reasons {
				got += r.Code
			}
			if got != c.want {
				t.Errorf("%q, %q %s: %q, want %q: %v", c.head, c.foot, kind, got, c.want, x.Reasons)
			}
		}
	}
}
