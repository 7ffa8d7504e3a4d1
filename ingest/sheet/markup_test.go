package sheet

import (
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

// The workbooks are written by excelize, so that how a font strikes through
// and where a comment lies is not our own idea of it.
func TestStruckNumbersAndComments(t *testing.T) {
	book := build(t, func(f *excelize.File) {
		struck, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Strike: true}})
		must(t, err)
		plain, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
		must(t, err)
		for cell, v := range map[string]any{"A1": 12, "B1": 13, "C1": "old name", "D1": 14, "A2": 21, "B2": "P", "C2": 22} {
			must(t, f.SetCellValue("Sheet1", cell, v))
		}
		must(t, f.SetCellStyle("Sheet1", "A1", "A1", struck))
		must(t, f.SetCellStyle("Sheet1", "B1", "B1", plain))
		must(t, f.SetCellStyle("Sheet1", "C1", "C1", struck)) // words that were taken back are no result
		must(t, f.SetCellRichText("Sheet1", "E1", []excelize.RichTextRun{{Text: "15", Font: &excelize.Font{Strike: true}}, {Text: " 16", Font: &excelize.Font{}}}))
		must(t, f.SetCellRichText("Sheet1", "F1", []excelize.RichTextRun{{Text: "17", Font: &excelize.Font{Bold: true}}}))
		for _, c := range []string{"A2", "B2", "E5"} {
			must(t, f.AddComment("Sheet1", excelize.Comment{Cell: c, Author: "lab", Paragraph: []excelize.RichTextRun{{Text: "wrong, "}, {Text: "should be 14"}}}))
		}
	})
	d, r := readertest.Read(t, New(), "s.xlsx", book)
	if r != nil {
		t.Fatal(r)
	}
	var got []string
	for _, n := range d.Notes {
		got = append(got, n.Where.Cell+" "+n.Code+" "+string(n.Severity)+" "+n.Found)
	}
	want := "A1 struck-out-text hold 12\nE1 struck-out-text hold 15 16\nA2 cell-comment flag wrong, should be 14"
	if strings.Join(got, "\n") != want {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	if c := cellAt(t, d, 0, "A1"); c.Text != "12" || c.Kind != ingest.NumberCell {
		t.Errorf("a struck number is kept: %+v", c)
	}
}

// On a hidden sheet nobody sees the numbers, and nothing is read from it.
func TestMarkupOfHiddenSheets(t *testing.T) {
	book := build(t, func(f *excelize.File) {
		struck, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Strike: true}})
		must(t, err)
		_, err = f.NewSheet("calc")
		must(t, err)
		must(t, f.SetCellValue("calc", "A1", 12))
		must(t, f.SetCellStyle("calc", "A1", "A1", struck))
		must(t, f.SetSheetVisible("calc", false))
	})
	d, r := readertest.Read(t, New(), "s.xlsx", book)
	if r != nil || len(d.Notes) != 0 {
		t.Errorf("%v %v", r, d.Notes)
	}
}
