package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// stages measures each stage on one-page PDFs, beside one run of pdftotext
// on one of them.
func (b *bench) stages() error {
	const n = 40
	files, err := copies(filepath.Join(b.dir, "stages"), filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), n)
	if err != nil {
		return err
	}
	st, err := b.load()
	if err != nil {
		return err
	}
	defer func() { _ = st.Close() }() // its children end with this process
	var srcs []*ingest.Source
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		srcs = append(srcs, ingest.NewSource(filepath.Base(f), data))
	}
	docs := make([][]*ingest.Document, n)
	reps := make([]*normalize.Report, n)
	// forEach is a stage on all the files, one after the other.
	forEach := func(work func(i int) error) way {
		return way{work: func() error {
			for i := range n {
				if err := work(i); err != nil {
					return err
				}
			}
			return nil
		}}
	}
	ways := []way{
		forEach(func(i int) error {
			d, err := pdf.New().Read(b.ctx, srcs[i], st.Limits)
			docs[i] = []*ingest.Document{d}
			return err
		}),
		forEach(func(i int) error { // as above, and recognised, mapped and normalised
			var err error
			reps[i], err = read(b.ctx, st, srcs[i])
			return err
		}),
		forEach(func(i int) error {
			m, r := st.Mappings().Recognise(docs[i])
			if r != nil {
				return r
			}
			m.Read()
			return nil
		}),
		forEach(func(i int) error {
			m, r := st.Mappings().Recognise(docs[i])
			if r != nil {
				return r
			}
			normalize.Build(m.Read(), normalize.Options{})
			return nil
		}),
		forEach(func(i int) error {
			_, err := reps[i].JSON()
			return err
		}),
		forEach(func(i int) error {
			for _, rec := range reps[i].Records {
				st.Advise(reps[i], rec, interpret.Ask{On: "2026-06-01"})
			}
			return nil
		}),
	}
	one := *b
	one.workers = 1
	d, theirs, note, err := one.beside(files, ways...)
	if err != nil {
		return err
	}
	per := func(d time.Duration) time.Duration { return d / n }
	beside := orNote(note, "beside pdftotext -bbox, one at a time")
	b.table.compare("a one-page PDF: page to words", per(d[0]), per(theirs), 1, 2, beside)
	b.table.compare("a one-page PDF: words to readings", per(d[2]), per(theirs), 1, 2, "recognised among all mappings, and mapped; the same")
	b.table.compare("a one-page PDF: readings to record", per(d[3]-d[2]), per(theirs), 1, 2, "normalised and checked; the same")
	b.table.compare("a one-page PDF: record to JSON", per(d[4]), per(theirs), 1, 2, "the same")
	b.table.compare("a one-page PDF: advice", per(d[5]), per(theirs), 1, 2, "the same")
	b.table.compare("a one-page PDF: file to record", per(d[1]), per(theirs), 1, 2, "all of these, in processes set apart, and every number read again by the second engine; the same").orElse(twice)
	if rest := d[1] - d[0] - d[3]; rest > 0 {
		b.table.compare("a one-page PDF: second engine", per(rest), per(theirs), 1, 2, "what is left of file to record without the stages above: the second engine, and the way there and back; the same")
	}
	return nil
}

// reports are the reports of varied letters, with the bytes they came from.
func (b *bench) reports(n int) ([]*normalize.Report, [][]byte, error) {
	files, err := copies(filepath.Join(b.dir, "reports"), filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), n)
	if err != nil {
		return nil, nil, err
	}
	st, err := b.load()
	if err != nil {
		return nil, nil, err
	}
	defer func() { _ = st.Close() }() // its children end with this process
	var reps []*normalize.Report
	var originals [][]byte
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			return nil, nil, err
		}
		rep, err := read(b.ctx, st, ingest.NewSource(filepath.Base(f), data))
		if err != nil {
			return nil, nil, err
		}
		reps = append(reps, rep)
		originals = append(originals, data)
	}
	return reps, originals, nil
}

// textsOf are reports as the archive keeps them.
func textsOf(reps []*normalize.Report) (texts [][]byte, err error) {
	for _, r := range reps {
		t, err := r.JSON()
		if err != nil {
			return nil, err
		}
		texts = append(texts, t)
	}
	return texts, nil
}

// archive measures keeping reports, beside writing the same bytes to files
// as safely.
func (b *bench) archive() error {
	reps, originals, err := b.reports(b.sizes.reports)
	if err != nil {
		return err
	}
	texts, err := textsOf(reps)
	if err != nil {
		return err
	}
	dir := ""
	fresh := func() (err error) {
		dir, err = os.MkdirTemp(b.dir, "archive-")
		return err
	}
	put := func(withIndex bool) func() error {
		return func() error {
			a, err := archive.Open(filepath.Join(dir, "archive"))
			if err != nil {
				return err
			}
			var ix *index.Index
			if withIndex {
				if ix, err = index.Open(b.ctx, filepath.Join(dir, "index.sqlite")); err != nil {
					return err
				}
			}
			for i := range reps {
				if _, err := a.PutOriginal(originals[i]); err != nil {
					return err
				}
				v, _, err := a.PutReport(reps[i].ID, texts[i])
				if err != nil {
					return err
				}
				if withIndex {
					if err := ix.AddReport(b.ctx, reps[i].ID, v, texts[i]); err != nil {
						return err
					}
				}
			}
			if withIndex {
				return ix.Close()
			}
			return nil
		}
	}
	plain := func() error {
		for i := range reps {
			for _, x := range [...]struct {
				name string
				b    []byte
			}{{"original", originals[i]}, {"report", texts[i]}} {
				if err := writeSafely(filepath.Join(dir, fmt.Sprintf("%s-%d", x.name, i)), x.b); err != nil {
					return err
				}
			}
		}
		return nil
	}
	d, err := b.best(way{fresh, put(false)}, way{fresh, put(true)}, way{fresh, plain})
	if err != nil {
		return err
	}
	n := time.Duration(len(reps))
	b.table.compare("archive: put a report and its original", d[0]/n, d[2]/n, 1, 2, "two plain files of the same bytes, each synced and renamed into place").orElse("each file has one with its checksum beside it, and the folders are synced, too")
	b.table.compare("archive: put and index", d[1]/n, d[2]/n, 1, 2, "a transaction of the index for each report; the same").orElse("as above, and a report and its results, samples and reasons are rows of six tables, on the disk before the next")
	return nil
}

// writeSafely writes a file so that it is there whole or not at all.
func writeSafely(at string, data []byte) error {
	f, err := os.Create(at + ".part")
	if err != nil {
		return err
	}
	if _, err := f.Write(data); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(at+".part", at)
}

// startUp measures how long the program takes to say something.
func (b *bench) startUp() error {
	times := 20
	again := func(name string, args ...string) way {
		return way{work: func() error {
			for range times {
				if err := b.program(name, args...); err != nil {
					return err
				}
			}
			return nil
		}}
	}
	files, err := copies(filepath.Join(b.dir, "one"), filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), 1)
	if err != nil {
		return err
	}
	ways := []way{again(b.windrow, "version"), again(b.windrow, "show", "results", files[0])}
	note := noPoppler
	if b.pdftotext(nil) != nil {
		note = "pdftotext -v"
		ways = append(ways, again("pdftotext", "-v"), again("pdftotext", "-bbox", files[0], os.DevNull))
	}
	d, err := b.best(append(ways, way{work: func() error { return nil }}, way{work: func() error { return nil }})[:4]...)
	if err != nil {
		return err
	}
	n := time.Duration(times)
	var version, one time.Duration
	note2 := note
	if len(ways) == 4 {
		version, one, note2 = d[2]/n, d[3]/n, "cold: start, mappings, rules, parser; pdftotext -bbox of the same file"
	}
	b.table.compare("start-up: version", d[0]/n, version, 1, 2, note).orElse("one program does everything: tables, patterns and drivers of all its commands are made ready before it knows which is wanted")
	b.table.compare("start-up: show results of one page", d[1]/n, one, 1, 2, note2).orElse("all mappings and rules are read and checked, and a process set apart starts the program again and loads the second engine; once for all files of a run")
	return nil
}

// memory measures the highest mark of each whole run.
func (b *bench) memory() error {
	const bound = 400 // MiB
	in := func(name string) string { return filepath.Join(b.dir, "memory-"+name) }
	if _, err := copies(in("letters"), filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), b.sizes.letters); err != nil {
		return err
	}
	if err := longList(in("2000.csv"), 2000); err != nil {
		return err
	}
	if err := longList(in("long.csv"), b.sizes.csvSamples); err != nil {
		return err
	}
	if err := survey(in("survey.xlsx"), b.sizes.sheetRows); err != nil {
		return err
	}
	for _, x := range [...]struct {
		name, path, why string
	}{
		{fmt.Sprintf("%d one-page PDFs", b.sizes.letters), in("letters"), "each of the parsers at work holds the second engine: its machine code, its module and its memory"},
		{fmt.Sprintf("CSV, 2000 samples, %d rows", 2000*len(determinands)), in("2000.csv"), ""},
		{fmt.Sprintf("CSV, %d samples, %d rows", b.sizes.csvSamples, b.sizes.csvSamples*len(determinands)), in("long.csv"), "the bound is meant for 2,000 samples; each field keeps its place"},
		{fmt.Sprintf("workbook, %d samples", b.sizes.sheetRows), in("survey.xlsx"), ""},
	} {
		for _, cmd := range [...]string{"run", "show results"} {
			args := []string{"show", "results", "--workers", strconv.Itoa(b.workers), x.path}
			if cmd == "run" {
				dir, err := b.office()
				if err != nil {
					return err
				}
				args = []string{"run", "--quiet", "--workers", strconv.Itoa(b.workers), "--office", dir, x.path}
			}
			mib, each, err := b.peak(b.windrow, args...)
			if errors.Is(err, errors.ErrUnsupported) {
				b.table.add(row{name: "peak memory", ours: "-", theirs: "-", note: "not measured: this system has no /proc"})
				return nil
			}
			if err != nil {
				return err
			}
			b.table.add(row{name: "peak memory: " + x.name + ", " + cmd, ours: fmt.Sprintf("%.0f MiB", mib), theirs: fmt.Sprintf("%d MiB", bound), ratio: mib / bound, bar: 1, why: x.why,
				note: "program and parsers at one time; VmHWM of each: " + strings.Join(each, ", ") + "; theirs is the bound"})
		}
	}
	return nil
}
