package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/xuri/excelize/v2"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// anybody decides that the few invented clients of a measurement need no
// protection; else nearly all of them would be left out.
var anybody = dataset.Options{Key: []byte("a key for measuring only"), MinGroup: 1, Decision: &dataset.Decision{By: "the bench", Why: "its few invented clients would all be left out"}}

// A finished table is one that the libraries alone are given to write.
type finished struct {
	name    string
	rows    [][]string // with the heading
	numbers []bool     // by column
	book    bool       // there is a workbook of it
}

// dataset measures the tables, beside the writer libraries alone with the
// finished rows.
func (b *bench) dataset() error {
	reps, _, err := b.reports(min(40, b.sizes.reports))
	if err != nil {
		return err
	}
	times := max(1, b.sizes.reports/4) // each report stands for as many, with other numbers
	each := func(yield func(*normalize.Report) error) error {
		for t := range times {
			for i, r := range reps {
				x := *r
				x.ID = fmt.Sprintf("R%08x%04x", t, i) + r.ID[1:]
				if err := yield(&x); err != nil {
					return err
				}
			}
		}
		return nil
	}
	out := filepath.Join(b.dir, "dataset")
	rows := 0
	ours := way{work: func() error {
		sum, err := dataset.Write(out, each, anybody)
		rows = sum.Rows
		return err
	}}
	if err := ours.work(); err != nil {
		return err
	}
	tables, err := finishedIn(out)
	if err != nil {
		return err
	}
	results := 0
	for _, t := range tables {
		results += len(t.rows) - 1
	}
	parts := ""
	inParts := way{prepare: func() (err error) {
		parts, err = os.MkdirTemp(b.dir, "parts-")
		return err
	}, work: func() error {
		_, err := dataset.Append(dataset.Folder(parts), each, dataset.PartsOptions{Options: anybody, Work: b.dir})
		return err
	}}
	alone := func(write func(t *finished) error) way {
		return way{work: func() error {
			for i := range tables {
				if err := write(&tables[i]); err != nil {
					return err
				}
			}
			return nil
		}}
	}
	d, err := b.best(ours, inParts, alone(b.csvAlone), alone(b.parquetAlone), alone(b.xlsxAlone))
	if err != nil {
		return err
	}
	rate := func(d time.Duration) string { return fmt.Sprintf("%.3gk rows/s", float64(results)/d.Seconds()/1e3) }
	all := d[2] + d[3] + d[4]
	b.table.add(row{name: fmt.Sprintf("dataset, %d results, %d rows in four tables, all forms", rows, results), ours: rate(d[0]), theirs: rate(all), ratio: float64(d[0]) / float64(all), aim: 1, bar: 2,
		note: "coded, grouped, sorted, with codebook and reports; encoding/csv, parquet-go and excelize one after the other, writing the finished rows. Times are compared"}).
		orElse("the records are read three times, to count who is alike before a row is written")
	for i, name := range []string{"encoding/csv", "parquet-go", "excelize"} {
		b.table.add(row{name: "of that the writer alone: " + name, ours: "-", theirs: rate(d[2+i]), note: []string{"four tables", "four tables, Zstandard", "results and samples"}[i]})
	}
	b.table.add(row{name: "dataset in parts, Parquet", ours: rate(d[1]), theirs: rate(d[3]), ratio: float64(d[1]) / float64(d[3]), aim: 1, bar: 2,
		note: "the same reports into an empty folder; parquet-go writing the finished rows, the wide table too"}).
		orElse("the records are read three times, every row goes into a keyed mark, and every file is on the disk before the next")
	return nil
}

// finishedIn reads the tables of a dataset.
func finishedIn(dir string) (out []finished, err error) {
	types := func(cs []dataset.Column) (numbers []bool) {
		for _, c := range cs {
			numbers = append(numbers, c.Type == "number" || c.Type == "integer")
		}
		return numbers
	}
	for _, t := range []finished{{name: "results", numbers: types(dataset.Columns()), book: true}, {name: "estimates", numbers: types(dataset.EstimateColumns())}, {name: "derived", numbers: types(dataset.DerivedColumns())}, {name: "wide", book: true}} {
		f, err := os.Open(filepath.Join(dir, t.name+".csv"))
		if err != nil {
			return nil, err
		}
		t.rows, err = csv.NewReader(f).ReadAll()
		if err := errors.Join(err, f.Close()); err != nil {
			return nil, err
		}
		if t.numbers == nil {
			for _, name := range t.rows[0] {
				t.numbers = append(t.numbers, strings.Contains(name, "__") && !strings.HasSuffix(name, "__limit") && !strings.Contains(name, "__words"))
			}
		}
		out = append(out, t)
	}
	return out, nil
}

func (b *bench) alone(name string, write func(*os.File) error) error {
	f, err := os.Create(filepath.Join(b.dir, name))
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

func (b *bench) csvAlone(t *finished) error {
	return b.alone("plain.csv", func(f *os.File) error { return csv.NewWriter(f).WriteAll(t.rows) })
}

// parquetAlone has the types, encodings and compression that a dataset has.
func (b *bench) parquetAlone(t *finished) error {
	g := parquet.Group{}
	for i, name := range t.rows[0] {
		n := parquet.Encoded(parquet.String(), &parquet.RLEDictionary)
		if t.numbers[i] {
			n = parquet.Leaf(parquet.DoubleType)
		}
		g[name] = parquet.Optional(n)
	}
	schema := parquet.NewSchema(t.name, g)
	at := make([]int, len(t.rows[0]))
	for i, name := range t.rows[0] {
		leaf, _ := schema.Lookup(name)
		at[i] = leaf.ColumnIndex
	}
	return b.alone("plain.parquet", func(f *os.File) error {
		w := parquet.NewGenericWriter[any](f, schema, parquet.Compression(&parquet.Zstd))
		var batch []parquet.Row
		for _, r := range t.rows[1:] {
			row := make(parquet.Row, len(r))
			for i, v := range r {
				switch x, err := strconv.ParseFloat(v, 64); {
				case v == "" || t.numbers[i] && err != nil:
					row[at[i]] = parquet.NullValue().Level(0, 0, at[i])
				case t.numbers[i]:
					row[at[i]] = parquet.DoubleValue(x).Level(0, 1, at[i])
				default:
					row[at[i]] = parquet.ByteArrayValue([]byte(v)).Level(0, 1, at[i])
				}
			}
			if batch = append(batch, row); len(batch) == 256 {
				if _, err := w.WriteRows(batch); err != nil {
					return err
				}
				batch = batch[:0]
			}
		}
		_, err := w.WriteRows(batch)
		return errors.Join(err, w.Close())
	})
}

func (b *bench) xlsxAlone(t *finished) error {
	if !t.book {
		return nil
	}
	book := excelize.NewFile()
	defer func() { _ = book.Close() }() // its temporary files go with the folder
	w, err := book.NewStreamWriter("Sheet1")
	if err != nil {
		return err
	}
	cells := make([]any, len(t.numbers))
	for y, r := range t.rows {
		for i, v := range r {
			cells[i] = v
			if x, err := strconv.ParseFloat(v, 64); t.numbers[i] && err == nil {
				cells[i] = x
			} else if v == "" {
				cells[i] = nil
			}
		}
		if err := w.SetRow("A"+strconv.Itoa(y+1), cells); err != nil {
			return err
		}
	}
	return b.alone("plain.xlsx", func(f *os.File) error { return errors.Join(w.Flush(), book.Write(f)) })
}
