package draft

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// Where one layout prints methods and another does not, the method of the
// tests that both read is asked for: without it one result would be two.
func TestMethodOfAnotherLayout(t *testing.T) {
	_, docs := labFiles(t, "ashlar-reed-soil-laboratory")
	dr, reasons := Propose(docs, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal(reasons)
	}
	_, after, _ := strings.Cut(dr.Text, "by which method these are measured")
	lines := strings.SplitN(after, "\n", 3)
	if len(lines) < 2 {
		t.Fatal("no method is asked for")
	}
	for _, label := range []string{"% K", "% Mg", "CEC meq", "K ppm"} {
		if !strings.Contains(lines[1]+",", " "+label+",") {
			t.Errorf("the method of %q is not asked for, and its column prints none: %s", label, lines[1])
		}
	}
	if strings.Contains(lines[1]+",", ", Ca,") {
		t.Errorf("the method of Ca, which stands beside its row, is asked for: %s", lines[1])
	}
}

// What a question says to write can be written as it says.
func TestQuestionUnderNotResults(t *testing.T) {
	v := vocabulary()
	tried := 0
	for _, doc := range []*ingest.Document{drawn(`
QUARRY HILL SOIL LABORATORY
Lab no.: QH-1204        Client: Ned Oak
Soil pH ........... 6.1
Phosphorus ........ 31 ppm
Potassium ......... 120 ppm
Rack 7 of the cold room
`)} {
		dr, _ := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: v})
		if dr == nil || !strings.Contains(dr.Text, "    # not results:\n") {
			continue
		}
		tried++
		text := strings.Replace(dr.Text, "    # not results:\n", "    not results:\n      - {line: \"P rating VL under *\", why: scale}\n", 1)
		if m, why := mappings.Decode("a.yaml", []byte(text), v); m == nil {
			t.Errorf("%s: what the draft asks for is refused: %v", doc.Source.Name, why)
		}
	}
	if tried == 0 {
		t.Error("no draft leaves a number to declare, so nothing was tried")
	}
}
