package dataset_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// wideArchive is an archive with two methods of one element, converted and
// printed numbers, limits, words, and a test that a sample has twice.
func wideArchive() []*normalize.Report {
	reports, _ := inventedArchive(30)
	twice := report(900)
	twice.Records[0].Results = append(twice.Records[0].Results, &normalize.Result{Analyte: "pH", Detail: "water 1:1", MethodName: "not stated", Status: normalize.OK, Value: "6.75", Unit: "pH", UCUM: "[pH]", Printed: normalize.Printed{Text: "6.75", Number: "6.75"}})
	inexact := report(901)
	inexact.Records[0].Results[0].Steps[0].Exact = false
	again := of(902, "Ada Quill", func(rep *normalize.Report, rec *normalize.Record) {
		rep.Number, rec.Sample.LabID, rec.Sample.Reported = twice.Number, twice.Records[0].Sample.LabID, "2026-09-09"
	})
	return append(reports, twice, inexact, again)
}

// The wide table has every value of the table of results once, under the name
// of its analyte, method, unit and kind, and nothing else.
func TestWideHasEveryValueOnce(t *testing.T) {
	for _, opt := range []dataset.Options{{}, {MinGroup: 5}, {Memory: 1}} {
		got, sum := write(t, opt, wideArchive()...)
		want := map[string]string{} // by sample, report and what the column must speak of
		for _, r := range table(t, got["results.csv"]) {
			v, kind := r["value"], r["value_is"]
			if v == "" {
				v, kind = r["class"], "words"
			}
			if v == "" {
				continue
			}
			k := strings.Join([]string{r["sample"], r["report"], r["analyte"], r["method"], r["unit"], kind}, " ")
			for want[k] != "" {
				k += "+"
			}
			want[k] = r["censored"] + v
		}
		rows, err := csv.NewReader(strings.NewReader(got["wide.csv"])).ReadAll()
		if err != nil || len(rows) != sum.Wide+1 {
			t.Fatal(len(rows), err)
		}
		fixed := map[string]string{}
		for _, r := range table(t, got["results.csv"]) {
			k, v := r["sample"]+" "+r["report"], strings.Join([]string{r["lab"], r["county"], r["land_use"], r["period"], r["depth_in"], r["withheld"]}, "|")
			if fixed[k] != "" && fixed[k] != v {
				t.Errorf("%s is shown in two ways: %s and %s", k, fixed[k], v)
			}
			fixed[k] = v
		}
		for _, r := range rows[1:] {
			if v := strings.Join(r[2:8], "|"); fixed[r[0]+" "+r[1]] != v {
				t.Errorf("%s %s: %s, in the table of results %s", r[0], r[1], v, fixed[r[0]+" "+r[1]])
			}
		}
		have := map[string]string{}
		names := map[string]bool{}
		for _, name := range rows[0] {
			if names[name] {
				t.Errorf("two columns are called %s", name)
			}
			names[name] = true
		}
		samples := map[string]bool{}
		for _, r := range rows[1:] {
			if samples[r[0]+r[1]] {
				t.Errorf("two rows of %s %s", r[0], r[1])
			}
			samples[r[0]+r[1]] = true
			for i, name := range rows[0] {
				if i < 8 || r[i] == "" || strings.HasSuffix(name, "__limit") {
					continue
				}
				parts := strings.Split(name, "__")
				if len(parts) > 4 && slices.Contains([]string{"2", "3"}, parts[len(parts)-1]) {
					parts = parts[:len(parts)-1]
				}
				unit := strings.ReplaceAll(parts[len(parts)-2], "_per_", "/")
				if unit == "no_unit" {
					unit = ""
				}
				method := parts[len(parts)-3]
				if method == "method_not_stated" {
					method = ""
				}
				k := strings.Join([]string{r[0], r[1], parts[0], method, unit, parts[len(parts)-1]}, " ")
				for have[k] != "" {
					k += "+"
				}
				v := r[i]
				if i+1 < len(r) && rows[0][i+1] == name+"__limit" {
					v = r[i+1] + v
				}
				have[k] = v
			}
		}
		if !maps.Equal(have, want) || len(want) < 100 {
			for k, v := range want {
				if have[k] != v {
					t.Errorf("%s is %q in the wide table, %q in that of results", k, have[k], v)
				}
			}
			t.Errorf("%d values in the wide table, %d in that of results", len(have), len(want))
		}
		if opt.MinGroup == 0 {
			for _, must := range []string{"P__mehlich-3-icp__mg_per_kg__printed", "P__mehlich-1-icp__mg_per_kg__converted", "K__mehlich-1-icp__mg_per_kg__converted__limit", "P__mehlich-3__mg_per_kg__estimated", "texture__method_not_stated__class__words", "pH__water_1_1__method_not_stated__pH__printed__2"} {
				if !names[must] {
					t.Errorf("there is no column %s among %v", must, slices.Sorted(maps.Keys(names)))
				}
			}
		}
		for name := range names {
			if !strings.Contains(got["codebook.md"], "| `"+name+"` |") || !strings.Contains(got["codebook.html"], "<code>"+name+"</code>") || !strings.Contains(got["datapackage.json"], `"name": "`+name+`"`) {
				t.Errorf("column %s is not explained", name)
			}
		}
	}
}

// The workbooks say what wide.csv and results.csv say, number for number, hold
// no formula, and are the same bytes each time.
func TestWorkbooks(t *testing.T) {
	rs := wideArchive()
	rs[0].Records[0].Results = append(rs[0].Records[0].Results, &normalize.Result{Analyte: "texture", Status: normalize.OK, Class: `=HYPERLINK("http://x.example","y")`, Unit: "class"},
		&normalize.Result{Analyte: "Ca", Method: "m", Status: normalize.OK, Value: "1234567890.1234567890", Unit: "mg/kg"}, &normalize.Result{Analyte: "Mg", Method: "m", Status: normalize.OK, Value: "-0.4", Unit: "mg/kg"})
	opt := dataset.Options{Title: "=1+1", Office: "@office", Version: "1.0"}
	got, _ := write(t, opt, rs...)
	for range 3 {
		slices.Reverse(rs)
		if again, _ := write(t, opt, rs...); again["wide.xlsx"] != got["wide.xlsx"] || again[dataset.ResultsBook] != got[dataset.ResultsBook] {
			t.Error("the workbooks are not the same bytes each time")
		}
	}
	sameAsTable(t, got, "wide", "samples")
	sameAsTable(t, got, "results", "results")
}

// sameAsTable compares a workbook of a dataset with the table.
func sameAsTable(t *testing.T, got map[string]string, table, sheet string) {
	t.Helper()
	f, err := excelize.OpenReader(strings.NewReader(got[table+".xlsx"]), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, _ := csv.NewReader(strings.NewReader(got[table+".csv"])).ReadAll()
	have, err := f.GetRows(sheet)
	if err != nil || len(have) != len(want) {
		t.Fatal(len(have), len(want), err)
	}
	numbers, exact := 0, false
	for i, w := range want {
		for j, v := range w {
			cell := ""
			if j < len(have[i]) {
				cell = have[i][j]
			}
			exact = exact || cell == "1234567890.1234567890"
			if cell == v {
				continue
			}
			a, err1 := strconv.ParseFloat(v, 64)
			b, err2 := strconv.ParseFloat(cell, 64)
			if err1 != nil || err2 != nil || a != b {
				t.Errorf("row %d, %s: %q, want %q", i, want[0][j], cell, v)
			}
			numbers++
		}
	}
	if numbers == 0 || !exact {
		t.Errorf("%d numbers are written another way; long ones whole: %v", numbers, exact)
	}
	z, err := zip.NewReader(strings.NewReader(got[table+".xlsx"]), int64(len(got[table+".xlsx"])))
	if err != nil {
		t.Fatal(err)
	}
	text := false
	for _, file := range z.File {
		r, err := file.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(file.Name, "xl/worksheets/") && bytes.Contains(b, []byte("<f")) {
			t.Errorf("%s holds a formula", file.Name)
		}
		text = text || bytes.Contains(b, []byte("&#39;=HYPERLINK"))
	}
	if !text {
		t.Error("the formula is not there as text, so that nothing is shown by this")
	}
	columns, err := f.GetRows("columns")
	if err != nil || len(columns) != len(want[0])+1 || columns[1][0] != "sample" {
		t.Errorf("%d columns explained, of %d: %v", len(columns)-1, len(want[0]), err)
	}
	if v, _ := f.GetCellValue("read me", "A1"); v != "'=1+1" {
		t.Errorf("title %q", v)
	}
}

// A name never means two things, whatever the words.
func TestWideNamesTellApart(t *testing.T) {
	r := report(1)
	r.Records[0].Results = nil
	for i, u := range []string{"mg/kg", "mg_per_kg", "mg per kg", "mg/kg "} {
		for _, m := range []string{"a b", "a_b", "a/b"} {
			r.Records[0].Results = append(r.Records[0].Results, &normalize.Result{Analyte: "P", Method: m, Status: normalize.OK, Value: normalize.Decimal(fmt.Sprint(i + 1)), Censored: "<", Unit: u})
		}
	}
	got, _ := write(t, dataset.Options{}, r)
	rows, err := csv.NewReader(strings.NewReader(got["wide.csv"])).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Fatal(len(rows), err)
	}
	names, values := map[string]bool{}, 0
	for i, n := range rows[0] {
		if names[n] {
			t.Errorf("%s comes twice", n)
		}
		names[n] = true
		if i >= 8 && rows[1][i] != "" && rows[1][i] != "<" {
			values++
		}
	}
	if values != 12 {
		t.Errorf("%d values, want 12: %v", values, rows)
	}
}
