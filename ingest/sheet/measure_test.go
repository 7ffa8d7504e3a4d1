package sheet

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

// survey is a workbook the size of a large survey.
func survey(t testing.TB) []byte {
	f := excelize.NewFile()
	defer f.Close()
	code := "0.0"
	st, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
	must(t, err)
	w, err := f.NewStreamWriter("Sheet1")
	must(t, err)
	row := make([]any, 27)
	for i := 1; i <= 5000; i++ {
		for k := range row {
			switch k {
			case 0, 1, 2:
				row[k] = fmt.Sprintf("V%02d%04d", k, i)
			default:
				row[k] = excelize.Cell{StyleID: st, Value: float64(i*k) / 7}
			}
		}
		must(t, w.SetRow(ingest.CellName(i, 1), row))
	}
	must(t, w.Flush())
	var b bytes.Buffer
	must(t, f.Write(&b))
	return b.Bytes()
}

func BenchmarkSheet(b *testing.B) {
	raw := survey(b)
	b.Run("this reader", func(b *testing.B) {
		b.ReportAllocs()
		src := ingest.NewSource("s.xlsx", raw)
		for b.Loop() {
			if _, err := New().Read(context.Background(), src, ingest.Limits{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("excelize Rows alone", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := excelize.OpenReader(bytes.NewReader(raw))
			must(b, err)
			for _, s := range f.GetSheetList() {
				rows, err := f.Rows(s)
				must(b, err)
				for rows.Next() {
					if _, err := rows.Columns(excelize.Options{RawCellValue: true}); err != nil {
						b.Fatal(err)
					}
				}
				must(b, rows.Close())
			}
			must(b, f.Close())
		}
	})
}

func FuzzSheetXML(f *testing.F) {
	f.Add(`<sheetData><row r="1"><c r="A1"><v>6.47</v></c></row></sheetData>`)
	f.Add(`<cols><col min="1" max="2" hidden="1"/></cols><sheetData><row><c t="inlineStr"><is><t>pH</t></is></c><c><f>A1</f></c></row></sheetData><mergeCells><mergeCell ref="A1:B2"/></mergeCells>`)
	f.Add(`<sheetData><row r="2"><c r="B2" t="b"><v>1</v></c><c r="C2" t="e"><v>#N/A</v></c><c t="d"><v>2026-03-04T10:00:00</v></c></row></sheetData>`)
	f.Fuzz(func(t *testing.T, xml string) {
		d, r := readertest.Read(t, New(), "fuzz.xlsx", withSheet(t, xml))
		if r != nil {
			return
		}
		// Nothing is made up: no more cells than the XML has.
		if n := len(d.Pages[0].Cells); n > strings.Count(xml, "<c") {
			t.Errorf("%d cells out of %q", n, xml)
		}
	})
}
