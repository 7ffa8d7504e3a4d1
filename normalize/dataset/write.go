package dataset

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// Files are the files of a dataset. They are put in place in this order, so that a
// table is never newer than the book and the descriptor that explain it; both
// carry the tables' SHA-256.
var Files = []string{"columns.csv", "columns-estimates.csv", "columns-derived.csv", "codebook.json", "codebook.html", "codebook.md", "disclosure.html", "disclosure.md", PackageFile,
	"wide.xlsx", "wide.parquet", "wide.csv", "derived.parquet", "derived.csv", "estimates.parquet", "estimates.csv", "results.parquet", "results.csv"}

// Extras are the files that a dataset has only if the options ask for them, or
// if what they hold is not too much for them.
var Extras = []string{MapFile, ProvenanceFile, CrateFile, ResultsBook}

// MinKey is the least length of a key in bytes. Sample numbers are easily
// guessed, so that everything rests on the key.
const MinKey = 16

// Options say how a dataset is made.
type Options struct {
	Key     []byte // the office's secret, at least MinKey bytes; the same key gives the same codes
	Title   string
	Office  string
	Licence string // under what terms it may be used; a line that tells to ask the office when empty
	Version string // of Windrow
	// MinGroup is k: the samples that the tables show alike are of at least as
	// many clients. 0 stands for DefaultGroup, and fewer than that need a
	// Decision.
	MinGroup int
	// Decision says who decided, and why, that groups may be smaller than
	// DefaultGroup; it is in the disclosure report.
	Decision *Decision
	// Keep, where set, says which samples of the archive the dataset is of, such
	// as those of a county. It is called more than once for a sample, and must say the same each time.
	Keep func(*normalize.Report, *normalize.Record) bool
	// Previous, where set, is the folder of a dataset that was given out before:
	// what the two tell together is in the disclosure report.
	Previous string
	// Outlines, where set, are those of counties, as GeoJSON: the dataset has a
	// map of them then.
	Outlines []byte
	// Provenance asks for an account of where the files come from, and Published
	// is the day that it tells, YYYY-MM-DD.
	Provenance bool
	Published  string
	Memory     int // bytes of rows to hold in memory, 64 MiB when 0; more are sorted on disk
}

// OfCounty keeps the samples of a county, in capital or small letters, for
// [Options].Keep. A sample whose county is not known is of none.
func OfCounty(name string) func(*normalize.Report, *normalize.Record) bool {
	return func(_ *normalize.Report, rec *normalize.Record) bool {
		return strings.EqualFold(rec.Sample.County, name)
	}
}

// A Summary says what a dataset holds and what was left out of it.
type Summary struct {
	Rows            int            `json:"rows"`
	Samples         int            `json:"samples"`
	Reports         int            `json:"reports"`      // that gave rows
	HeldReports     int            `json:"held_reports"` // left out whole
	HeldRecords     int            `json:"held_records"` // left out of reports that are not held
	HeldResults     int            `json:"held_results"` // left out of records that are not held
	Restated        int            `json:"restated"`     // results left out, since their report says the same of the sample in another unit or basis
	Copies          int            `json:"copies"`       // samples left out, since another report says the same of them
	Below           int            `json:"below"`        // samples left out, since their layer begins below the surface
	Disclosure      Disclosure     `json:"disclosure"`   // what was withheld so that nobody is known again
	ValueIs         map[string]int `json:"value_is"`     // rows by value_is, "" for those without a value
	Missing         map[string]int `json:"missing"`      // rows without a value, by why
	Censored        map[string]int `json:"censored"`     // rows with < or >
	Status          map[string]int `json:"status"`
	Analytes        []Tally        `json:"analytes"`
	Labs            map[string]int `json:"labs"`             // rows by laboratory, as published
	Software        []string       `json:"software"`         // the versions that read the reports
	Tables          []string       `json:"tables"`           // the hashes of the unit and method tables used
	Mappings        []string       `json:"mappings"`         // mapping, layout and hash, of the laboratories that are named
	Sources         []string       `json:"sources"`          // keys of the sources that conversions name
	Estimates       int            `json:"estimates"`        // rows of estimates.csv
	EstimatesSHA256 string         `json:"estimates_sha256"` // of estimates.csv
	Derived         int            `json:"derived"`          // rows of derived.csv
	DerivedSHA256   string         `json:"derived_sha256"`   // of derived.csv
	SHA256          string         `json:"sha256"`           // of results.csv
	Wide            int            `json:"wide"`             // rows of wide.csv
	WideSHA256      string         `json:"wide_sha256"`      // of wide.csv
	KeyMark         string         `json:"key_mark"`         // two datasets with the same mark were made with the same key, so that their codes agree
	Dir             string         `json:"-"`
}

// A Tally counts the rows of one analyte by one method in one unit.
type Tally struct {
	Analyte    string `json:"analyte"`
	Detail     string `json:"detail"`
	Method     string `json:"method"`
	MethodName string `json:"method_name"`
	Unit       string `json:"unit"`
	UCUM       string `json:"ucum"`
	Rows       int    `json:"rows"`
}

// Write makes a dataset in a folder, which it makes if need be, of the
// reports that each yields, and yields again whenever it is called again; yield
// keeps nothing of a report. The samples that the tables show alike are of at
// least MinGroup clients. The same reports, in whatever order, key and options
// give the same bytes. If anything fails,
// files of an earlier dataset in the folder stay as they were. The error is
// an *[ingest.Reason], or holds one, or is that of each.
func Write(dir string, each func(yield func(*normalize.Report) error) error, opt Options) (Summary, error) {
	if err := keyed(opt); err != nil {
		return Summary{}, err
	}
	if err := decided(&opt); err != nil {
		return Summary{}, err
	}
	if opt.Memory <= 0 {
		opt.Memory = 64 << 20
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return Summary{}, fault(dir, err)
	}
	tmp, err := os.MkdirTemp(dir, tempPrefix)
	if err != nil {
		return Summary{}, fault(dir, err)
	}
	defer func() { _ = os.RemoveAll(tmp) }()
	sweep(dir, tmp)

	sum, err := compile(tmp, each, opt)
	if err != nil {
		var whole *passedOn
		if errors.As(err, &whole) {
			return Summary{}, whole.error
		}
		return Summary{}, fault(dir, err)
	}
	for _, name := range Extras {
		err := os.Rename(filepath.Join(tmp, name), filepath.Join(dir, name))
		if errors.Is(err, os.ErrNotExist) {
			err = os.Remove(filepath.Join(dir, name)) // of an earlier dataset
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return Summary{}, fault(dir, err)
		}
	}
	for _, name := range Files {
		if err := os.Rename(filepath.Join(tmp, name), filepath.Join(dir, name)); err != nil {
			return Summary{}, fault(dir, err)
		}
	}
	sum.Dir = dir
	return sum, nil
}

// keyed refuses a key that hides nothing.
func keyed(opt Options) error {
	if len(opt.Key) >= MinKey {
		return nil
	}
	return &ingest.Reason{Code: "dataset-key", Severity: ingest.Fail,
		What:     "a dataset can't be made without the office's secret key, since sample numbers could be guessed",
		Expected: "at least 16 bytes", Found: pluralBytes(len(opt.Key)),
		Next: "set the key in the office's settings; keep it secret, and keep it the same so that codes agree from one dataset to the next"}
}

const tempPrefix = ".writing-"

// sweep removes what runs that were killed left behind: temporary folders a
// day older than the one just made. Failing to is no failure of this run.
func sweep(dir, tmp string) {
	now, err := os.Stat(tmp)
	if err != nil {
		return
	}
	es, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range es {
		if i, err := e.Info(); err == nil && e.IsDir() && strings.HasPrefix(e.Name(), tempPrefix) && now.ModTime().Sub(i.ModTime()) > 24*time.Hour {
			_ = os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}

type reasonError struct {
	reason *ingest.Reason
	cause  error
}

func (e *reasonError) Error() string   { return e.reason.Error() }
func (e *reasonError) Unwrap() []error { return []error{e.reason, e.cause} }

func fault(dir string, err error) error {
	return &reasonError{&ingest.Reason{Code: "dataset-failed", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(dir)},
		What: "the dataset could not be written", Found: err.Error(),
		Next: "an earlier dataset in the folder is as it was; check room and rights of the folder, then try again"}, err}
}

// writeFile writes a new file and puts it on the disk.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	err = write(w)
	if err == nil {
		err = w.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	if c := f.Close(); err == nil {
		err = c
	}
	return err
}

// writeBooks writes the codebook in its forms.
func writeBooks(dir string, sum Summary, wide wideLayout, opt Options) error {
	columnsCSV := func(cs []Column) []byte {
		var b bytes.Buffer
		cw := csv.NewWriter(&b)
		_ = cw.Write([]string{"name", "type", "group", "about"}) // a buffer takes everything
		for _, c := range cs {
			_ = cw.Write([]string{c.Name, c.Type, c.Group, c.About})
		}
		cw.Flush()
		return b.Bytes()
	}

	js, err := encode(bookOf(sum, wide, opt), "  ")
	if err != nil {
		return err
	}
	people := codebookPage(sum, wide, opt)
	for name, b := range map[string][]byte{"columns.csv": columnsCSV(columns[:]), "columns-estimates.csv": columnsCSV(estimateColumns[:]), "columns-derived.csv": columnsCSV(derivedColumns[:]), "codebook.json": js, "codebook.md": people.markdown(), "codebook.html": people.html()} {
		if err := writeFile(filepath.Join(dir, name), func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
			return err
		}
	}
	return nil
}
