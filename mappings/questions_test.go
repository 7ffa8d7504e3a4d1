package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// A mapping with an open question reads, and holds what it reads; once the
// question is taken away it does not.
func TestQuestionsHold(t *testing.T) {
	const text = `windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [pH]
tests:
  pH: {analyte: pH}  # confidence 0.9; QUESTION: in water or in salt?
# Go through the lines with QUESTION first.
layouts:
  - name: one
    format: pdf
    one sample each: page
    # QUESTION: is the number after pH the result?
    sample: [{after: Lab No, reads: lab_sample_id}]
    sentences: [{text: "pH {result}", test: pH}]
`
	m, why := Decode("draft.yaml", []byte(text), words{})
	if m == nil {
		t.Fatal(why)
	}
	if len(m.Questions) != 2 || m.Questions[0].Where.Line != 6 || m.Questions[0].Found != "in water or in salt?" || m.Questions[1].Where.Line != 12 {
		t.Errorf("questions %v", m.Questions)
	}
	x := TryMapping(m, []*ingest.Document{drawn("Lab No 12\npH 6.4")}, words{})[0].Extract
	if x == nil || !x.Held() || !strings.Contains(summary(x), "question-open") {
		t.Errorf("not held for its questions: %v", x)
	}
	m, _ = Decode("draft.yaml", []byte(strings.ReplaceAll(text, "QUESTION:", "answered:")), words{})
	if x := TryMapping(m, []*ingest.Document{drawn("Lab No 12\npH 6.4")}, words{})[0].Extract; x == nil || x.Held() || len(x.Samples) != 1 {
		t.Errorf("held without a question: %v", x)
	}
}
