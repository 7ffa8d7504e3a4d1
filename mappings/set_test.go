package mappings

import (
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/ingest"
)

// A mapping with a mistake leaves its laboratory without a mapping, even
// where an older one stands behind it, and stops no other.
func TestBrokenMappingReplacesNothing(t *testing.T) {
	good := func(id string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("windrow mapping: 1\nlab: L\nid: " + id + "\nrecognise: [L]\ntests: {pH: {analyte: pH}}\nlayouts: [{name: x, format: pdf, one sample each: page, sentences: [{text: \"pH {result}\", test: pH}]}]\n")}
	}
	s, reasons := LoadFS(fstest.MapFS{"a.yaml": good("a"), "b.yaml": good("b")}, words{})
	if len(reasons) > 0 || len(s.Mappings()) != 2 {
		t.Fatalf("%v", reasons)
	}
	broken := good("a")
	broken.Data = append(broken.Data, "nonsense: yes\n"...)
	reasons = s.Add(fstest.MapFS{"mine.yaml": broken}, words{})
	if len(reasons) != 1 || reasons[0].Where.Line != 7 {
		t.Errorf("got %v", reasons)
	}
	if len(s.Mappings()) != 1 || s.Mappings()[0].ID != "b" {
		t.Errorf("the mapping that a broken one was meant to replace is still in force: %v", s.Mappings())
	}
}

// Where the texts fit two laboratories, the sender of the mail decides; and
// nobody else's does.
func TestSenderDecides(t *testing.T) {
	lab := func(id, sends string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("windrow mapping: 1\nlab: Lab " + id + "\nid: " + id + "\nrecognise: [pH]\nsenders: [" + sends + "]\ntests: {pH: {analyte: pH}}\nlayouts: [{name: x, format: pdf, one sample each: page, sentences: [{text: \"pH {result}\", test: pH}]}]\n")}
	}
	s, reasons := LoadFS(fstest.MapFS{"a.yaml": lab("a", "a.example"), "b.yaml": lab("b", "results@b.example")}, words{})
	if len(reasons) > 0 {
		t.Fatal(reasons)
	}
	for from, want := range map[string]string{
		"Lab A <desk@a.example>": "a",
		"RESULTS@B.EXAMPLE":      "b",
		"Client <c@client.example>\nLab B <results@b.example>": "b", // forwarded
		"desk@mail.a.example":                               "a",
		"sales@b.example":                                   "",
		"desk@nota.example":                                 "",
		"\"desk@a.example\" <c@client.example>":             "",
		"Lab A <desk@a.example>\nLab B <results@b.example>": "",
		"": "",
	} {
		doc := drawn("pH 6.4")
		doc.Source.Senders = from
		m, why := s.Recognise([]*ingest.Document{doc})
		switch {
		case want == "" && (why == nil || why.Code != "two-labs"):
			t.Errorf("%q: recognised, %v", from, why)
		case want != "" && (m == nil || m.Mapping.ID != want):
			t.Errorf("%q: not recognised as %s: %v", from, want, why)
		}
	}
}

// A report that names its laboratory and is not recognised says what it lacks
// of the layout that comes nearest.
func TestNearestLayout(t *testing.T) {
	lab := func(id, layouts string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("windrow mapping: 1\nlab: Lab " + id + "\nid: " + id + "\nrecognise: [Lab " + id + "]\ntests: {pH: {analyte: pH}}\nlayouts:\n" + layouts)}
	}
	const rest = ", format: pdf, one sample each: page, sentences: [{text: \"pH {result}\", test: pH}]}\n"
	s, reasons := LoadFS(fstest.MapFS{
		"a.yaml": lab("a", "  - {name: old, recognise: [Depth, Salts, EC]"+rest+"  - {name: new, recognise: [pH, EC]"+rest),
		"b.yaml": lab("b", "  - {name: only, recognise: [Lab b, pH]"+rest),
	}, words{})
	if len(reasons) > 0 {
		t.Fatal(reasons)
	}
	_, why := s.Recognise([]*ingest.Document{drawn("LAB A   pH 6.4")})
	if why == nil || why.Code != "lab-unknown" || !strings.Contains(why.What, "names Lab a") || why.Expected != `the text "EC", by which the layout "new" is recognised` || why.Rule.File != "a.yaml" || !strings.Contains(why.Next, "a.yaml") {
		t.Errorf("got %v", why)
	}
	if _, why = s.Recognise([]*ingest.Document{drawn("Nobody   pH 6.4")}); why == nil || !strings.Contains(why.Next, "write a mapping") {
		t.Errorf("no laboratory is named: %v", why)
	}
	_, why = s.Recognise([]*ingest.Document{drawn("Lab a  pH 6.4  EC\n\n\nLab b")})
	if why == nil || why.Code != "two-labs" || !strings.Contains(why.Next, "joined into one file") {
		t.Errorf("two laboratories: %v", why)
	}
}
