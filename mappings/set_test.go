package mappings

import (
	"testing"
	"testing/fstest"
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
