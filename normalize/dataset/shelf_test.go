package dataset_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// A shelf is a Store in memory, which can be stopped at any of its calls that
// change something, before the call or after it.
type shelf struct {
	files map[string][]byte
	left  int  // calls until it stops; none where it is negative
	after bool // the last one is still done
}

var errStopped = errors.New("the power went")

func newShelf() *shelf { return &shelf{files: map[string][]byte{}, left: -1} }

func (s *shelf) stops() (now bool, err error) {
	if s.left < 0 {
		return false, nil
	}
	if s.left--; s.left < 0 {
		s.left = 0
		if s.after {
			s.after = false
			return false, errStopped
		}
		return true, errStopped
	}
	return false, nil
}

func (s *shelf) Name() string { return "shelf" }

func (s *shelf) PutNew(name string, b []byte) error {
	stopped, err := s.stops()
	if stopped {
		return err
	}
	if s.files[name] != nil {
		return &fs.PathError{Op: "put", Path: name, Err: fs.ErrExist}
	}
	s.files[name] = bytes.Clone(b)
	return err
}

func (s *shelf) Remove(name string) error {
	stopped, err := s.stops()
	if stopped {
		return err
	}
	if s.files[name] == nil {
		return fs.ErrNotExist
	}
	delete(s.files, name)
	return err
}

func (s *shelf) ReadFile(name string) ([]byte, error) {
	if b, ok := s.files[name]; ok {
		return b, nil
	}
	return nil, fs.ErrNotExist
}

func (s *shelf) Names() ([]string, error) { return slices.Sorted(maps.Keys(s.files)), nil }

func (s *shelf) clone() *shelf { return &shelf{files: maps.Clone(s.files), left: -1} }

var inParts = dataset.PartsOptions{Options: dataset.Options{Key: key, MinGroup: 5}, State: "CX", CSV: true}

func grow(t fataler, s dataset.Store, rs []*normalize.Report) dataset.Appended {
	t.Helper()
	told, err := dataset.Append(s, all(rs...), inParts)
	if err != nil {
		t.Fatal(err)
	}
	return told
}

type fataler interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// An edition is what a reader finds: for each code its rows, as lines with
// what the folders tell, and what they show besides their numbers.
type edition struct{ rows, shows map[string]string }

// read reads the tables of the edition that holds, as its manifest names them,
// and holds each file against what the manifest says of it.
func read(t fataler, s dataset.Store) edition {
	t.Helper()
	m, err := dataset.CurrentManifest(s)
	if err != nil {
		t.Fatal(err)
	}
	e := edition{map[string]string{}, map[string]string{}}
	for _, p := range m.Parts {
		for _, f := range p.Files {
			b, err := s.ReadFile(f.Path)
			if err != nil || int64(len(b)) != f.Bytes {
				t.Fatalf("%s: %d bytes, %v", f.Path, len(b), err)
			}
			if f.Format != "csv" {
				continue
			}
			recs, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
			if err != nil || len(recs) != f.Rows+1 {
				t.Fatalf("%s: %d lines, %v", f.Path, len(recs), err)
			}
			at := map[string]int{}
			for i, n := range recs[0] {
				at[n] = i
			}
			for _, r := range recs[1:] {
				where := path.Dir(f.Path)
				e.rows[r[0]] += where + " " + strings.Join(r, ",") + "\n"
				if f.Table != "results" {
					continue
				}
				show := where
				for _, c := range []string{"lab", "land_use", "period", "depth_in", "analyte", "method", "unit", "printed_unit", "conversion"} {
					show += "|" + r[at[c]]
				}
				e.shows[r[0]] += show + "\n"
			}
		}
	}
	if len(e.shows) != m.Samples {
		t.Fatalf("%d samples in the tables, %d in the manifest", len(e.shows), m.Samples)
	}
	return e
}

// filesOf counts the files that the edition that holds is made of.
func filesOf(t fataler, s dataset.Store) int {
	t.Helper()
	m, err := dataset.CurrentManifest(s)
	if err != nil {
		t.Fatal(err)
	}
	n := 1
	if m.Marks != "" {
		n++
	}
	for _, p := range m.Parts {
		n += 1 + len(p.Files)
	}
	return n
}

// singledOut is the attack of somebody who kept every edition: samples are
// alike to him if they were in the same editions, looked the same in each, and
// had other rows from one to the next alike. It gives the smallest number of
// clients among those who are alike, and how many groups he makes.
func singledOut(history []edition, clients map[string]string) (fewest, groups int) {
	past := map[string]string{}
	for i, e := range history {
		for code := range clients {
			step := "absent"
			if e.shows[code] != "" {
				step = e.shows[code]
				if i > 0 && history[i-1].rows[code] != "" && history[i-1].rows[code] != e.rows[code] {
					step += " changed"
				}
			}
			past[code] += fmt.Sprintf("\x00%d %s", i, step)
		}
	}
	by := map[string]map[string]bool{}
	for code, p := range past {
		if !slices.ContainsFunc(history, func(e edition) bool { return e.shows[code] != "" }) {
			continue // never published
		}
		if by[p] == nil {
			by[p] = map[string]bool{}
		}
		by[p][clients[code]] = true
	}
	for _, people := range by {
		if fewest == 0 || len(people) < fewest {
			fewest = len(people)
		}
	}
	return fewest, len(by)
}

func clientsOf(rs []*normalize.Report) map[string]string {
	out := map[string]string{}
	for _, r := range rs {
		for _, rec := range r.Records {
			out[codeOf(r.Lab.ID, r.Number, rec.Sample.LabID)] = rec.Client.Name
		}
	}
	return out
}

// copied is a report that can be changed without changing the first.
func copied(t fataler, r *normalize.Report) *normalize.Report {
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var c normalize.Report
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	return &c
}
