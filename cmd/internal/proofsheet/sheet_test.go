package proofsheet

import (
	"bytes"
	"fmt"
	"image"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
)

// page is two lines of words; those of the second come in the wrong order.
func page() *ingest.Document {
	word := func(text, second string, x, y float64) ingest.Word {
		return ingest.Word{Text: text, Box: ingest.Box{X0: x, Y0: y, X1: x + 20, Y1: y + 10}, Base: y + 10, Size: 14, OCR: &ingest.OCR{Confidence: 90, Second: second, Agree: text == second}}
	}
	return &ingest.Document{Source: ingest.NewSource("a.png", []byte("x")).Ref(), Format: ingest.PDF, Pages: []*ingest.Page{{Number: 1, Width: 612, Height: 792, Scan: &ingest.Scan{DPI: 300}, Words: []ingest.Word{
		word("pH", "pH", 10, 10), word("6.10", "6.10", 60, 11), word("44", "4.4", 60, 40), word("=K", "=K", 10, 41),
	}}}}
}

func white(*ingest.Page) (*image.Gray, float64, error) {
	g := image.NewGray(image.Rect(0, 0, 1275, 1650))
	for i := range g.Pix {
		g.Pix[i] = 255
	}
	return g, 150, nil
}

// edited is a workbook after a person's changes, by cell.
func edited(t *testing.T, b []byte, change func(f *excelize.File)) []byte {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	change(f)
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestSheet: the words come in the order in which they are read, each with its
// picture; what both readings agree on is filled in, and nothing else; texts
// stay texts.
func TestSheet(t *testing.T) {
	b, err := Write(page(), "R1", white, nil)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{
		{"1.1", "", "pH", "pH", "pH", "", "page 1 box 10,10-30,20"},
		{"1.2", "", "6.10", "6.10", "6.10", "number", "page 1 box 60,11-80,21"},
		{"1.4", "", "=K", "=K", "=K", "", "page 1 box 10,41-30,51"},
		{"1.3", "", "44", "4.4", "", "number, not read alike", "page 1 box 60,40-80,50"},
	}
	for i, w := range want {
		r := rows[headRow+i]
		if r[0] != w[0] || !reflect.DeepEqual(r[2:], w[2:]) {
			t.Errorf("line %d is %q, want %q", firstRow+i, r, w)
		}
		pics, err := f.GetPictures(sheet, fmt.Sprintf("%s%d", picCol, firstRow+i))
		if err != nil || len(pics) != 1 {
			t.Errorf("line %d has %d pictures, %v", firstRow+i, len(pics), err)
		}
		if formula, _ := f.GetCellFormula(sheet, fmt.Sprintf("%s%d", readCol, firstRow+i)); formula != "" {
			t.Errorf("line %d has a formula %s", firstRow+i, formula)
		}
	}

	b = edited(t, b, func(f *excelize.File) {
		for c, v := range map[string]string{"E8": "4.4", "E7": scan.Nothing, "E9": "<0.10", "G9": "page 1 box 100,40-120.5,50"} {
			_ = f.SetCellStr(sheet, c, v)
		}
	})
	list, left, reasons := Read("s.xlsx", b, page())
	if len(reasons) > 0 || left != 0 {
		t.Fatal(left, reasons)
	}
	if w := []scan.Correction{{Page: 1, Word: 1, Says: "pH"}, {Page: 1, Word: 2, Says: "6.10"}, {Page: 1, Word: 4}, {Page: 1, Word: 3, Says: "4.4"},
		{Page: 1, Says: "<0.10", Box: ingest.Box{X0: 100, Y0: 40, X1: 120.5, Y1: 50}}}; !reflect.DeepEqual(list, w) {
		t.Errorf("%+v", list)
	}

	// Another sheet begins with what was said before.
	p, err := scan.Prove(page(), list, "R1", "x", time.Date(2026, 1, 2, 0, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	if b, err = Write(page(), "R1", white, p); err != nil {
		t.Fatal(err)
	}
	if f, err = excelize.OpenReader(bytes.NewReader(b)); err != nil {
		t.Fatal(err)
	}
	if v, _ := f.GetCellValue(sheet, "E8"); v != "4.4" {
		t.Errorf("what was said before is %q", v)
	}
}

// TestSheetMistakes: each mistake of a person is told with its cell, and
// nothing is taken from a workbook that has one.
func TestSheetMistakes(t *testing.T) {
	whole, err := Write(page(), "R1", white, nil)
	if err != nil {
		t.Fatal(err)
	}
	whole = edited(t, whole, func(f *excelize.File) { _ = f.SetCellStr(sheet, "E8", "4.4") })
	if list, _, reasons := Read("s.xlsx", whole, page()); len(list) != 4 || len(reasons) > 0 {
		t.Fatal(list, reasons)
	}
	str := func(cell, v string) func(f *excelize.File) {
		return func(f *excelize.File) { _ = f.SetCellStr(sheet, cell, v) }
	}
	for name, c := range map[string]struct {
		change func(f *excelize.File)
		cell   string
		what   string
	}{
		"left empty":           {str("E6", ""), "E6", "it is not said what stands there"},
		"kept as a number":     {func(f *excelize.File) { _ = f.SetCellValue(sheet, "E6", 6.1) }, "E6", "kept as a number or a date"},
		"kept as a date":       {func(f *excelize.File) { _ = f.SetCellValue(sheet, "E6", time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC)) }, "E6", "kept as a number or a date"},
		"a formula":            {func(f *excelize.File) { _ = f.SetCellFormula(sheet, "E6", "1+1"); _ = f.SetCellValue(sheet, "E6", 2) }, "E6", "kept as a number or a date"},
		"another word":         {str("A6", "1.1"), "C6", "not what the program reads in that place"},
		"no word":              {str("A6", "1.9"), "A6", "there is no such word"},
		"a sort of one column": {str("C6", "61.0"), "C6", "not what the program reads"},
		"twice":                {func(f *excelize.File) { _ = f.DuplicateRow(sheet, 6) }, "A7", "twice"},
		"missed, nowhere":      {str("E9", "7"), "G9", "where the word stands"},
		"missed, off":          {func(f *excelize.File) { str("E9", "7")(f); str("G9", "page 1 box 1,1-900,9")(f) }, "G9", "not on the page"},
		"missed, no page":      {func(f *excelize.File) { str("E9", "7")(f); str("G9", "page 3 box 1,1-9,9")(f) }, "G9", "not on the page"},
		"missed, nothing":      {str("G9", "page 1 box 1,1-9,9"), "G9", "says nothing"},
		"a heading":            {str("E4", "what I think"), "E4", "heading of the list was changed"},
		"another sheet":        {func(f *excelize.File) { _ = f.SetSheetName(sheet, "Other") }, "", "no list of words"},
	} {
		list, _, reasons := Read("s.xlsx", edited(t, whole, c.change), page())
		if len(list) > 0 || len(reasons) != 1 || reasons[0].Where.Cell != c.cell || !strings.Contains(reasons[0].What, c.what) || reasons[0].Next == "" {
			t.Errorf("%s: %d taken, %v", name, len(list), reasons)
		}
	}
	for _, b := range [][]byte{nil, []byte("no workbook"), whole[:len(whole)/2]} {
		if list, _, reasons := Read("s.xlsx", b, page()); len(list) > 0 || len(reasons) != 1 || !strings.Contains(reasons[0].What, "no workbook") {
			t.Errorf("%d bytes: %v", len(b), reasons)
		}
	}
	// A line that was removed leaves its word as the program read it.
	list, left, reasons := Read("s.xlsx", edited(t, whole, func(f *excelize.File) { _ = f.RemoveRow(sheet, 7) }), page())
	if len(list) != 3 || left != 1 || len(reasons) > 0 {
		t.Errorf("%d taken, %d left, %v", len(list), left, reasons)
	}
}

// What a person said of a picture is filled in when it is compared again, also
// that a word is none; of another reading of the picture nothing is filled in.
func TestComparedAgain(t *testing.T) {
	doc := page()
	p, err := scan.Prove(doc, []scan.Correction{{Page: 1, Word: 2, Says: "6.70"}, {Page: 1, Word: 3, Says: ""}, {Page: 1, Box: ingest.Box{X0: 200, Y0: 200, X1: 220, Y1: 210}, Says: "Zn"}}, "R1", "Ada Thorn", time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	says := func(doc *ingest.Document) (out []string) {
		for _, l := range Lines(doc, p) {
			out = append(out, l.Says)
		}
		return out
	}
	if got, want := says(page()), []string{"pH", "6.70", "=K", scan.Nothing}; !reflect.DeepEqual(got, want) {
		t.Errorf("filled in: %q, want %q", got, want)
	}
	other := page()
	other.Pages[0].Words[0].Box.X0++ // another reading puts the words elsewhere
	if got, want := says(other), []string{"pH", "6.70", "=K", ""}; !reflect.DeepEqual(got, want) {
		t.Errorf("of another reading: %q, want %q", got, want)
	}
}
