package dataset_test

import (
	"archive/zip"
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

var key = []byte("a key that only this test knows!")

// secret texts stand wherever a report has something personal, or something
// that leads to a person.
var secrets = []string{"Ada Quill", "12 Mill Lane", "ada@example.org", "555-0100", "Quill back garden", "LAB-4711", "2026-03-17", "2026-03-18", "2026-03-19", "Ada's roses",
	"quill.pdf", "inner-quill.pdf", strings.Repeat("ab", 32), "RPT-77", "words about Quill"}

func report(n int) *normalize.Report {
	id := fmt.Sprintf("R%016x", uint64(n+1)*0x9e3779b97f4a7c15)
	return &normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: normalize.Flagged, Lab: normalize.Lab{ID: "verrin", Name: "Verrin"}, Number: fmt.Sprintf("RPT-77%d", n),
		Source: ingest.SourceRef{Name: "quill.pdf", Member: "inner-quill.pdf", SHA256: strings.Repeat("ab", 32)}, Version: "1.0", Tables: "t1",
		Mapping: normalize.MappingRef{ID: "verrin", Layout: "table", SHA256: "m1"},
		Reasons: []*ingest.Reason{{Code: "seen", Severity: ingest.Note, What: "words about Quill"}, {Code: "late", Severity: ingest.Flag, What: "words about Quill"}},
		Records: []*normalize.Record{{ID: id + "-1", Status: normalize.OK,
			Sample: normalize.Sample{LabID: "LAB-4711", ClientLabel: "Quill back garden", County: "Finch", Sampled: "2026-03-17", Received: "2026-03-18", Reported: "2026-03-19",
				LandUse: "lawn", LandUseText: "Ada's roses", DepthIn: "6"},
			Client: &normalize.Client{Name: "Ada Quill", Address: "12 Mill Lane", Email: "ada@example.org", Phone: "555-0100"},
			Checks: []normalize.Finding{{Check: "sum", Severity: ingest.Flag, What: "words about Quill"}, {Check: "noted", Severity: ingest.Note}},
			Results: []*normalize.Result{
				{Analyte: "P", Method: "mehlich-3", MethodName: "Mehlich-3", Basis: "P2O5", Status: normalize.OK, Value: "13.52", Unit: "mg/kg", UCUM: "mg/kg",
					Printed: normalize.Printed{Text: "62 M", Number: "62", Unit: "lb/A", Rating: "Medium", Class: "medium", Index: "3"},
					Steps:   []normalize.Step{{Rule: "unit/lb-acre-to-mg-kg", Source: "key-a", Exact: true}, {Rule: "basis/P2O5-to-P", Source: "key-b", Exact: true}},
					Forms:   normalize.Forms{LbAc: &normalize.AreaForm{Value: "27.04", DepthIn: "6.67", SoilLb: "2000000", Source: "convention"}}},
				{Analyte: "pH", Detail: "water 1:1", MethodName: "not stated", Status: normalize.Flagged, Value: "6.50", Unit: "pH", UCUM: "[pH]", Printed: normalize.Printed{Text: "6.50", Number: "6.50"},
					Findings: []normalize.Finding{{Check: "range", Severity: ingest.Flag}}},
				{Analyte: "Pb", Status: normalize.OK, Value: "0.5", Unit: "mg/kg", Censored: "<", Printed: normalize.Printed{Text: "<0.5", Number: "0.5", Unit: "ppm"}},
				{Analyte: "B", Status: normalize.OK, Missing: "-", Unit: "mg/kg", Printed: normalize.Printed{Text: "-"}},
				{Analyte: "texture", Status: normalize.OK, Class: "loam", Unit: "class", Printed: normalize.Printed{Text: "loam"}},
				{Analyte: "K", Status: normalize.OK, Unit: "mg/kg", Why: "no density", Printed: normalize.Printed{Text: "120", Number: "120", Unit: "mg/dm3"}, Volumetric: &normalize.Quantity{Value: "120", Unit: "mg/dm3"}},
				{Analyte: "Zn", Status: normalize.Held, Value: "999", Unit: "mg/kg", Printed: normalize.Printed{Text: "999", Number: "999"}},
			}}}}
}

func all(rs ...*normalize.Report) func(func(*normalize.Report) error) error {
	return func(yield func(*normalize.Report) error) error {
		for _, r := range rs {
			if err := yield(r); err != nil {
				return err
			}
		}
		return nil
	}
}

// anybody decides that a test's few invented clients need no protection, so
// that it sees the rows as they are.
var anybody = &dataset.Decision{By: "a test", Why: "nobody in it is real"}

// bare are options without disclosure control.
var bare = dataset.Options{Key: key, MinGroup: 1, Decision: anybody}

func withMemory(bytes int) dataset.Options {
	opt := bare
	opt.Memory = bytes
	return opt
}

// write makes a dataset; without disclosure control where a test names no size
// of groups.
func write(t *testing.T, opt dataset.Options, rs ...*normalize.Report) (map[string]string, dataset.Summary) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "dataset")
	if opt.Key == nil {
		opt.Key = key
	}
	if opt.MinGroup == 0 {
		opt.MinGroup, opt.Decision = 1, anybody
	}
	sum, err := dataset.Write(dir, all(rs...), opt)
	if err != nil {
		t.Fatal(err)
	}
	return files(t, dir), sum
}

func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	es, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range es {
		b, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		m[e.Name()] = string(b)
	}
	return m
}

// opened are files with what is packed in workbooks beside them.
func opened(t *testing.T, files map[string]string) map[string]string {
	t.Helper()
	out, books := maps.Clone(files), 0
	for name, content := range files {
		if !strings.HasSuffix(name, ".xlsx") {
			continue
		}
		books++
		z, err := zip.NewReader(strings.NewReader(content), int64(len(content)))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			out[name+"/"+f.Name] = string(b)
		}
	}
	if books != 2 || !strings.Contains(out["results.xlsx/xl/worksheets/sheet2.xml"], "value_is") {
		t.Errorf("%d workbooks of %v", books, slices.Sorted(maps.Keys(out)))
	}
	return out
}

// table reads results.csv as a researcher's program would.
func table(t *testing.T, s string) []map[string]string {
	t.Helper()
	recs, err := csv.NewReader(strings.NewReader(s)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range recs[1:] {
		m := map[string]string{}
		for i, h := range recs[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func TestRows(t *testing.T) {
	got, sum := write(t, dataset.Options{Title: "Finch County, 2026", Office: "Finch office", Licence: "CC BY 4.0", Version: "1.0"}, report(1))
	rows := table(t, got["results.csv"])
	common := map[string]string{"lab": "verrin", "county": "Finch", "land_use": "lawn", "period": "2026-03", "depth_in": "6", "status": "ok", "findings": "late;sum"}
	want := []map[string]string{
		{"analyte": "P", "method": "mehlich-3", "method_name": "Mehlich-3", "value": "13.52", "unit": "mg/kg", "ucum": "mg/kg", "value_is": "converted", "printed_text": "62 M", "printed_number": "62",
			"printed_unit": "lb/A", "printed_basis": "P2O5", "printed_rating": "Medium", "printed_rating_class": "medium", "printed_index": "3", "lb_per_acre": "27.04", "lb_per_acre_depth_in": "6.67",
			"lb_per_acre_soil_lb": "2000000", "lb_per_acre_basis": "convention", "conversion": "unit/lb-acre-to-mg-kg;basis/P2O5-to-P", "conversion_source": "key-a;key-b"},
		{"analyte": "pH", "detail": "water 1:1", "method_name": "not stated", "value": "6.50", "unit": "pH", "ucum": "[pH]", "value_is": "printed", "printed_text": "6.50", "printed_number": "6.50",
			"status": "flagged", "findings": "late;range;sum"},
		{"analyte": "Pb", "value": "0.5", "unit": "mg/kg", "censored": "<", "value_is": "printed", "printed_text": "<0.5", "printed_number": "0.5", "printed_unit": "ppm"},
		{"analyte": "B", "unit": "mg/kg", "missing": "not-measured", "printed_text": "'-"},
		{"analyte": "texture", "unit": "class", "class": "loam", "missing": "words", "printed_text": "loam"},
		{"analyte": "K", "unit": "mg/kg", "missing": "not-converted", "volume_value": "120", "volume_unit": "mg/dm3", "printed_text": "120", "printed_number": "120", "printed_unit": "mg/dm3"},
	}
	if len(rows) != len(want) {
		t.Fatalf("%d rows, want %d", len(rows), len(want))
	}
	for i, w := range want {
		full := maps.Clone(common)
		maps.Copy(full, w)
		for _, c := range dataset.Columns() {
			if c.Name == "sample" || c.Name == "report" {
				if want := map[string]int{"sample": 20, "report": 1}[c.Name]; len(rows[i][c.Name]) != want || rows[i][c.Name] != rows[0][c.Name] {
					t.Errorf("row %d: %s is %q", i, c.Name, rows[i][c.Name])
				}
				continue
			}
			if rows[i][c.Name] != full[c.Name] {
				t.Errorf("row %d: %s is %q, want %q", i, c.Name, rows[i][c.Name], full[c.Name])
			}
		}
	}
	if sum.Rows != 6 || sum.Samples != 1 || sum.Reports != 1 || sum.HeldResults != 1 || sum.ValueIs["converted"] != 1 || sum.ValueIs["printed"] != 2 || sum.ValueIs[""] != 3 || sum.Censored["<"] != 1 {
		t.Errorf("summary %+v", sum)
	}
	h := sha256.Sum256([]byte(got["results.csv"]))
	book := got["codebook.md"]
	for _, must := range []string{"Finch County, 2026", "Finch office", "CC BY 4.0", hex.EncodeToString(h[:]), "`mehlich-3`", "`key-a`", "6 rows of 1 samples in 1 reports", "1 more results that are held", "apostrophe", "verrin / table / sha256 m1"} {
		if !strings.Contains(book, must) {
			t.Errorf("the codebook doesn't say %q", must)
		}
	}
	for _, c := range dataset.Columns() {
		if c.About == "" || c.Type == "" || c.Group == "" || !strings.Contains(book, "| `"+c.Name+"` |") || !strings.Contains(got["columns.csv"], "\n"+c.Name+",") {
			t.Errorf("column %q is not explained: %+v", c.Name, c)
		}
	}
	var js struct {
		Columns []dataset.Column
		Summary dataset.Summary
	}
	if err := json.Unmarshal([]byte(got["codebook.json"]), &js); err != nil || len(js.Columns) != len(dataset.Columns()) || js.Summary.SHA256 != hex.EncodeToString(h[:]) {
		t.Errorf("codebook.json: %v, %+v", err, js.Summary)
	}
	if !slices.Equal(slices.Sorted(maps.Keys(got)), slices.Sorted(slices.Values(append([]string{dataset.ResultsBook}, dataset.Files...)))) {
		t.Errorf("files %v", slices.Sorted(maps.Keys(got)))
	}
}

// Nothing personal is in any file, also not when the key is known to be in
// the codes.
func TestNothingPersonalLeaves(t *testing.T) {
	got, _ := write(t, dataset.Options{}, report(1), report(2))
	r := report(1)
	doc, _ := json.Marshal(r)
	for _, s := range secrets {
		if !bytes.Contains(doc, []byte(s)) {
			t.Errorf("the test's report doesn't hold %q, so that the test proves nothing", s)
		}
		for name, content := range opened(t, got) {
			if strings.Contains(content, s) {
				t.Errorf("%s holds %q", name, s)
			}
		}
	}
	for name, content := range got {
		if strings.Contains(content, r.ID) || strings.Contains(content, string(key)) {
			t.Errorf("%s holds the report's id, or the key", name)
		}
	}
}

func TestHeldStaysOut(t *testing.T) {
	held, heldRecord, odd := report(1), report(2), report(3)
	held.Status, heldRecord.Records[0].Status, odd.Status = normalize.Held, normalize.Held, "new-word"
	got, sum := write(t, dataset.Options{}, held, heldRecord, odd, report(4))
	if sum.HeldReports != 2 || sum.HeldRecords != 1 || sum.HeldResults != 1 || sum.Rows != 6 || sum.Reports != 1 || strings.Contains(got["results.csv"], "999") {
		t.Errorf("summary %+v", sum)
	}
	if !strings.Contains(got["codebook.md"], "2 reports, 1 more samples and 1 more results that are held") {
		t.Error("the codebook doesn't tell of what is held")
	}
}

func TestLayersBelowStayOut(t *testing.T) {
	r := report(1)
	below := *r.Records[0]
	below.ID, below.Sample.DepthTopIn, below.Sample.DepthIn = r.ID+"-9", "6", "24"
	_, alone := write(t, dataset.Options{}, r)
	r.Records = append(r.Records, &below)
	got, sum := write(t, dataset.Options{}, r)
	if sum.Below != 1 || sum.Rows != alone.Rows || sum.Samples != alone.Samples {
		t.Errorf("summary %+v", sum)
	}
	if !strings.Contains(got["codebook.md"], "- 1 samples of layers that begin below the surface") {
		t.Error("the codebook doesn't tell of the layer")
	}
}

// A report that came again in other bytes counts once, whichever comes first;
// one with another value counts, and so does one of another client's report.
func TestCopiesCountOnce(t *testing.T) {
	again := func(n int, number string) *normalize.Report {
		r, id := report(1), report(n).ID
		r.ID, r.Number = id, cmp.Or(number, r.Number)
		for i, rec := range r.Records {
			rec.ID = fmt.Sprintf("%s-%d", id, i+1)
		}
		return r
	}
	apart := again(4, "")
	for _, rec := range apart.Records {
		rec.Results[0].Value = "7.77"
	}
	own := again(5, "another")
	for _, rec := range own.Records {
		rec.Client = &normalize.Client{Name: "Somebody Else"}
	}
	rs := []*normalize.Report{report(1), again(2, ""), again(3, ""), apart, own}
	got, sum := write(t, dataset.Options{}, rs...)
	n := len(rs[0].Records)
	if sum.Copies != 2*n || sum.Reports != 3 || n == 0 {
		t.Errorf("summary %+v", sum)
	}
	if !strings.Contains(got["codebook.md"], fmt.Sprintf("- %d samples that another report gives", 2*n)) {
		t.Error("the codebook doesn't tell of the copies")
	}
	slices.Reverse(rs)
	back, _ := write(t, dataset.Options{}, rs...)
	if !maps.Equal(got, back) {
		t.Error("it depends on the order")
	}
}

func TestFormulas(t *testing.T) {
	bad := []string{"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "'=1", "=cmd|' /C calc'!A0", " =1", "＝1", "－", "\u00a0@x", `"=1"`, "a,b", "a\"b", "x=1", "<0.5", "µ", "6.5"}
	var rs []*normalize.Report
	for i, s := range bad {
		r := report(i)
		r.Records[0].Sample.County = s
		res := r.Records[0].Results[0]
		res.Printed.Text, res.Printed.Unit, res.Printed.Rating, res.Detail = s, s, s, s
		res.Value = normalize.Decimal(s) // a damaged record: no number at all
		res.Printed.Number = "-0.40"
		r.Records[0].Results = r.Records[0].Results[:1]
		rs = append(rs, r)
	}
	got, _ := write(t, dataset.Options{}, rs...)
	seen := map[string]bool{}
	for _, row := range table(t, got["results.csv"]) {
		if row["printed_number"] != "-0.40" {
			t.Errorf("a number was changed: %q", row["printed_number"])
		}
		seen[strings.ReplaceAll(strings.TrimPrefix(row["printed_text"], "'"), "\r\n", "\n")] = true
		for name, v := range row {
			if name == "printed_number" || name == "value" && v == "-1" {
				continue // numbers may have a minus
			}
			if v != "" && strings.ContainsAny(strings.TrimLeft(v, " \u00a0")[:1], "=+-@\t\r\n") {
				t.Errorf("%s is %q", name, v)
			}
		}
	}
	for _, s := range bad {
		if !seen[s] {
			t.Errorf("%q doesn't come back when one apostrophe is dropped", s)
		}
	}
}

// The same reports give the same bytes in any order, and however little
// memory there is.
func TestSameBytes(t *testing.T) {
	var rs []*normalize.Report
	for i := range 300 {
		r := report(i)
		r.Records[0].Sample.LabID = fmt.Sprint(i)
		rs = append(rs, r)
	}
	want, sum := write(t, dataset.Options{}, rs...)
	if sum.Samples != 300 || sum.Rows != 1800 {
		t.Fatalf("summary %+v", sum)
	}
	for _, memory := range []int{0, 1, 10_000, 100_000} {
		rand.New(rand.NewPCG(uint64(memory), 1)).Shuffle(len(rs), func(i, j int) { rs[i], rs[j] = rs[j], rs[i] })
		if got, _ := write(t, dataset.Options{Memory: memory}, rs...); !maps.Equal(got, want) {
			t.Errorf("with %d bytes of memory and another order the files differ", memory)
		}
	}
	if got, _ := write(t, dataset.Options{Key: []byte("another key of the same length..")}, rs...); got["results.csv"] == want["results.csv"] {
		t.Error("another key gives the same codes")
	}
}

// The code of a sample is HMAC-SHA-256 as RFC 2104 defines it, worked out
// here from SHA-256 alone.
func TestPseudonymIsHMAC(t *testing.T) {
	r := report(1)
	got, _ := write(t, dataset.Options{}, r)
	msg := "6:sample" + "6:verrin" + "7:RPT-771" + "8:LAB-4711"
	pad := func(x byte) []byte {
		b := make([]byte, 64)
		copy(b, key)
		for i := range b {
			b[i] ^= x
		}
		return b
	}
	inner := sha256.Sum256(append(pad(0x36), msg...))
	outer := sha256.Sum256(append(pad(0x5c), inner[:]...))
	if want := hex.EncodeToString(outer[:])[:20]; table(t, got["results.csv"])[0]["sample"] != want {
		t.Errorf("sample %q, want %q", table(t, got["results.csv"])[0]["sample"], want)
	}
}

func TestPseudonymsTellApart(t *testing.T) {
	a, again, otherNumber, otherLab, noNumber := report(1), report(2), report(3), report(4), report(5)
	again.Number = a.Number // reported again by the laboratory
	otherLab.Number, otherLab.Lab.ID = a.Number, "marrow"
	noNumber.Number = ""
	for i, r := range []*normalize.Report{a, again, otherNumber, otherLab, noNumber} {
		r.Records[0].Results[0].Value = normalize.Decimal(fmt.Sprint(10 + i)) // none is a copy
	}
	got, sum := write(t, dataset.Options{}, a, again, otherNumber, otherLab, noNumber)
	reports, samples := map[string]bool{}, map[string]bool{}
	for _, r := range table(t, got["results.csv"]) {
		reports[r["sample"]+r["report"]], samples[r["sample"]] = true, true
		if r["report"] != "1" && r["report"] != "2" {
			t.Errorf("report %q", r["report"])
		}
	}
	if len(reports) != 5 || len(samples) != 4 || sum.Samples != 4 {
		t.Errorf("%d reports, %d samples, want 5 and 4", len(reports), len(samples))
	}
}

func TestKeyIsNeeded(t *testing.T) {
	for _, k := range [][]byte{{}, []byte("short"), make([]byte, dataset.MinKey-1)} {
		dir := filepath.Join(t.TempDir(), "dataset")
		_, err := dataset.Write(dir, all(report(1)), dataset.Options{Key: k, MinGroup: 1, Decision: anybody})
		var r *ingest.Reason
		if !errors.As(err, &r) || r.Code != "dataset-key" {
			t.Errorf("a key of %d bytes: %v", len(k), err)
		}
		if _, err := os.Stat(dir); err == nil {
			t.Error("something was written without a key")
		}
	}
}

// A run that fails leaves the earlier dataset as it was and nothing beside it.
func TestFailureLeavesNothing(t *testing.T) {
	stop := errors.New("the archive is gone")
	cases := map[string]func(func(*normalize.Report) error) error{
		"the reports end early": func(yield func(*normalize.Report) error) error {
			for i := range 50 {
				if err := yield(report(i)); err != nil {
					return err
				}
			}
			return stop
		},
		"no report":           func(yield func(*normalize.Report) error) error { return yield(nil) },
		"one report twice":    all(report(1), report(1)),
		"the caller swallows": func(yield func(*normalize.Report) error) error { _ = yield(nil); _ = yield(report(1)); return nil },
	}
	for name, each := range cases {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if _, err := dataset.Write(dir, each, withMemory(1)); err == nil {
				t.Fatal("no error")
			}
			if got := files(t, dir); len(got) != 0 {
				t.Errorf("left behind: %v", slices.Sorted(maps.Keys(got)))
			}
			if _, err := dataset.Write(dir, all(report(7)), bare); err != nil {
				t.Fatal(err)
			}
			before := files(t, dir)
			_, err := dataset.Write(dir, each, withMemory(1))
			if err == nil || name == "the reports end early" && !errors.Is(err, stop) {
				t.Errorf("error %v", err)
			}
			if got := files(t, dir); !maps.Equal(got, before) {
				t.Error("the earlier dataset was changed")
			}
		})
	}
}

// What a killed run left is removed by a later one, and what a run may be
// writing now is not.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	for name, age := range map[string]time.Duration{".writing-old": 25 * time.Hour, ".writing-young": 23 * time.Hour, "notes": 99 * time.Hour} {
		p := filepath.Join(dir, name)
		if err := os.Mkdir(p, 0o755); err != nil {
			t.Fatal(err)
		}
		at := time.Now().Add(-age)
		if err := os.Chtimes(p, at, at); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := dataset.Write(dir, all(report(1)), bare); err != nil {
		t.Fatal(err)
	}
	var got []string
	es, _ := os.ReadDir(dir)
	for _, e := range es {
		if e.IsDir() {
			got = append(got, e.Name())
		}
	}
	if !slices.Equal(got, []string{".writing-young", "notes"}) {
		t.Errorf("left: %v", got)
	}
}

func TestEmpty(t *testing.T) {
	got, sum := write(t, dataset.Options{})
	if sum.Rows != 0 || strings.Count(got["results.csv"], "\n") != 1 || !strings.Contains(got["codebook.md"], "No value was converted") || !strings.Contains(got["codebook.md"], "Ask the office") {
		t.Errorf("%+v\n%s", sum, got["results.csv"])
	}
}

func TestValueIs(t *testing.T) {
	r := report(1)
	r.Records[0].Results = []*normalize.Result{
		{Analyte: "P", Status: normalize.OK, Value: "10", Printed: normalize.Printed{Text: "20", Number: "20"}, Steps: []normalize.Step{{Rule: "a", Exact: true}, {Rule: "b"}}},
		{Analyte: "K", Status: normalize.OK, Value: "10", Printed: normalize.Printed{Text: "20", Number: "20"}},
		{Analyte: "S", Status: normalize.OK, Printed: normalize.Printed{Text: ""}},
	}
	got, _ := write(t, dataset.Options{}, r)
	rows := table(t, got["results.csv"])
	if rows[0]["value_is"] != "estimated" || rows[1]["value_is"] != "converted" || rows[2]["value_is"] != "" || rows[2]["missing"] != "none-printed" {
		t.Errorf("%v", rows)
	}
}

func BenchmarkWrite1000Reports(b *testing.B) {
	dir := b.TempDir()
	for b.Loop() {
		sum, err := dataset.Write(dir, func(yield func(*normalize.Report) error) error {
			for i := range 1000 {
				if err := yield(report(i)); err != nil {
					return err
				}
			}
			return nil
		}, bare)
		if err != nil || sum.Rows != 6000 {
			b.Fatal(sum.Rows, err)
		}
	}
}
