package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// scanned is a page whose words were read from a picture twice; the second
// reading differs for the words in second.
func scanned(text string, second map[string]string) *ingest.Document {
	return with(drawn(text), func(p *ingest.Page) {
		for i := range p.Words {
			w := &p.Words[i]
			w.OCR = &ingest.OCR{Confidence: 90, Agree: true, Second: w.Text}
			if s, ok := second[w.Text]; ok {
				w.OCR.Agree, w.OCR.Second = false, s
			}
		}
	})
}

// A number of a picture that was read in two ways is held, as is a sample's
// number; words may differ, since no number hangs on them.
func TestTwoReadingsOfAPicture(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: page
    report: [{after: "Client", reads: client_name}]
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    labels: [{test: pH}, {test: P}]
`
	const page = "LAB\n\nClient  Ann\n\nSample No.  17\n\npH  6.4\nP  12 ppm"
	const both = "\n17 pH=6.4 pH\n17 P=12 mg/kg\n"
	try(t, m, []trial{
		{"two readings that agree", scanned(page, nil), both},
		{"a number read in two ways holds", scanned(page, map[string]string{"6.4": "8.4"}), both + "! ocr-differs\n"},
		{"a number that the second reading lacks holds", scanned(page, map[string]string{"12": ""}), both + "! ocr-differs\n"},
		{"a sample's number read in two ways holds", scanned(page, map[string]string{"17": "11"}), both + "! ocr-differs\n"},
		{"a name read in two ways does not", scanned(page, map[string]string{"Ann": "Arm"}), both},
	})
	x := read(t, m, scanned(page, nil))
	if o := x.Samples[0].Readings[0].OCR; o == nil || !o.Agree || o.Confidence != 90 {
		t.Errorf("how the number was read: %+v", o)
	}
	if x := read(t, m, drawn(page)); x.Samples[0].Readings[0].OCR != nil {
		t.Error("a number of a text is said to be read from a picture")
	}
}

// What a mapping expects and a picture does not show is most likely misread, and
// the advice is about the picture and not about the mapping; where two readings
// differ, what differs is told.
func TestAdviceOnAPicture(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: page
    report: [{after: "Client", reads: client_name}]
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    labels: [{test: pH}, {test: P}]
`
	const page = "LAB\n\nClient  Ann\n\nSample No.  17\n\npH  6.4\nP  12 pqm"
	picture := func(second map[string]string) *ingest.Document {
		return with(scanned(page, second), func(p *ingest.Page) { p.Scan = &ingest.Scan{DPI: 300} })
	}
	by := func(d *ingest.Document) map[string]*ingest.Reason {
		out := map[string]*ingest.Reason{}
		for _, r := range read(t, m, d).Reasons {
			out[r.Code] = r
		}
		return out
	}
	if r := by(picture(nil))["unit-differs"]; r == nil || !strings.Contains(r.Next, "in the picture") || strings.Contains(r.Next, "add it to the test") {
		t.Errorf("a unit that was misread: %v", r)
	}
	if r := by(drawn(page))["unit-differs"]; r == nil || !strings.Contains(r.Next, "add it to the test") {
		t.Errorf("the same in a text: %v", r)
	}
	if r := by(picture(map[string]string{"6.4": "8.4"}))["ocr-differs"]; r == nil || !strings.Contains(r.Expected, `"6.4"`) || !strings.Contains(r.Found, `"8.4"`) {
		t.Errorf("two readings that differ: %v", r)
	}
	r := by(picture(map[string]string{"6.4": "6.4"}))["ocr-differs"]
	if r == nil || !strings.Contains(r.What, "say the same about pH") || !strings.Contains(r.Expected, `decimal points as in "6.4"`) || strings.Contains(r.Found, "6.4") {
		t.Errorf("two readings alike that the picture does not bear out: %v", r)
	}
}

// The ink of a star is in the upper part of its line, and the box that is read
// from a picture is its ink: it stands on the line all the same, so that a
// footnote begins with it, and on no other line.
func TestStarOfAPicture(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    labels: [{test: pH}, {test: P}]
    not results: [{line: "\\* run 2 times", why: a mark}, {line: "\\* of 3 runs", why: a mark}]
`
	const page = "LAB\n\nSample No.  17\n\npH  6.4\nP  12 ppm\n\n* run 2 times\n* of 3 runs"
	// Each line is 10 points high, and 12 from the next; a star has the upper seven.
	// That of the first footnote was read a little higher, as in a picture askew.
	doc := with(scanned(page, nil), func(p *ingest.Page) {
		first := true
		for i := range p.Words {
			if w := &p.Words[i]; w.Text == "*" {
				w.Box.Y1 -= 6
				if first {
					w.Box.Y0, w.Box.Y1, first = w.Box.Y0-3, w.Box.Y1-2, false
				}
			}
		}
	})
	try(t, m, []trial{{"stars", doc, "\n17 pH=6.4 pH\n17 P=12 mg/kg\n"}})
}
