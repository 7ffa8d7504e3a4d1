package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/labs"
	"example.org/windrow/normalize"

	"example.org/windrow/ingest/delimited"
	"example.org/windrow/ingest/sheet"
)

// The inputs must be read without fault: the time in which a report is held
// is not the time in which it is read. They must also be the same each time.
func TestInputs(t *testing.T) {
	set, reasons := mappings.LoadFS(labs.FS, normalize.Vocabulary())
	if len(reasons) > 0 {
		t.Fatal(reasons[0])
	}
	for _, x := range []struct {
		name             string
		make             func(at string) error
		reader           func() ingest.Reader
		records, results int
	}{
		{"long.csv", func(at string) error { return longList(at, 40) }, func() ingest.Reader { return delimited.New(ingest.Dialect{Encoding: "utf-8", Delimiter: ","}) }, 40, 40 * len(determinands)},
		{"survey.xlsx", func(at string) error { return survey(at, 100) }, sheet.New, 100, 1100},
	} {
		at := filepath.Join(t.TempDir(), x.name)
		var docs [2]*ingest.Document
		for i := range docs {
			if err := x.make(at); err != nil {
				t.Fatal(err)
			}
			b, err := os.ReadFile(at)
			if err != nil {
				t.Fatal(err)
			}
			if docs[i], err = x.reader().Read(t.Context(), ingest.NewSource(x.name, b), ingest.Limits{}); err != nil {
				t.Fatal(err)
			}
		}
		// The bytes of a workbook may differ, as its members come in any order.
		if !reflect.DeepEqual(docs[0].Pages, docs[1].Pages) {
			t.Errorf("%s does not hold the same twice", x.name)
		}
		doc := docs[0]
		m, r := set.Recognise([]*ingest.Document{doc})
		if r != nil {
			t.Fatal(r)
		}
		rep := normalize.Build(m.Read(), normalize.Options{})
		n := 0
		for _, rec := range rep.Records {
			n += len(rec.Results)
		}
		if rep.Status == normalize.Held || len(rep.Records) != x.records || n != x.results {
			t.Errorf("%s: %s, %d records, %d results; want %d and %d. %v", x.name, rep.Status, len(rep.Records), n, x.records, x.results, rep.Reasons)
		}
	}
}

// What we are compared with must do the work that it is said to do.
func TestCSVToJSON(t *testing.T) {
	at := filepath.Join(t.TempDir(), "long.csv")
	if err := longList(at, 2); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	if err := csvToJSON(data, &out); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(out.String(), `"ReportNo":"MB26-LOAD"`); got != 2*len(determinands) || got != len(rows)-1 {
		t.Errorf("%d rows as JSON of %d", got, len(rows)-1)
	}
}

func TestCopiesDiffer(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a.pdf"), []byte("%PDF-1.7\n%%EOF\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	files, err := copies(filepath.Join(dir, "out"), filepath.Join(dir, "*.pdf"), 3)
	if err != nil || len(files) != 3 {
		t.Fatal(files, err)
	}
	seen := map[string]bool{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		seen[string(b)] = true
	}
	if len(seen) != 3 {
		t.Errorf("%d different files of 3", len(seen))
	}
	if _, err := copies(dir, filepath.Join(dir, "none*"), 1); err == nil {
		t.Error("nothing to copy, and no error")
	}
}

// The table tells what misses its bar, and shows nothing that was not
// measured.
func TestTable(t *testing.T) {
	tb := &table{title: "machine"}
	tb.compare("fast", 90*time.Millisecond, 100*time.Millisecond, 1, 2, "")
	tb.compare("fair", 150*time.Millisecond, 100*time.Millisecond, 1, 2, "")
	tb.compare("slow", 2500*time.Millisecond, time.Second, 1, 2, "so | it is").orElse("that takes long")
	tb.compare("alone", 12*time.Microsecond, 0, 1, 2, noPoppler).orElse("never shown")
	var b strings.Builder
	if err := tb.write(&b); err != nil {
		t.Fatal(err)
	}
	want := `machine

| what  |   ours | theirs | ratio | bar      |              | beside what, and why it misses |
| ----- | -----: | -----: | ----: | -------- | ------------ | ---- |
| fast  |  90 ms | 100 ms |  0.90 | 2, aim 1 | met          |  |
| fair  | 150 ms | 100 ms |  1.50 | 2, aim 1 | met, not aim |  |
| slow  |  2.5 s |    1 s |  2.50 | 2, aim 1 | MISSED       | so \| it is. **Why:** that takes long |
| alone |  12 µs |      - |     - | 2, aim 1 |              | not measured: pdftotext is missing |
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// best takes the shortest of each, in turn, after preparing each run.
func TestBest(t *testing.T) {
	b := &bench{ctx: t.Context(), runs: 3}
	var order []string
	mark := func(s string) func() error {
		return func() error { order = append(order, s); return nil }
	}
	d, err := b.best(way{mark("p"), mark("a")}, way{nil, func() error { time.Sleep(2 * time.Millisecond); return mark("b")() }})
	if err != nil || strings.Join(order, "") != "pabpabpab" {
		t.Errorf("%v %v", order, err)
	}
	if d[0] <= 0 || d[0] >= d[1] || d[1] < 2*time.Millisecond {
		t.Errorf("%v", d)
	}
}
