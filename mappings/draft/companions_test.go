package draft

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// in says that a document came in a mail.
func in(mail, member string, doc *ingest.Document) *ingest.Document {
	doc.Source.Name, doc.Source.Member = mail, member
	return doc
}

// What came beside a report and holds no results is proposed as that, in
// comments that need nothing but their sign taken away.
func TestCompanionsAreProposed(t *testing.T) {
	report := in("april.eml", "list.csv", grid(`
PENNYWORT SOIL LABORATORY
Lab No|pH|P|K
||ppm|ppm
101|6.1|21|142
102|6.4|32|151
103|6.3|29|163
`, ""))
	leaflet := in("april.eml", "leaflet 12.pdf", drawn(`
PENNYWORT SOIL LABORATORY
How to take a sample of soil
Walk the field in a zigzag line
and take a core wherever you turn.
`))
	invoice := in("april.eml", "invoice-2231.pdf", drawn(`
PENNYWORT SOIL LABORATORY
Invoice 2231
Routine soil test     12         15.00    180.00
Total due                                 180.00
`))
	short := in("april.eml", "card-7.pdf", drawn("Season's greetings from all of us\n"))
	elsewhere := drawn("A leaflet that came by itself\nand is no part of a mail\n")
	body := in("april.eml", "message text", drawn("Please find your results attached\nWith kind regards from the bench\n"))
	docs := [][]*ingest.Document{{report}, {leaflet}, {invoice}, {short}, {elsewhere}, {body}}
	dr, _ := Propose(docs, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal("no draft")
	}
	for _, want := range []string{
		"\n#not reports:\n",
		"\n#  - {what: leaflet or letter, texts: [How to take a sample of soil, Walk the field in a zigzag line]}  # leaflet 12.pdf\n",
		"\n#  - {what: invoice or price list, ",
		"\n#  - {what: leaflet or letter, file: \"card-#.pdf\", texts: [\"Season's greetings from all of us\"]}  # card-7.pdf\n",
	} {
		if !strings.Contains(dr.Text, want) {
			t.Errorf("no %q in\n%s", want, dr.Text)
		}
	}
	for _, not := range []string{"by itself", "kind regards"} {
		if strings.Contains(dr.Text, not) {
			t.Errorf("%q is proposed as no report", not)
		}
	}
	_, after, _ := strings.Cut(dr.Text, "#not reports:\n")
	var lines []string
	for _, l := range strings.Split(after, "\n") {
		if !strings.HasPrefix(l, "#  - ") {
			break
		}
		lines = append(lines, l[1:])
	}
	text := strings.Replace(dr.Text, "\nlayouts:\n", "\nnot reports:\n"+strings.Join(lines, "\n")+"\nlayouts:\n", 1)
	m, reasons := mappings.Decode("draft.yaml", []byte(text), vocabulary())
	if m == nil || len(m.NotReports) != 3 {
		t.Fatalf("the lines can't be used as they are: %v", reasons)
	}
	for _, c := range []struct {
		doc  *ingest.Document
		file string
		is   bool
	}{{leaflet, "leaflet 12.pdf", true}, {invoice, "invoice-2232.pdf", true}, {short, "card-8.pdf", true}, {report, "list.csv", false}, {body, "", false}} {
		if got := m.Companion([]*ingest.Document{c.doc}, c.file) != nil; got != c.is {
			t.Errorf("%s: declared %v, want %v", c.file, got, c.is)
		}
	}
}
