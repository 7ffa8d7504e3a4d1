package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// Ways in which laboratories say that a report takes the place of an earlier
// one, and sentences with the same words that say nothing of the kind; common
// practice, no source.
func TestCorrects(t *testing.T) {
	for text, number := range map[string]string{
		"CORRECTED REPORT, issue 2. Replaces the report of 2026-05-06. AR2255.01: lead and zinc": "",
		"Amended report": "",
		"This report supersedes report no. QX-118/2 dated 4 May 2026.": "QX-118/2",
		"Replaces certificate 26-0044.":                                "26-0044",
		"Correction to report number L4471":                            "L4471",
		"This certificate was re-issued on 17/05/2026":                 "",
		"Revised laboratory report":                                    "",
		"CORRECTED COPY":                                               "",
		"corrected":                                                    "",
		"It corrects report AR-26-2255, sent in error":                 "AR-26-2255",
	} {
		if corrects(text) == "" {
			t.Errorf("%q says that it corrects a report", text)
		}
		if got := numberOf(text); got != number {
			t.Errorf("of %q the number is %q, not %q", text, got, number)
		}
	}
	for _, text := range []string{
		"Results corrected for moisture.", "All results are corrected to 25 C", "Revised report form 3, 2024", "Amended with 2 t/ha of compost", "lime replaces what crops remove",
		"Corrected results are on oven-dry basis", "pH correction", "Report to: A. Replacement", "Copy of report", "The correction of soil acidity takes years",
	} {
		if s := corrects(text); s != "" {
			t.Errorf("%q is taken to correct a report: %q", text, s)
		}
	}
}

// A message that is a report is read for what people write in it, and a report
// that came as a file for what reports say of themselves.
func TestMessageThatIsAReport(t *testing.T) {
	m := top + `
    format: html
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
    not results: [{line: "Please ignore our last newsletter report.", why: a standing line}, {above: LAB, why: what is written}]
`
	message := func(member string, lines ...string) *ingest.Document {
		d := grid(strings.Join(lines, "\n") + "\nLAB\nNo. | pH\n1 | 6.4")
		d.Format, d.Source.Name, d.Source.Member = ingest.HTML, "m.eml", member
		return d
	}
	for _, c := range []struct {
		name string
		doc  *ingest.Document
		held bool
	}{
		{"nothing said", message("message page", "Dear all,", "here are our results"), false},
		{"disregard", message("message page", "Dear all,", "please disregard the results of Monday"), true},
		{"over two lines", message("message page", "please disregard the", "results of Monday"), true},
		{"in a mail within", message("enclosed message > message page (2)", "We sent you the wrong results"), true},
		{"what a report says of itself", message("message page", "This report supersedes report no. QX-118"), true},
		{"a line of every message", message("message page", "Please ignore our last newsletter report."), false},
		{"a line of every message behind another", message("message page", "Dear all,", "Please ignore our last newsletter report."), false},
		{"who may read it", message("message page", "If you received this report in error, please destroy it."), false},
		{"a file", message("page.html", "please disregard the results of Monday"), false},
	} {
		x := read(t, m, c.doc)
		held := false
		for _, r := range x.Reasons {
			held = held || r.Code == "corrects-earlier"
		}
		if held != c.held || x.Held() != c.held {
			t.Errorf("%s: held %v, want %v: %v", c.name, held, c.held, x.Reasons)
		}
	}
}
