package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"image"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/proofsheet"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/audit"
	"example.org/windrow/normalize/dataset"
)

// awkward are texts that a spreadsheet is apt to take for something else: a
// formula, a number, a date, a truth value, a fault, an escape.
var awkward = []string{"=1+1", "+255", "-3", "@SUM(A1:A9)", "'6", "=HYPERLINK(\"http://x.example\",\"y\")", "007", "1e5", "1E-3", "3/4", "12-05", "2026-03-04", "1,234", "50 %", "TRUE", "#N/A", "0.10",
	"_x0041_", "two\nlines", "a\tb", "  blanks  ", "<0.5", "µ ≤ é 土", "\"quoted\"", "semi;colon, comma"}

// TestWorkbooksInLibreOffice has every workbook that Windrow writes opened by
// LibreOffice, saved as a workbook and as comma-separated values, and compares
// both with what was written, cell by cell: text is the same text, however it
// looks, a number the same number, what was empty is empty, and nothing became
// a date or a formula. A proof sheet that was saved by it is read as before.
func TestWorkbooksInLibreOffice(t *testing.T) {
	office, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("LibreOffice is not on this machine; Debian's package is libreoffice-calc-nogui")
	}
	dir := t.TempDir()
	reports := workbookReports(t)
	made := filepath.Join(dir, "made")
	sum, err := dataset.Write(made, func(yield func(*normalize.Report) error) error {
		for _, r := range reports {
			if err := yield(r); err != nil {
				return err
			}
		}
		return nil
	}, dataset.Options{Key: []byte("a key that only this test knows!"), Title: "=1+1", Office: "-office", MinGroup: 1, Decision: &dataset.Decision{By: "a test", Why: "nobody in it is real"}})
	if err != nil {
		t.Fatal(err)
	}
	clerk := audit.NewClerk(audit.Scope{}, normalize.Sources())
	for _, r := range reports {
		clerk.Take(r, audit.Document{Report: r.ID, Version: 1, SHA256: strings.Repeat("a", 64), Lab: r.Lab.ID, File: "-report.csv", Arrived: "2026-03-04"})
	}
	for i, s := range awkward {
		clerk.Add(audit.Difference{Code: audit.CodeStep, Report: "R1", Record: "R1-1", Result: s, Step: "step " + strconv.Itoa(i), What: "=1+1", Expected: "55.640", Found: s})
	}
	account, err := audit.Workbook(clerk.Account(), audit.Binding{Office: "@office", Software: "test", Made: time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	proof, err := proofsheet.Write(awkwardScan(), "R1", func(*ingest.Page) (*image.Gray, float64, error) {
		g := image.NewGray(image.Rect(0, 0, 1275, 1650))
		for i := range g.Pix {
			g.Pix[i] = 255
		}
		return g, 150, nil
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"account.xlsx": account, "proof.xlsx": proof} {
		if err := os.WriteFile(filepath.Join(made, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}

	books := []string{"results.xlsx", "wide.xlsx", "account.xlsx", "proof.xlsx"}
	saved, plain := filepath.Join(dir, "saved"), filepath.Join(dir, "plain")
	convert(t, office, dir, "xlsx:Calc MS Excel 2007 XML", saved, made, books)
	// Comma, double quote, UTF-8; numbers as they are and not as they are
	// shown; every sheet into a file of its own (LibreOffice's help, "Filter
	// Options for CSV").
	convert(t, office, dir, "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1", plain, made, books)
	for _, name := range books {
		t.Run(name, func(t *testing.T) { sameBook(t, filepath.Join(made, name), filepath.Join(saved, name)) })
	}
	for name, sheet := range map[string]string{"results": "results", "wide": "samples"} {
		n := sameCSV(t, filepath.Join(made, name+".csv"), filepath.Join(plain, name+"-"+sheet+".csv"))
		if want := map[string]int{"results": sum.Rows, "wide": sum.Wide}[name] + 1; n != want {
			t.Errorf("%s: %d lines, want %d", name, n, want)
		}
	}
	// What a person saved there is read as if LibreOffice had never had it.
	b, err := os.ReadFile(filepath.Join(saved, "proof.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	list, left, reasons := proofsheet.Read("proof.xlsx", b, awkwardScan())
	list2, left2, reasons2 := proofsheet.Read("proof.xlsx", proof, awkwardScan())
	if len(list2) == 0 || !reflect.DeepEqual(list, list2) || left != left2 || !reflect.DeepEqual(reasons, reasons2) {
		t.Errorf("the proof sheet says\n%v %d %v\nand said\n%v %d %v", list, left, reasons, list2, left2, reasons2)
	}
}

// workbookReports are the reports of the demonstration, and one that says
// everything awkward.
func workbookReports(t *testing.T) []*normalize.Report {
	t.Helper()
	st := loadStages(t)
	var out []*normalize.Report
	for _, r := range demo.Reports() {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource(r.Name, r.Bytes), pipeline.Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		for _, rd := range rds {
			out = append(out, rd.Report)
		}
	}
	odd := &normalize.Report{Schema: normalize.SchemaVersion, ID: "R00000000000000aa", Status: normalize.OK, Lab: normalize.Lab{ID: "odd", Name: "=Odd"}, Number: "1", Version: "1.0", Tables: "t", Mapping: normalize.MappingRef{ID: "odd", Layout: "a", SHA256: "m"}}
	rec := &normalize.Record{ID: odd.ID + "-1", Status: normalize.OK, Sample: normalize.Sample{LabID: "1", County: "Finch", Sampled: "2026-03-04"}, Client: &normalize.Client{Name: "A"}}
	for i, s := range awkward {
		rec.Results = append(rec.Results, &normalize.Result{Analyte: "texture", Detail: strconv.Itoa(i), Status: normalize.OK, Class: s, Unit: "class", Printed: normalize.Printed{Text: s}})
	}
	for i, v := range []normalize.Decimal{"0", "0.00", "-0.4", "1234567890.1234567890", "0.000001", "6.50", "123456789012345", "99999"} {
		rec.Results = append(rec.Results, &normalize.Result{Analyte: "P", Detail: strconv.Itoa(i), Method: "m", Status: normalize.OK, Value: v, Unit: "mg/kg", UCUM: "mg/kg", Printed: normalize.Printed{Text: string(v), Number: v, Unit: "mg/kg"}})
	}
	rec.Results = append(rec.Results, &normalize.Result{Analyte: "B", Status: normalize.OK, Missing: "-", Unit: "mg/kg", Printed: normalize.Printed{Text: "-"}})
	odd.Records = []*normalize.Record{rec}
	return append(out, odd)
}

// awkwardScan is a scan of which both readings agree.
func awkwardScan() *ingest.Document {
	p := &ingest.Page{Number: 1, Width: 612, Height: 792, Scan: &ingest.Scan{DPI: 150}}
	for i, s := range awkward {
		if strings.ContainsAny(s, " \t\n") || s == "_x0041_" {
			continue // no word of a scan has blanks; and what looks like an escape of workbooks excelize reads as one, so that the sheet is refused
		}
		y := 10 + 20*float64(i)
		p.Words = append(p.Words, ingest.Word{Text: s, Box: ingest.Box{X0: 10, Y0: y, X1: 60, Y1: y + 10}, Base: y + 10, Size: 14, OCR: &ingest.OCR{Confidence: 90, Second: s, Agree: true}})
	}
	return &ingest.Document{Source: ingest.NewSource("a.png", []byte("x")).Ref(), Format: ingest.PDF, Pages: []*ingest.Page{p}}
}

// convert has LibreOffice write files in another form into a folder, with a
// profile of its own.
func convert(t *testing.T, office, dir, form, to, from string, names []string) {
	t.Helper()
	profile := url.URL{Scheme: "file", Path: filepath.Join(dir, "profile")}
	args := []string{"-env:UserInstallation=" + profile.String(), "--headless", "--norestore", "--convert-to", form, "--outdir", to}
	for _, n := range names {
		args = append(args, filepath.Join(from, n))
	}
	ctx, stop := context.WithTimeout(t.Context(), 5*time.Minute)
	defer stop()
	said, err := exec.CommandContext(ctx, office, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	if es, err := os.ReadDir(to); err != nil || len(es) < len(names) {
		t.Fatalf("LibreOffice wrote %d files of %d: %v\n%s", len(es), len(names), err, said)
	}
}

// A bookCell is a cell as it is stored, and as it is shown.
type bookCell struct {
	kind, raw, shown string
}

// cellsOf are the cells of a workbook that are not empty, by sheet and name.
func cellsOf(t *testing.T, path string) (sheets []string, cells map[string]bookCell) {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cells = map[string]bookCell{}
	for _, s := range f.GetSheetList() {
		rows, err := f.GetRows(s, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for y, r := range rows {
			for x := range r {
				at, _ := excelize.CoordinatesToCellName(x+1, y+1)
				kind, err := f.GetCellType(s, at)
				if err != nil {
					t.Fatal(err)
				}
				raw, err1 := f.GetCellValue(s, at, excelize.Options{RawCellValue: true})
				shown, err2 := f.GetCellValue(s, at)
				formula, err3 := f.GetCellFormula(s, at)
				if err1 != nil || err2 != nil || err3 != nil {
					t.Fatal(err1, err2, err3)
				}
				c := bookCell{raw: raw, shown: shown}
				switch {
				case formula != "":
					c.kind = "formula " + formula
				case kind == excelize.CellTypeInlineString || kind == excelize.CellTypeSharedString:
					c.kind = "text"
				case kind == excelize.CellTypeUnset || kind == excelize.CellTypeNumber:
					c.kind = "number"
				default:
					c.kind = fmt.Sprint("type ", kind)
				}
				if raw != "" {
					cells[s+"!"+at] = c
				}
			}
		}
	}
	return f.GetSheetList(), cells
}

// sameBook compares the cells of two workbooks.
func sameBook(t *testing.T, made, saved string) {
	wantSheets, want := cellsOf(t, made)
	gotSheets, got := cellsOf(t, saved)
	if !slices.Equal(wantSheets, gotSheets) {
		t.Errorf("sheets %q, want %q", gotSheets, wantSheets)
	}
	texts, numbers := 0, 0
	for at, w := range want {
		g := got[at]
		switch {
		case w.kind == "number":
			numbers++
			a, err1 := strconv.ParseFloat(w.raw, 64)
			b, err2 := strconv.ParseFloat(g.raw, 64)
			if g.kind != w.kind || err1 != nil || err2 != nil || a != b || w.shown != g.shown {
				t.Errorf("%s is %q, was %q", at, g, w)
			}
		case w.kind != "text":
			t.Errorf("%s was written as %q", at, w)
		default:
			texts++
			if g != w {
				t.Errorf("%s is %q, was %q", at, g, w)
			}
		}
	}
	for at, g := range got {
		if _, was := want[at]; !was {
			t.Errorf("%s is %q, and was empty", at, g)
		}
	}
	t.Logf("%d texts and %d numbers", texts, numbers)
	if texts < 20 {
		t.Error("too few to mean anything")
	}
}

// sameCSV compares a table as Windrow writes it with what LibreOffice wrote of
// its workbook: a text must be the same, a number be the same number.
func sameCSV(t *testing.T, made, saved string) (lines int) {
	t.Helper()
	read := func(path string) [][]string {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	want, got := read(made), read(saved)
	if len(want) != len(got) {
		t.Fatalf("%s has %d lines, want %d", filepath.Base(saved), len(got), len(want))
	}
	for i, w := range want {
		for j, v := range w {
			cell := ""
			if j < len(got[i]) {
				cell = got[i][j]
			}
			a, err1 := strconv.ParseFloat(v, 64)
			b, err2 := strconv.ParseFloat(cell, 64)
			same := cell == v || err1 == nil && err2 == nil && a == b && !math.IsNaN(a) && (v == "") == (cell == "")
			if !same {
				t.Errorf("%s, line %d, %s: %q, want %q", filepath.Base(saved), i+1, want[0][j], cell, v)
			}
		}
	}
	return len(want)
}
