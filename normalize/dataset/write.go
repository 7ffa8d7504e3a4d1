package dataset

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// Files are the files of a dataset. They are put in place in this order, so that a
// table is never newer than the book and the descriptor that explain it; both
// carry the tables' SHA-256.
var Files = []string{"columns.csv", "columns-estimates.csv", "columns-derived.csv", "codebook.json", "codebook.md", PackageFile, "derived.csv", "estimates.csv", "results.csv"}

// MinKey is the least length of a key in bytes. Sample numbers are easily
// guessed, so that everything rests on the key.
const MinKey = 16

// Options say how a dataset is made.
type Options struct {
	Key      []byte // the office's secret, at least MinKey bytes; the same key gives the same codes
	Title    string
	Office   string
	Licence  string // under what terms it may be used; a line that tells to ask the office when empty
	Version  string // of Windrow
	MinGroup int    // county is suppressed where fewer samples share county, land use and month; 0 and 1 suppress nothing
	Memory   int    // bytes of rows to hold in memory, 64 MiB when 0; more are sorted on disk
}

// A Summary says what a dataset holds and what was left out of it.
type Summary struct {
	Rows             int            `json:"rows"`
	Samples          int            `json:"samples"`
	Reports          int            `json:"reports"`           // that gave rows
	HeldReports      int            `json:"held_reports"`      // left out whole
	HeldRecords      int            `json:"held_records"`      // left out of reports that are not held
	HeldResults      int            `json:"held_results"`      // left out of records that are not held
	Restated         int            `json:"restated"`          // results left out, since their report says the same of the sample in another unit or basis
	Copies           int            `json:"copies"`            // samples left out, since another report says the same of them
	SuppressedCounty int            `json:"suppressed_county"` // samples whose county is suppressed
	ValueIs          map[string]int `json:"value_is"`          // rows by value_is, "" for those without a value
	Missing          map[string]int `json:"missing"`           // rows without a value, by why
	Censored         map[string]int `json:"censored"`          // rows with < or >
	Status           map[string]int `json:"status"`
	Analytes         []Tally        `json:"analytes"`
	Labs             map[string]int `json:"labs"`             // rows by laboratory
	Software         map[string]int `json:"software"`         // reports by the version that read them
	Tables           map[string]int `json:"tables"`           // reports by the hash of the unit and method tables used
	Mappings         map[string]int `json:"mappings"`         // reports by mapping, layout and hash
	Sources          []string       `json:"sources"`          // keys of the sources that conversions name
	Estimates        int            `json:"estimates"`        // rows of estimates.csv
	EstimatesSHA256  string         `json:"estimates_sha256"` // of estimates.csv
	Derived          int            `json:"derived"`          // rows of derived.csv
	DerivedSHA256    string         `json:"derived_sha256"`   // of derived.csv
	SHA256           string         `json:"sha256"`           // of results.csv
	KeyMark          string         `json:"key_mark"`         // two datasets with the same mark were made with the same key, so that their codes agree
	Dir              string         `json:"-"`
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
// reports that each yields, and yields again when called again; yield keeps nothing of a report. The same reports,
// in whatever order, key and options give the same bytes. If anything fails,
// files of an earlier dataset in the folder stay as they were. The error is
// an *[ingest.Reason], or holds one, or is that of each.
func Write(dir string, each func(yield func(*normalize.Report) error) error, opt Options) (Summary, error) {
	if len(opt.Key) < MinKey {
		return Summary{}, &ingest.Reason{Code: "dataset-key", Severity: ingest.Fail,
			What:     "a dataset can't be made without the office's secret key, since sample numbers could be guessed",
			Expected: "at least 16 bytes", Found: pluralBytes(len(opt.Key)),
			Next: "set the key in the office's settings; keep it secret, and keep it the same so that codes agree from one dataset to the next"}
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

	c := newCounter(opt)
	s := &sorter{dir: tmp, limit: opt.Memory, name: "results-", width: int(numColumns)}
	est := &sorter{dir: tmp, limit: opt.Memory, name: "estimates-", width: len(estimateColumns)}
	der := &sorter{dir: tmp, limit: opt.Memory, name: "derived-", width: len(derivedColumns)}
	var failed error // ours, which each may wrap or swallow
	err = each(func(rep *normalize.Report) error {
		if rep != nil {
			c.copies.note(rep)
		}
		return nil
	})
	if err != nil {
		return Summary{}, err
	}
	err = each(func(rep *normalize.Report) error {
		if failed == nil {
			failed = c.take(rep, s.add, est.add, der.add)
		}
		return failed
	})
	if failed != nil {
		return Summary{}, fault(dir, failed)
	}
	if err != nil {
		return Summary{}, err
	}
	sum, err := c.finish(filepath.Join(tmp, "results.csv"), s)
	if err != nil {
		return Summary{}, fault(dir, err)
	}
	if sum.Estimates, sum.EstimatesSHA256, err = beside(filepath.Join(tmp, "estimates.csv"), estimateColumns[:], est); err != nil {
		return Summary{}, fault(dir, err)
	}
	if sum.Derived, sum.DerivedSHA256, err = beside(filepath.Join(tmp, "derived.csv"), derivedColumns[:], der); err != nil {
		return Summary{}, fault(dir, err)
	}
	if err := errors.Join(writeBooks(tmp, sum, opt), writePackage(tmp, sum, opt)); err != nil {
		return Summary{}, fault(dir, err)
	}
	for _, name := range Files {
		if err := os.Rename(filepath.Join(tmp, name), filepath.Join(dir, name)); err != nil {
			return Summary{}, fault(dir, err)
		}
	}
	sum.Dir = dir
	return sum, nil
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

// A counter turns reports into rows and counts them.
type counter struct {
	opt     Options
	sum     Summary
	groups  map[[3]string]map[string]bool // county, land use, month: samples
	reports map[string]bool
	sources map[string]bool
	copies  copies
}

func newCounter(opt Options) *counter {
	return &counter{opt: opt, groups: map[[3]string]map[string]bool{}, reports: map[string]bool{}, sources: map[string]bool{}, copies: copies{},
		sum: Summary{ValueIs: map[string]int{}, Missing: map[string]int{}, Censored: map[string]int{}, Status: map[string]int{}, Labs: map[string]int{},
			Software: map[string]int{}, Tables: map[string]int{}, Mappings: map[string]int{}, KeyMark: pseudonym(opt.Key, "key mark")[:8]}}
}

func groupOf(f []string) [3]string {
	return [3]string{f[colCounty], f[colLandUse], f[colMonth]}
}

// take adds the rows of a report.
func (c *counter) take(rep *normalize.Report, add, addEstimate, addDerived func(row) error) error {
	if rep == nil {
		return errors.New("there is no report where one was announced")
	}
	if c.reports[rep.ID] {
		return errors.New("report " + rep.ID + " came twice")
	}
	c.reports[rep.ID] = true
	if !used(rep.Status) {
		c.sum.HeldReports++
		return nil
	}
	rows := 0
	for _, rec := range rep.Records {
		if !used(rec.Status) {
			c.sum.HeldRecords++
			continue
		}
		if c.copies.copy(rep, rec) {
			c.sum.Copies++
			continue
		}
		var last *row
		for i, res := range rec.Results {
			if !used(res.Status) {
				c.sum.HeldResults++
				continue
			}
			if res.Restates {
				c.sum.Restated++
				continue
			}
			r := makeRow(c.opt.Key, rep, rec, i, res)
			if err := add(r); err != nil {
				return err
			}
			last = &r
			for _, e := range estimateRows(r, i, res) {
				if err := addEstimate(e); err != nil {
					return err
				}
				c.sources[e.fields[estSource]] = true
			}
			g := groupOf(r.fields)
			if c.groups[g] == nil {
				c.groups[g] = map[string]bool{}
			}
			c.groups[g][r.fields[colSample]] = true
			for _, s := range res.Steps {
				c.sources[s.Source] = true
			}
			rows++
		}
		if last == nil {
			continue // nothing of the sample is in the dataset
		}
		for _, d := range derivedRows(*last, rec) {
			if err := addDerived(d); err != nil {
				return err
			}
			c.sources[d.fields[derSource]] = true
		}
	}
	if rows > 0 {
		c.sum.Reports++
		c.sum.Software[rep.Version]++
		c.sum.Tables[rep.Tables]++
		c.sum.Mappings[rep.Mapping.ID+" / "+rep.Mapping.Layout+" / sha256 "+rep.Mapping.SHA256]++
	}
	return nil
}

// Suppressed stands in place of a county that too few samples share.
const Suppressed = "suppressed"

// finish writes the table and ends the count.
func (c *counter) finish(path string, s *sorter) (Summary, error) {
	hash := sha256.New()
	err := writeFile(path, func(w io.Writer) error {
		cw := csv.NewWriter(io.MultiWriter(w, hash))
		head := make([]string, numColumns)
		for i, col := range columns {
			head[i] = col.Name
		}
		if err := cw.Write(head); err != nil {
			return err
		}
		last, lastHidden := "", ""
		tallies := map[Tally]int{}
		err := s.each(func(r row) error {
			f := r.fields
			if f[colCounty] != "" && len(c.groups[groupOf(f)]) < c.opt.MinGroup {
				f[colCounty] = Suppressed
				if f[colSample] != lastHidden {
					c.sum.SuppressedCounty++
					lastHidden = f[colSample]
				}
			}
			c.sum.Rows++
			if f[colSample] != last {
				c.sum.Samples++
				last = f[colSample]
			}
			c.sum.ValueIs[f[colValueIs]]++
			c.sum.Status[f[colStatus]]++
			c.sum.Labs[f[colLab]]++
			if f[colMissing] != "" {
				c.sum.Missing[f[colMissing]]++
			}
			if f[colCensored] != "" {
				c.sum.Censored[f[colCensored]]++
			}
			tallies[Tally{f[colAnalyte], f[colDetail], f[colMethod], f[colMethodName], f[colUnit], f[colUCUM], 0}]++
			return cw.Write(f)
		})
		if err != nil {
			return err
		}
		for t, n := range tallies {
			t.Rows = n
			c.sum.Analytes = append(c.sum.Analytes, t)
		}
		slices.SortFunc(c.sum.Analytes, func(x, y Tally) int {
			return slices.Compare([]string{x.Analyte, x.Detail, x.Method, x.MethodName, x.Unit, x.UCUM}, []string{y.Analyte, y.Detail, y.Method, y.MethodName, y.Unit, y.UCUM})
		})
		cw.Flush()
		return cw.Error()
	})
	c.sum.SHA256 = hex.EncodeToString(hash.Sum(nil))
	c.sum.Sources = slices.Sorted(maps.Keys(c.sources))
	return c.sum, err
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

// writeBooks writes the codebook in its three forms.
func writeBooks(dir string, sum Summary, opt Options) error {
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

	var js bytes.Buffer
	e := json.NewEncoder(&js)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(bookOf(sum, opt)); err != nil {
		return err
	}
	for name, b := range map[string][]byte{"columns.csv": columnsCSV(columns[:]), "columns-estimates.csv": columnsCSV(estimateColumns[:]), "columns-derived.csv": columnsCSV(derivedColumns[:]), "codebook.json": js.Bytes(), "codebook.md": codebook(sum, opt)} {
		if err := writeFile(filepath.Join(dir, name), func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
			return err
		}
	}
	return nil
}
