package sheet

import (
	"archive/zip"
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
	"example.org/windrow/ingest/readertest"
)

// build makes a workbook with excelize and gives its bytes.
func build(t testing.TB, fill func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// repack rewrites the parts of a workbook; edit returns nil to drop one.
func repack(t testing.TB, b []byte, edit func(name string, c []byte) []byte) []byte {
	t.Helper()
	zr, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	must(t, err)
	var out bytes.Buffer
	zw := zip.NewWriter(&out)
	for _, f := range zr.File {
		r, err := f.Open()
		must(t, err)
		c, err := io.ReadAll(r)
		must(t, err)
		if c = edit(f.Name, c); c == nil {
			continue
		}
		w, err := zw.Create(f.Name)
		must(t, err)
		_, err = w.Write(c)
		must(t, err)
	}
	must(t, zw.Close())
	return out.Bytes()
}

// plainBook is a workbook of one empty sheet.
var plainBook = sync.OnceValue(func() []byte {
	f := excelize.NewFile()
	defer f.Close()
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		panic(err)
	}
	return b.Bytes()
})

// withSheet replaces the cell data of the only sheet by XML.
func withSheet(t testing.TB, xml string) []byte {
	t.Helper()
	return repack(t, plainBook(), func(name string, c []byte) []byte {
		if name == "xl/worksheets/sheet1.xml" {
			return []byte(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">` + xml + `</worksheet>`)
		}
		return c
	})
}

func cellAt(t testing.TB, d *ingest.Document, sheet int, name string) ingest.Cell {
	t.Helper()
	for _, c := range d.Pages[sheet].Cells {
		if ingest.CellName(c.Row, c.Col) == name {
			return c
		}
	}
	return ingest.Cell{}
}

func style(t testing.TB, f *excelize.File, code string) int {
	t.Helper()
	n, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
	must(t, err)
	return n
}

func small(t testing.TB) []byte {
	return build(t, func(f *excelize.File) {
		set := func(cell string, v any, code string) {
			must(t, f.SetCellValue("Sheet1", cell, v))
			if code != "" {
				must(t, f.SetCellStyle("Sheet1", cell, cell, style(t, f, code)))
			}
		}
		set("A1", "Fernhollow Allotments", "")
		must(t, f.MergeCell("Sheet1", "A1", "D2"))
		set("A3", 6.47, "0")
		set("B3", 1878, "#,##0")
		set("C3", 0.0, "0.0")
		set("D3", 46085, "d-mmm-yy")
		set("E3", "17.2*", "0.0")
		set("F3", 17.25, `0.0" ppm"`)
		set("G3", true, "")
		set("A4", 1.5, "")
		must(t, f.SetRowVisible("Sheet1", 4, false))
		set("H3", "mine", "")
		must(t, f.SetColVisible("Sheet1", "H", false))
		_, err := f.NewSheet("QC check")
		must(t, err)
		must(t, f.SetCellValue("QC check", "B2", "blank ok"))
		must(t, f.SetSheetVisible("QC check", false))
	})
}

func TestValuesTextsAndFormats(t *testing.T) {
	d, r := readertest.Read(t, New(), "small.xlsx", small(t))
	if r != nil {
		t.Fatal(r)
	}
	if len(d.Pages) != 2 || d.Pages[0].Hidden || !d.Pages[1].Hidden || d.Pages[1].Name != "QC check" || d.Pages[0].Rows != 4 || d.Pages[0].Cols != 8 {
		t.Fatalf("pages: %+v", d.Pages)
	}
	want := map[string]ingest.Cell{
		"A1": {Text: "Fernhollow Allotments", Kind: ingest.TextCell, Across: 4, Down: 2},
		"A3": {Text: "6", Raw: "6.47", Kind: ingest.NumberCell, Format: "0"},
		"B3": {Text: "1,878", Raw: "1878", Kind: ingest.NumberCell, Format: "#,##0"},
		"C3": {Text: "0.0", Raw: "0", Kind: ingest.NumberCell, Format: "0.0"},
		"D3": {Text: "4-Mar-26", Raw: "2026-03-04", Kind: ingest.DateCell, Format: "d-mmm-yy"},
		"E3": {Text: "17.2*", Kind: ingest.TextCell},
		"F3": {Text: "17.3 ppm", Raw: "17.25", Kind: ingest.NumberCell, Format: `0.0" ppm"`},
		"G3": {Text: "TRUE", Kind: ingest.BoolCell},
		"H3": {Text: "mine", Kind: ingest.TextCell, Hidden: true},
		"A4": {Text: "1.5", Kind: ingest.NumberCell, Format: "General", Hidden: true},
	}
	for name, w := range want {
		got := cellAt(t, d, 0, name)
		got.Row, got.Col = 0, 0
		if got != w {
			t.Errorf("%s: got %+v, want %+v", name, got, w)
		}
	}
	if n := len(d.Pages[0].Cells); n != len(want) {
		t.Errorf("%d cells, want %d", n, len(want))
	}
	if p := d.Pages[0].PlaceOfCell(&d.Pages[0].Cells[2]).In("small.xlsx").String(); p != "small.xlsx: Sheet1!B3" {
		t.Errorf("place %s", p)
	}
}

func TestFormulas(t *testing.T) {
	b := withSheet(t, `<sheetData><row r="1">
<c r="A1"><v>2</v></c>
<c r="B1"><f>A1*2</f><v>4</v></c>
<c r="C1"><f>A1*3</f></c>
<c r="D1"><f>A1*4</f><v></v></c>
<c r="E1" t="str"><f>IF(A1&gt;1,"high","")</f><v>high</v></c>
<c r="F1" t="str"><f>IF(A1&gt;9,"high","")</f><v></v></c>
<c r="G1" t="e"><f>#REF!+1</f><v>#REF!</v></c>
<c r="H1"><f t="shared" ref="H1:H2" si="0">A1+$A$1</f><v>4</v></c>
</row><row r="2"><c r="H2"><f t="shared" si="0"/><v>5</v></c></row></sheetData>`)
	d, r := readertest.Read(t, New(), "f.xlsx", b)
	if r != nil {
		t.Fatal(r)
	}
	for name, want := range map[string]ingest.Cell{
		"B1": {Row: 1, Col: 2, Text: "4", Kind: ingest.NumberCell, Format: "General", Formula: "A1*2"},
		"C1": {Row: 1, Col: 3, Kind: ingest.ErrorCell, Formula: "A1*3"},
		"D1": {Row: 1, Col: 4, Kind: ingest.ErrorCell, Formula: "A1*4"},
		"E1": {Row: 1, Col: 5, Text: "high", Kind: ingest.TextCell, Formula: `IF(A1>1,"high","")`},
		"F1": {Row: 1, Col: 6, Kind: ingest.TextCell, Formula: `IF(A1>9,"high","")`},
		"G1": {Row: 1, Col: 7, Text: "#REF!", Kind: ingest.ErrorCell, Formula: "#REF!+1"},
		"H2": {Row: 2, Col: 8, Text: "5", Kind: ingest.NumberCell, Format: "General", Formula: "A2+$A$1"},
	} {
		if got := cellAt(t, d, 0, name); got != want {
			t.Errorf("%s: got %+v, want %+v", name, got, want)
		}
	}
	var places []string
	for _, n := range d.Notes {
		if n.Code == CodeNoValue {
			places = append(places, n.Where.String())
		}
	}
	if got := strings.Join(places, " "); got != "f.xlsx: Sheet1!C1 f.xlsx: Sheet1!D1" {
		t.Errorf("notes of formulas without value at %q", got)
	}
}

func TestManyNotesAreCounted(t *testing.T) {
	var rows strings.Builder
	for i := 1; i <= 40; i++ {
		fmt.Fprintf(&rows, `<row r="%d"><c r="A%d"><f>1+1</f></c></row>`, i, i)
	}
	d, r := readertest.Read(t, New(), "n.xlsx", withSheet(t, "<sheetData>"+rows.String()+"</sheetData>"))
	if r != nil {
		t.Fatal(r)
	}
	if len(d.Notes) != 6 || !strings.HasPrefix(d.Notes[5].What, "35 more") {
		t.Errorf("notes: %v", d.Notes)
	}
}

func TestValueUnderMergedCellIsKeptAndMarked(t *testing.T) {
	d, r := readertest.Read(t, New(), "m.xlsx", withSheet(t,
		`<sheetData><row r="1"><c r="A1"><v>1</v></c><c r="B1"><v>99</v></c><c r="C1"><v>3</v></c></row></sheetData><mergeCells><mergeCell ref="A1:B1"/></mergeCells>`))
	if r != nil {
		t.Fatal(r)
	}
	if a, b, c := cellAt(t, d, 0, "A1"), cellAt(t, d, 0, "B1"), cellAt(t, d, 0, "C1"); a.Across != 2 || a.Down != 1 || !b.Hidden || b.Text != "99" || c.Hidden {
		t.Errorf("got %+v %+v %+v", a, b, c)
	}
	if len(d.Notes) != 1 || d.Notes[0].Code != CodeCovered {
		t.Errorf("notes: %v", d.Notes)
	}
}

func TestDateSystemOf1904(t *testing.T) {
	b := build(t, func(f *excelize.File) {
		yes := true
		must(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
		must(t, f.SetCellValue("Sheet1", "A1", 44623))
		must(t, f.SetCellStyle("Sheet1", "A1", "A1", style(t, f, "d-mmm-yy")))
	})
	d, r := readertest.Read(t, New(), "1904.xlsx", b)
	if r != nil {
		t.Fatal(r)
	}
	if c := cellAt(t, d, 0, "A1"); c.Text != "4-Mar-26" || c.Raw != "2026-03-04" {
		t.Errorf("got %+v", c)
	}
}

func TestRichTextAndEscapes(t *testing.T) {
	d, r := readertest.Read(t, New(), "t.xlsx", withSheet(t, `<sheetData><row r="1">
<c r="A1" t="inlineStr"><is><r><t>NO</t></r><r><t>3</t></r><r><t xml:space="preserve">-N </t></r><rPh sb="0" eb="1"><t>7</t></rPh></is></c>
<c r="B1" t="inlineStr"><is><t>a_x000D_b_x005F_x</t></is></c></row></sheetData>`))
	if r != nil {
		t.Fatal(r)
	}
	if a, b := cellAt(t, d, 0, "A1"), cellAt(t, d, 0, "B1"); a.Text != "NO3-N " || b.Text != "a\rb_x" {
		t.Errorf("got %q and %q", a.Text, b.Text)
	}
}

// Each of these would give a wrong or missing number if it were read as far
// as it goes.
func TestDamageIsNeverReadAsFarAsItGoes(t *testing.T) {
	for name, xml := range map[string]string{
		"cut in the middle":       `<sheetData><row r="1"><c r="A1"><v>1</v></c>`,
		"elements crossed":        `<sheetData><row r="1"><c r="A1"><v>1</c></v></row></sheetData>`,
		"element not opened":      `<sheetData></c></sheetData>`,
		"no cell data":            `<sheetFormatPr/>`,
		"cell there twice":        `<sheetData><row r="1"><c r="A1"><v>1</v></c><c r="A1"><v>2</v></c></row></sheetData>`,
		"row there twice":         `<sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="1"><c r="A1"><v>2</v></c></row></sheetData>`,
		"cell in another row":     `<sheetData><row r="1"><c r="A2"><v>1</v></c></row></sheetData>`,
		"text as a number":        `<sheetData><row r="1"><c r="A1"><v>1,5</v></c></row></sheetData>`,
		"no such shared text":     `<sheetData><row r="1"><c r="A1" t="s"><v>7</v></c></row></sheetData>`,
		"no such style":           `<sheetData><row r="1"><c r="A1" s="99"><v>7</v></c></row></sheetData>`,
		"unknown type":            `<sheetData><row r="1"><c r="A1" t="q"><v>7</v></c></row></sheetData>`,
		"row zero":                `<sheetData><row r="0"><c r="A1"><v>7</v></c></row></sheetData>`,
		"beyond the last column":  `<sheetData><row r="1"><c r="XFE1"><v>7</v></c></row></sheetData>`,
		"shared formula is amiss": `<sheetData><row r="1"><c r="A1"><f t="shared" si="3"/><v>7</v></c></row></sheetData>`,
		"bad date":                `<sheetData><row r="1"><c r="A1" t="d"><v>2026-02-30</v></c></row></sheetData>`,
	} {
		if d, r := readertest.Read(t, New(), "x.xlsx", withSheet(t, xml)); r == nil || r.Code != "damaged" {
			t.Errorf("%s: got %v, %v", name, d, r)
		}
	}
}

func TestContainers(t *testing.T) {
	said := map[string]string{}
	good := small(t)
	drop := func(part string) []byte {
		return repack(t, good, func(name string, c []byte) []byte {
			if name == part {
				return nil
			}
			return c
		})
	}
	add := func(name string) []byte {
		var out bytes.Buffer
		zr, err := zip.NewReader(bytes.NewReader(good), int64(len(good)))
		must(t, err)
		zw := zip.NewWriter(&out)
		for _, f := range zr.File {
			must(t, zw.Copy(f))
		}
		_, err = zw.Create(name)
		must(t, err)
		must(t, zw.Close())
		return out.Bytes()
	}
	locked := build(t, func(f *excelize.File) { must(t, f.SetCellValue("Sheet1", "A1", 1)) })
	locked, err := excelize.Encrypt(locked, &excelize.Options{Password: "pw"})
	must(t, err)
	compound := func(stream string) []byte {
		b := append(bytes.Clone(compoundFile), make([]byte, 600)...)
		for i, c := range stream {
			b[520+2*i] = byte(c)
		}
		return b
	}
	// A stored part is hit by a fault that keeps its length.
	flipped := bytes.Clone(storeOnly(t, good))
	i := bytes.Index(flipped, []byte("<v>6.47</v>"))
	if i < 0 {
		t.Fatal("no value to damage")
	}
	flipped[i+3] = '9'
	for name, c := range map[string]struct {
		b    []byte
		code string
	}{
		"locked":             {locked, "locked"},
		"xls":                {compound("Workbook"), "old-workbook"},
		"other ole":          {compound("WordDocument"), "damaged"},
		"macros":             {add("xl/vbaProject.bin"), "macros"},
		"two of a name":      {add("XL/worksheets\\sheet1.xml"), "damaged"},
		"not a workbook":     {[]byte("pH,6.4\n"), "damaged"},
		"empty":              {nil, "damaged"},
		"cut short":          {good[:len(good)/2], "damaged"},
		"a zip of something": {repack(t, good, func(n string, c []byte) []byte { return map[bool][]byte{true: c}[strings.HasPrefix(n, "docProps")] }), "damaged"},
		"sheet missing":      {drop("xl/worksheets/sheet1.xml"), "damaged"},
		"styles missing":     {drop("xl/styles.xml"), "damaged"},
		"digit changed":      {flipped, "damaged"},
	} {
		_, r := readertest.Read(t, New(), name+".xlsx", c.b)
		if r == nil || r.Code != c.code {
			t.Errorf("%s: want %s, got %v", name, c.code, r)
			continue
		}
		said[name] = r.Error()
	}
	for name, lim := range map[string]ingest.Limits{"too many bytes": {Bytes: 3}, "too many sheets": {Pages: 1}, "too many cells": {Cells: 1}, "unpacks to too much": {Unzipped: 4000}} {
		_, err := New().Read(context.Background(), ingest.NewSource("x.xlsx", good), lim)
		said[name] = err.Error()
	}
	_, r := readertest.Read(t, New(), "x.xlsx", withSheet(t, `<sheetData><row r="1"><c r="A1"><v>1,5</v></c></row></sheetData>`))
	said["text as a number"] = r.Error()
	d, r := readertest.Read(t, New(), "x.xlsx", withSheet(t, `<sheetData><row r="1"><c r="A1"><f>B1*2</f></c><c r="B1"><v>1</v></c><c r="C1"><v>2</v></c></row></sheetData><mergeCells><mergeCell ref="B1:C1"/></mergeCells>`))
	if r != nil {
		t.Fatal(r)
	}
	for _, n := range d.Notes {
		said["note "+n.Code] = n.Error()
	}
	golden(t, "testdata/reasons.txt", said)
}

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares what is said to people with a file that is read in review.
func golden(t *testing.T, path string, said map[string]string) {
	t.Helper()
	var out strings.Builder
	for _, name := range slices.Sorted(maps.Keys(said)) {
		fmt.Fprintf(&out, "== %s\n%s\n\n", name, said[name])
	}
	if *update {
		must(t, os.WriteFile(path, []byte(out.String()), 0o644))
	}
	want, err := os.ReadFile(path)
	must(t, err)
	if out.String() != string(want) {
		t.Errorf("%s differs; run with -update and read what changed. Now:\n%s", path, out.String())
	}
}

// storeOnly repacks a workbook without compression.
func storeOnly(t testing.TB, b []byte) []byte {
	zr, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	must(t, err)
	var out bytes.Buffer
	zw := zip.NewWriter(&out)
	for _, f := range zr.File {
		r, err := f.Open()
		must(t, err)
		c, err := io.ReadAll(r)
		must(t, err)
		w, err := zw.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Store})
		must(t, err)
		_, err = w.Write(c)
		must(t, err)
	}
	must(t, zw.Close())
	return out.Bytes()
}

func TestExpansionIsBounded(t *testing.T) {
	zeros := repack(t, small(t), func(name string, c []byte) []byte {
		if name == "xl/worksheets/sheet2.xml" {
			return append(c, bytes.Repeat([]byte(" "), 40<<20)...)
		}
		return c
	})
	if len(zeros) > 1<<20 {
		t.Fatalf("the bomb is %d bytes", len(zeros))
	}
	src := ingest.NewSource("bomb.xlsx", zeros)
	_, err := New().Read(context.Background(), src, ingest.Limits{Unzipped: 8 << 20})
	if r := ingest.AsReason(err); r == nil || r.Code != "too-large" {
		t.Errorf("got %v", err)
	}
}

// samples are the workbooks of the laboratory in testdata, which must be
// there: the tests below would check nothing without them.
func samples(t testing.TB) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, pattern := range []string{"*.xlsx", "revised/*.xlsx"} {
		names, err := filepath.Glob(filepath.Join("../../testdata/labs/verrin-analytical", pattern))
		must(t, err)
		for _, n := range names {
			b, err := os.ReadFile(n)
			must(t, err)
			out[filepath.Base(n)] = b
		}
	}
	if len(out) < 5 {
		t.Fatalf("found %d workbooks", len(out))
	}
	return out
}

func TestContract(t *testing.T) {
	var list []readertest.Sample
	for n, b := range samples(t) {
		if len(b) < 100<<10 {
			list = append(list, readertest.Sample{Name: n, Bytes: b})
		}
	}
	list = append(list, readertest.Sample{Name: "small.xlsx", Bytes: small(t)}, readertest.Sample{Name: "no.xlsx", Bytes: []byte("no"), Code: "damaged"})
	readertest.Run(t, New(), list)
}

// TestAgreesWithExcelize holds every cell of every workbook against what
// excelize reads by itself: the stored value, and the formula.
func TestAgreesWithExcelize(t *testing.T) {
	compared, formulas := 0, 0
	for name, b := range samples(t) {
		d, r := readertest.Read(t, New(), name, b)
		if r != nil {
			t.Fatal(r)
		}
		f, err := excelize.OpenReader(bytes.NewReader(b))
		must(t, err)
		for _, p := range d.Pages {
			rows, err := f.GetRows(p.Name, excelize.Options{RawCellValue: true})
			must(t, err)
			theirs := map[string]string{}
			for i, row := range rows {
				for k, v := range row {
					if v != "" {
						theirs[ingest.CellName(i+1, k+1)] = v
					}
				}
			}
			for _, c := range p.Cells {
				at := ingest.CellName(c.Row, c.Col)
				v := c.Raw
				if v == "" {
					v = c.Text
				}
				w := theirs[at]
				if c.Kind == ingest.DateCell {
					serial, ok := numfmt.SerialOf(v, numfmt.From1900)
					if !ok {
						t.Errorf("%s %s!%s: %q is no date", name, p.Name, at, v)
					}
					v = serial
				}
				if v != w {
					t.Errorf("%s %s!%s: read %q, excelize reads %q", name, p.Name, at, v, w)
				}
				delete(theirs, at)
				compared++
				if len(p.Cells) < 2000 {
					fx, err := f.GetCellFormula(p.Name, at)
					must(t, err)
					if fx != c.Formula {
						t.Errorf("%s %s!%s: formula %q, excelize reads %q", name, p.Name, at, c.Formula, fx)
					}
					if fx != "" {
						formulas++
					}
				}
			}
			for at, v := range theirs {
				t.Errorf("%s %s!%s: excelize reads %q, nothing was read here", name, p.Name, at, v)
			}
		}
		_ = f.Close()
	}
	if compared < 4000 || formulas < 500 {
		t.Errorf("only %d cells and %d formulas were compared", compared, formulas)
	}
	t.Logf("%d cells and %d formulas agree", compared, formulas)
}
