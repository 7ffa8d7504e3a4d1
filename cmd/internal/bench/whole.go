package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/sheet"
	"example.org/windrow/normalize"
)

// office makes a new office in the temporary folder.
func (b *bench) office() (string, error) {
	dir, err := os.MkdirTemp(b.dir, "office-")
	if err != nil {
		return "", err
	}
	if err := os.Mkdir(filepath.Join(dir, "inbox"), 0o750); err != nil {
		return "", err
	}
	return dir, os.WriteFile(filepath.Join(dir, config.FileName), config.Template(), 0o640)
}

// runInto is the way of windrow run, into an office that is new each time. The
// earlier ones stay until the end: a file system that has just deleted their
// files takes longer to make new ones.
func (b *bench) runInto(path string) way {
	dir := ""
	return way{
		prepare: func() (err error) {
			dir, err = b.office()
			return err
		},
		work: func() error {
			return b.program(b.windrow, "run", "--quiet", "--workers", strconv.Itoa(b.workers), "--office", dir, path)
		}}
}

func (b *bench) showResults(path string) way {
	return way{work: func() error {
		return b.program(b.windrow, "show", "results", "--workers", strconv.Itoa(b.workers), path)
	}}
}

// beside measures ways of ours and, where poppler is there, pdftotext on the
// same files.
func (b *bench) beside(files []string, ours ...way) (mine []time.Duration, theirs time.Duration, note string, err error) {
	ways := ours
	p := b.pdftotext(files)
	if p != nil {
		ways = append(ways, *p)
	} else {
		note = noPoppler
	}
	d, err := b.best(ways...)
	if err != nil {
		return nil, 0, "", err
	}
	if p != nil {
		theirs = d[len(ours)]
	}
	return d[:len(ours)], theirs, note, nil
}

func orNote(note, otherwise string) string {
	if note != "" {
		return note
	}
	return otherwise
}

// Why rows miss their bars.
const (
	twice = "every number is read a second time, by an engine of another make, since no single reading is trusted"
	rows  = "of each number are kept its place, unit, method, steps and what the checks found, and it comes from a process that is set apart"
)

// letters measures one-page PDFs with text.
func (b *bench) letters() error {
	dir := filepath.Join(b.dir, "letters")
	files, err := copies(dir, filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), b.sizes.letters)
	if err != nil {
		return err
	}
	ways := []way{b.runInto(dir), b.showResults(dir)}
	python, noPython := b.pdfminer(files)
	if noPython == "" {
		ways = append(ways, python)
	}
	d, theirs, note, err := b.beside(files, ways...)
	if err != nil {
		return err
	}
	b.table.compare(fmt.Sprintf("%d one-page PDFs, run", len(files)), d[0], theirs, 1, 2, orNote(note, fmt.Sprintf("copies of eight letters: read, archived, indexed, advised, letters written; pdftotext -bbox a file, %d at once", b.workers))).orElse(twice + "; and each report is archived, indexed and answered with a letter, all of which is on the disk when the run ends")
	b.table.compare(fmt.Sprintf("%d one-page PDFs, show results", len(files)), d[1], theirs, 1, 2, orNote(note, "the same files into one table, nothing kept")).orElse(twice)
	if noPython != "" {
		b.table.add(row{name: fmt.Sprintf("%d one-page PDFs, run, beside pdfminer", len(files)), ours: "-", theirs: "-", note: noPython})
		return nil
	}
	b.table.compare(fmt.Sprintf("%d one-page PDFs, run, beside pdfminer", len(files)), d[0], d[2], 1, 2, fmt.Sprintf("Python's pdfminer, extract_pages of each file, %d processes that start once", b.workers)).orElse(twice)
	return nil
}

// wide measures a table of many samples over three pages.
func (b *bench) wide() error {
	const n = 40
	dir := filepath.Join(b.dir, "wide")
	files, err := copies(dir, filepath.Join(b.labs, "oxbow-*", "OT-*-0533.pdf"), n)
	if err != nil {
		return err
	}
	d, theirs, note, err := b.beside(files, b.showResults(dir))
	if err != nil {
		return err
	}
	b.table.compare(fmt.Sprintf("%d PDFs of 3 pages, 20 samples, show results", n), d[0], theirs, 1, 2, orNote(note, "pdftotext -bbox a file")).orElse(twice)
	return nil
}

// load loads the stages as the program does. Close them after use.
func (b *bench) load() (*pipeline.Stages, error) {
	st, reasons := pipeline.Load(pipeline.Want{Limits: ingest.Limits{}.OrDefault(), Workers: b.workers, Version: "bench"})
	if len(reasons) > 0 {
		return nil, reasons[0]
	}
	return st, nil
}

// read leads a source through the stages and refuses a held report: to hold
// is quicker than to read.
func read(ctx context.Context, st *pipeline.Stages, src *ingest.Source) (*normalize.Report, error) {
	reps, err := st.Reports(ctx, src, pipeline.Defaults{})
	if err != nil {
		return nil, err
	}
	if reps[0].Status == normalize.Held {
		return nil, fmt.Errorf("%s is held, so its time says nothing: %w", src.Name, reps[0].Reasons[0])
	}
	return reps[0], nil
}

// toJSON is the way from a file to its record as JSON, in this process.
func (b *bench) toJSON(st *pipeline.Stages, src *ingest.Source) way {
	return way{work: func() error {
		rep, err := read(b.ctx, st, src)
		if err != nil {
			return err
		}
		return rep.WriteJSON(io.Discard) // as the archive takes it, a record at a time
	}}
}

// delimited measures a long list.
func (b *bench) delimited() error {
	at := filepath.Join(b.dir, "long.csv")
	if err := longList(at, b.sizes.csvSamples); err != nil {
		return err
	}
	n := b.sizes.csvSamples * len(determinands)
	data, err := os.ReadFile(at)
	if err != nil {
		return err
	}
	st, err := b.load()
	if err != nil {
		return err
	}
	defer func() { _ = st.Close() }() // its children end with this process
	src := ingest.NewSource("long.csv", data)
	plain := way{work: func() error { return csvToJSON(data, io.Discard) }}
	d, err := b.best(b.toJSON(st, src), plain, b.showResults(at))
	if err != nil {
		return err
	}
	b.table.compare(fmt.Sprintf("CSV, %d rows, to records as JSON", n), d[0], d[1], 3, 6, "every row becomes a result with place, lineage and checks; encoding/csv and encoding/json of the same rows").orElse(rows)
	b.table.compare(fmt.Sprintf("CSV, %d rows, show results", n), d[2], d[1], 3, 6, "the whole program, with its start; the same").orElse(rows + "; the start of the program, which loads all mappings, is in it")
	return nil
}

// csvToJSON is what one would write by hand: each row as an object of its
// headings.
func csvToJSON(data []byte, w io.Writer) error {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	head, err := r.Read()
	if err != nil {
		return err
	}
	var rows []map[string]string
	for {
		f, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		m := make(map[string]string, len(head))
		for i, h := range head {
			m[h] = f[i]
		}
		rows = append(rows, m)
	}
	return json.NewEncoder(w).Encode(rows)
}

// workbook measures a large survey.
func (b *bench) workbook() error {
	at := filepath.Join(b.dir, "survey.xlsx")
	if err := survey(at, b.sizes.sheetRows); err != nil {
		return err
	}
	data, err := os.ReadFile(at)
	if err != nil {
		return err
	}
	st, err := b.load()
	if err != nil {
		return err
	}
	defer func() { _ = st.Close() }() // its children end with this process
	src := ingest.NewSource("survey.xlsx", data)
	reader := way{work: func() error {
		_, err := sheet.New().Read(b.ctx, src, ingest.Limits{})
		return err
	}}
	whole := way{work: func() error {
		_, err := read(b.ctx, st, src)
		return err
	}}
	d, err := b.best(reader, whole, b.toJSON(st, src), way{work: func() error { return excelizeRows(data) }})
	if err != nil {
		return err
	}
	name := fmt.Sprintf("workbook, %d rows of 17, ", b.sizes.sheetRows)
	b.table.compare(name+"reader alone", d[0], d[3], 1.3, 2, "values, shown texts, formats, hidden and merged cells; excelize Rows() alone")
	b.table.compare(name+"to records", d[1], d[3], 0, 2, "reader in its own process, mapping, normalising, checks").orElse(rows)
	b.table.compare(name+"to records as JSON", d[2], d[3], 0, 2, "the same, and written").orElse(rows)
	return nil
}

// excelizeRows is the shortest way to every cell of a workbook with excelize.
func excelizeRows(data []byte) error {
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		return err
	}
	for _, s := range f.GetSheetList() {
		rows, err := f.Rows(s)
		if err != nil {
			return err
		}
		for rows.Next() {
			if _, err := rows.Columns(); err != nil {
				return err
			}
		}
		if err := rows.Close(); err != nil {
			return err
		}
	}
	return f.Close()
}
