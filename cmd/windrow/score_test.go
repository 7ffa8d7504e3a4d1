package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// truth is what really stands in a report of testdata/labs, as its maker
// wrote it down beside the file.
type truth struct {
	Drift   any `json:"drift"`
	Samples []struct {
		LabID    string          `json:"lab_sample_id"`
		ClientID string          `json:"client_sample_id"`
		Client   string          `json:"client_name"`
		County   string          `json:"county"`
		Sampled  string          `json:"date_sampled"`
		Received string          `json:"date_received"`
		Reported string          `json:"date_reported"`
		LandUse  string          `json:"land_use"`
		DepthIn  float64         `json:"depth_in"`
		Results  []truthOfResult `json:"results"`
	} `json:"samples"`
}

type truthOfResult struct {
	Analyte    string   `json:"analyte"`
	Detail     string   `json:"analyte_detail"`
	Printed    string   `json:"printed"`
	Unit       string   `json:"unit"`
	PrintUnit  string   `json:"printed_unit"`
	Basis      string   `json:"basis"`
	Method     string   `json:"method"`
	Censored   string   `json:"censored"`
	Missing    string   `json:"missing"`
	Value      any      `json:"value"`
	Volumetric *float64 `json:"value_volumetric"`
	Rating     string   `json:"rating_printed"`
}

// tally counts what came of the results of a lab.
type tally struct{ files, right, wrong, missed, invented, flagged, heldFiles, fieldsRight, fieldsWrong int }

// readBefore are the readings of files, by their paths: several tests look at
// the same ones, and reading is the longest part of them.
var readBefore sync.Map

// readOnce reads a file through the stages. What it gives is shared and must
// not be changed.
func readOnce(t *testing.T, st *pipeline.Stages, file string) []*pipeline.Reading {
	t.Helper()
	if rds, ok := readBefore.Load(file); ok {
		return rds.([]*pipeline.Reading)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	rds, err := st.ReadAll(context.Background(), ingest.NewSource(filepath.Base(file), b), pipeline.Defaults{})
	if err != nil {
		t.Fatal(err)
	}
	readBefore.Store(file, rds)
	return rds
}

// rowsOf reads a file through the stages and gives the results table of what
// is not held, and whether anything was.
func rowsOf(t *testing.T, st *pipeline.Stages, file string) (rows []normalize.Row, held bool, reasons []*ingest.Reason) {
	t.Helper()
	for _, rd := range readOnce(t, st, file) {
		rows = append(rows, normalize.Rows(rd.Report, normalize.RowOptions{WithClients: true})...)
		held = held || rd.Report.Status == normalize.Held
		reasons = append(reasons, rd.Report.Reasons...)
	}
	return rows, held, reasons
}

func col(name string) int { return slices.Index(normalize.Columns[:], name) }

// TestScore reads every report of the test laboratories and compares it with
// its truth: value, unit, basis, censoring, missing words, printed text, sample
// and client fields. No report in force is read wrongly or in part, and every
// revised one is held.
func TestScore(t *testing.T) {
	st := loadStages(t)
	root := filepath.Join("..", "..", "testdata", "labs")
	var files []string
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err == nil && filepath.Base(filepath.Dir(p)) == "truth" && strings.HasSuffix(p, ".json") {
			files = append(files, p)
		}
		return err
	})
	if err != nil || len(files) == 0 {
		t.Fatal("no truth files", err)
	}
	by := map[string]*tally{}
	var labs []string
	for _, tf := range files {
		var tr truth
		b, err := os.ReadFile(tf)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &tr); err != nil {
			t.Fatalf("%s: %v", tf, err)
		}
		report := filepath.Join(filepath.Dir(filepath.Dir(tf)), strings.TrimSuffix(filepath.Base(tf), ".json"))
		rel, _ := filepath.Rel(root, report)
		lab := strings.Split(rel, string(filepath.Separator))[0]
		if strings.Contains(rel, "revised") {
			lab += ", revised"
		}
		n := by[lab]
		if n == nil {
			n = &tally{}
			by[lab] = n
			labs = append(labs, lab)
		}
		n.files++
		rows, held, reasons := rowsOf(t, st, report)
		if held {
			n.heldFiles++
		}
		switch {
		case strings.Contains(rel, "revised"):
			if !held || len(rows) > 0 {
				t.Errorf("%s: a revised layout was not held", rel)
			}
			if changed := slices.ContainsFunc(reasons, func(r *ingest.Reason) bool {
				return r.Code == "layout-changed" || r.Code == "unit-differs" || strings.HasPrefix(r.Code, "scan")
			}); !changed {
				t.Errorf("%s: no reason names the change: %v", rel, reasons)
			}
			continue
		case scanned[lab]:
			if len(rows) > 0 && !held {
				compare(t, rel, &tr, rows, n)
			}
			continue
		case held:
			t.Errorf("%s: held: %v", rel, reasons[0])
		}
		compare(t, rel, &tr, rows, n)
	}
	sort.Strings(labs)
	t.Logf("%-58s %5s %5s %6s %6s %7s %9s %8s %13s", "laboratory", "files", "held", "right", "wrong", "missed", "invented", "flagged", "fields r/w")
	for _, l := range labs {
		n := by[l]
		t.Logf("%-58s %5d %5d %6d %6d %7d %9d %8d %8d/%d", l, n.files, n.heldFiles, n.right, n.wrong, n.missed, n.invented, n.flagged, n.fieldsRight, n.fieldsWrong)
		if n.wrong+n.missed+n.invented+n.fieldsWrong > 0 {
			t.Errorf("%s: not every result and field is right", l)
		}
	}
}

// scanned are the labs whose reports are pictures: they are held until
// somebody has looked.
var scanned = map[string]bool{"dunmere-hand-laboratory": true}

// idOf is a truth file's analyte in our words.
func idOf(a string) string { return strings.Replace(a, "BS_", "base_sat_", 1) }

func compare(t *testing.T, rel string, tr *truth, rows []normalize.Row, n *tally) {
	t.Helper()
	used := make([]bool, len(rows))
	for _, s := range tr.Samples {
		var sample normalize.Row
		for _, w := range s.Results {
			best := -1
			for i, r := range rows {
				if used[i] || r[col("lab_sample_id")] != s.LabID || r[col("analyte")] != idOf(w.Analyte) || r[col("client_sample_id")] != normalize.Safe(s.ClientID) {
					continue
				}
				if best < 0 || match(rows[i], w) > match(rows[best], w) {
					best = i
				}
			}
			if best < 0 {
				n.missed++
				t.Errorf("%s: sample %s: %s %s is missing", rel, s.LabID, w.Analyte, w.Detail)
				continue
			}
			used[best] = true
			sample = rows[best]
			if st := sample[col("status")]; st != "ok" {
				n.flagged++
			}
			if why := differs(rows[best], w); why != "" {
				n.wrong++
				t.Errorf("%s: sample %s: %s %s: %s", rel, s.LabID, w.Analyte, w.Detail, why)
			} else {
				n.right++
			}
		}
		for name, want := range map[string]string{"client_name": s.Client, "county": s.County, "date_sampled": s.Sampled, "date_received": s.Received, "date_reported": s.Reported, "land_use": s.LandUse} {
			if got := sample[col(name)]; got == normalize.Safe(want) || strings.EqualFold(got, want) {
				n.fieldsRight++
			} else {
				n.fieldsWrong++
				t.Errorf("%s: sample %s: %s: got %q, want %q", rel, s.LabID, name, got, want)
			}
		}
		if d, _ := strconv.ParseFloat(sample[col("depth_in")], 64); math.Abs(d-s.DepthIn) > 0.006 {
			n.fieldsWrong++
			t.Errorf("%s: sample %s: depth: got %v, want %v", rel, s.LabID, d, s.DepthIn)
		}
	}
	for i, u := range used {
		if !u {
			n.invented++
			t.Errorf("%s: invented: %v", rel, rows[i])
		}
	}
}

// match says how well a row fits a truth: two tests of one analyte are told
// apart by what was printed and by the method.
func match(r normalize.Row, w truthOfResult) int {
	s := 0
	if r[col("printed")] == w.Printed {
		s += 4
	}
	if r[col("detail")] == w.Detail {
		s += 2
	}
	if differs(r, w) == "" {
		s += 8
	}
	return s
}

// differs says how a row contradicts its truth, "" when it doesn't.
func differs(r normalize.Row, w truthOfResult) string {
	get := func(name string) string { return r[col(name)] }
	if get("censored") != w.Censored {
		return fmt.Sprintf("censored %q, want %q", get("censored"), w.Censored)
	}
	if (get("missing") != "") != (w.Missing != "") {
		return fmt.Sprintf("missing %q, want %q", get("missing"), w.Missing)
	}
	if w.Missing == "" && get("unit") != w.Unit {
		return fmt.Sprintf("unit %q, want %q", get("unit"), w.Unit)
	}
	if w.Rating != "" && !strings.EqualFold(get("rating_printed"), w.Rating) {
		return fmt.Sprintf("rating %q, want %q", get("rating_printed"), w.Rating)
	}
	if basis := get("basis"); basis != w.Basis && basis != idOf(w.Basis) {
		return fmt.Sprintf("basis %q, want %q", basis, w.Basis)
	}
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	close := func(got string, want float64) bool {
		v := num(got)
		// The truth of a sheet is its stored cell; half a unit of the last
		// printed digit is allowed, and as little for what was multiplied.
		return math.Abs(v-want) <= math.Max(math.Abs(want)*0.001, printedHalf(w))
	}
	switch v := w.Value.(type) {
	case string:
		if got := get("printed"); got != v {
			return fmt.Sprintf("class %q, want %q", got, v)
		}
	case float64:
		if w.Missing == "" && !close(get("value"), v) {
			return fmt.Sprintf("value %q, want %v", get("value"), v)
		}
	case nil:
		if get("value") != "" {
			return fmt.Sprintf("value %q, want none", get("value"))
		}
		if w.Volumetric != nil && !close(get("value_volumetric"), *w.Volumetric) {
			return fmt.Sprintf("volumetric %q, want %v", get("value_volumetric"), *w.Volumetric)
		}
	}
	return ""
}

// printedHalf is half a unit of the last printed digit where printed and
// canonical unit agree, and nothing otherwise.
func printedHalf(w truthOfResult) float64 {
	if w.PrintUnit != "" && w.PrintUnit != w.Unit && !(w.PrintUnit == "mmho/cm" || w.PrintUnit == "ppm") {
		return 0
	}
	_, frac, _ := strings.Cut(strings.TrimRight(w.Printed, "*"), ".")
	return 0.5000001 * math.Pow(10, -float64(len(frac)))
}

func loadStages(t *testing.T) *pipeline.Stages {
	t.Helper()
	st, reasons := pipeline.Load(pipeline.Want{Workers: 2, Version: "test"})
	for _, r := range reasons {
		t.Error(r)
	}
	if st == nil || len(st.Amiss) > 0 {
		t.Fatal("the built-in mappings don't load")
	}
	t.Cleanup(func() { _ = st.Close() })
	return st
}
