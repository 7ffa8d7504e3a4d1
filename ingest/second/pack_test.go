package second

import (
	"reflect"
	"testing"

	"example.org/windrow/ingest"
)

// What is packed is what is unpacked, blanks apart, and no cut in the bytes
// goes unseen or asks for more memory than they are worth.
func TestPack(t *testing.T) {
	var b []byte
	b = appendPage(b, 612, 792.123, []glyph{
		{text: '7', box: ingest.Box{X0: 72.001, Y0: 100, X1: 77.561, Y1: 112.5}},
		{text: ' '},
		{text: 'µ', box: ingest.Box{X0: -3.25, Y0: -0.001, X1: 0, Y1: 49_999.999}},
		{text: '\U0001F33E', box: ingest.Box{X0: 1, Y0: 2, X1: 3, Y1: 4}},
	})
	b = appendPage(b, 595.276, 841.89, nil)
	want := []*ingest.Page{
		{Number: 1, Width: 612, Height: 792.123, Words: []ingest.Word{
			{Text: "7", Box: ingest.Box{X0: 72.001, Y0: 100, X1: 77.561, Y1: 112.5}},
			{Text: "µ", Box: ingest.Box{X0: -3.25, Y0: -0.001, X1: 0, Y1: 49_999.999}},
			{Text: "\U0001F33E", Box: ingest.Box{X0: 1, Y0: 2, X1: 3, Y1: 4}},
		}},
		{Number: 2, Width: 595.276, Height: 841.89, Words: []ingest.Word{}},
	}
	got, ok := unpack(b)
	if !ok || !reflect.DeepEqual(got, want) {
		t.Errorf("unpacked %v %+v, want %+v", ok, got, want)
	}
	whole := 0
	for n := range b {
		if _, ok := unpack(b[:n]); ok {
			whole++
		}
	}
	if whole != 2 { // no page, and the first page
		t.Errorf("%d of %d beginnings were taken for whole, want 2", whole, len(b))
	}
	huge := []byte{0, 0, 0xff, 0xff, 0xff, 0xff, 0x0f, 1, 2, 3, 4, 5}
	if _, ok := unpack(huge); ok {
		t.Error("a page of more characters than there are bytes was taken")
	}
}
