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
		{"Matrix: Water", "says-otherwise"},
		{"Sample type: finished compost", "says-otherwise"},
		{"Matrix: Soil", ""},
		{"Material: topsoil", ""},
		{"Sample matrix - plant tissue", "says-otherwise"},
		{"TCLP extract", "says-otherwise"},
		{"Leachate by TCLP.", "says-otherwise"},
		{"We also test plant material, compost and water.", ""},
		{"PRELIMINARY RESULTS", "not-final"},
		{"These results are subject to confirmation.", "not-final"},
		{"Provisional soil test report", "not-final"},
		{"This report replaces all earlier ones.", "corrects-earlier"},
		{"For phosphorus we used Olsen this time.", "says-otherwise"},
		{"P in lb/acre.", "says-otherwise"},
		{"P figures are phosphate.", "says-otherwise"},
		{"All figures are doubled.", "says-otherwise"},
		{"Values are in mg per litre of soil.", "says-otherwise"},
		{"Draft, not checked.", "not-final"},
		{"ppm times ten", "says-otherwise"},
		{"Superseded by a later letter.", "not-final"},

		{"Drafting tables are sold in the shop", ""},
		{"P in the soil moves slowly", ""},
		{"Your lawn is well supplied with potash as before", ""},
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
		{"", "P is given in lb/acre from this year on", "says-otherwise"},
		{"", "P is best spread from March on", ""},
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

// What follows on a line after a text that the mapping declares by its words is
// looked at, and so are the cells of a sheet without results.
func TestSentencesBesideDeclaredOnes(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        ends before: Spread
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
    not results:
      - {text: Spread no more than 50 lb at one time., why: advice}
`
	const page = "LAB\n\nNo.     P\n       ppm\n1       12\n\n\nSpread no more than 50 lb at one time. "
	for foot, want := range map[string]int{"": 0, "Thank you for your order.": 0, "Results are given in kg/ha now.": 1, "Results are given\nin kg/ha now.": 1} {
		x := read(t, m, drawn(page+foot))
		if len(x.Reasons) != want || want == 1 && x.Reasons[0].Code != "says-otherwise" {
			t.Errorf("%q: %v", foot, x.Reasons)
		}
	}

	sheets := top + `
    format: workbook
    one sample each: row
    sheets without results: [Cover]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
`
	for note, want := range map[string]int{"Thank you": 0, "All concentrations in ppm": 0, "All concentrations in lb/acre.": 1} {
		d := grid("LAB\nNo. | P\n | ppm\n1 | 12")
		cover := grid("LAB\n" + note).Pages[0]
		cover.Name, cover.Number, d.Pages[0].Number = "Cover", 1, 2
		d.Pages = append([]*ingest.Page{cover}, d.Pages...)
		if x := read(t, sheets, d); len(x.Reasons) != want || want == 1 && x.Reasons[0].Code != "says-otherwise" {
			t.Errorf("%q: %v", note, x.Reasons)
		}
	}
}

// A hidden sheet with the headings of results is no remark but a flag, and one
// with anything else a remark.
func TestHiddenSheets(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
`
	for text, want := range map[string]string{"No. | P\n | ppm\n2 | 15": "hidden-numbers", "Prices\n1 | 15.50": "hidden-sheet"} {
		d := grid("LAB\nNo. | P\n | ppm\n1 | 12")
		hidden := grid(text).Pages[0]
		hidden.Name, hidden.Number, hidden.Hidden = "More", 2, true
		d.Pages = append(d.Pages, hidden)
		if x := read(t, m, d); len(x.Reasons) != 1 || x.Reasons[0].Code != want {
			t.Errorf("%q: %v, want %s", text, x.Reasons, want)
		}
	}
}

// A cell that only begins with a label, and has no value beside it, is not the
// label: it may hold the value itself.
func TestLabelThatGoesOn(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    report: [{after: Reported, reads: client_name}]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
`
	for line, want := range map[string]string{"Reported | Odo Castellan": "", "Reported": "", "Reported (by)": "", "Reported by Odo Castellan": "layout-changed"} {
		code := ""
		if x := read(t, m, grid("LAB\n"+line+"\nNo. | P\n | ppm\n1 | 12")); len(x.Reasons) > 0 {
			code = x.Reasons[0].Code
		}
		if code != want {
			t.Errorf("%q: %q, want %q", line, code, want)
		}
	}
}

// A hidden column with numbers flags the report, unless the mapping knows of it.
func TestHiddenColumns(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
          - {heading: Raw, reads: nothing, optional: yes, why: counts of the instrument}
`
	for heading, want := range map[string]string{"Raw": "", "K": "hidden-numbers"} {
		d := grid("LAB\nNo. | P | " + heading + "\n | ppm\n1 | 12 | 9051\n2 | 14 | 9077")
		for i := range d.Pages[0].Cells {
			if c := &d.Pages[0].Cells[i]; c.Col == 3 {
				c.Hidden = true
			}
		}
		code := ""
		if x := read(t, m, d); len(x.Reasons) > 0 {
			code = x.Reasons[0].Code
		}
		if code != want {
			t.Errorf("%q: %q, want %q", heading, code, want)
		}
	}
}
