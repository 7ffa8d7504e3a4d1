package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// issuesOfOneDay are files of one report of Marrow Brook, issued three times
// on one day with other results, a copy of the second one with another file's
// bytes, and a report of other samples.
func issuesOfOneDay(t *testing.T, dir string) []string {
	t.Helper()
	first, err := os.ReadFile("../../testdata/labs/marrow-brook-land-water-testing/MB26-0712-export.csv")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range []struct {
		name   string
		change []string
	}{
		{"a.csv", nil},
		{"b.csv", []string{";506,5;", ";406,5;"}},
		{"c.csv", []string{";506,5;", ";306,5;"}},
		{"copy-of-b.csv", []string{";506,5;", ";406,5;", "Kitchen bed 1", "Kitchen bed one"}},
		{"other.csv", []string{"MB26-0712;", "MB26-9712;", ";MB64", ";MB74"}},
	} {
		b := first
		for i := 0; i < len(f.change); i += 2 {
			if !bytes.Contains(b, []byte(f.change[i])) {
				t.Fatalf("%s: no %q to change", f.name, f.change[i])
			}
			b = bytes.ReplaceAll(b, []byte(f.change[i]), []byte(f.change[i+1]))
		}
		p := filepath.Join(dir, f.name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		names = append(names, p)
	}
	return names
}

// latestReports are the archived reports as they hold, by the name of their
// file.
func latestReports(t *testing.T, dir string) map[string]string {
	t.Helper()
	a, err := archive.Open(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	err = a.Each(archive.Reports, func(_ string, _ int, b []byte) error {
		var rep normalize.Report
		if err := json.Unmarshal(b, &rep); err != nil {
			return err
		}
		out[filepath.Base(rep.Source.Name)] = string(b)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// lettersOut are the letters that may be sent, by report.
func lettersOut(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	for at := range tree(t, filepath.Join(dir, "letters")) {
		if strings.HasSuffix(at, ".html") && at != "index.html" && !strings.Contains(at, "replaced/") {
			out = append(out, at)
		}
	}
	slices.Sort(out)
	return out
}

// TestReissuesOfOneDay gives the issues of one report to offices in many
// orders, one by one, all at once, and by a process that was killed in
// between, and wants the same of each: all that say something else are held,
// whichever came first, no letter on them may be sent, and the report of other
// samples is not concerned.
func TestReissuesOfOneDay(t *testing.T) {
	files := issuesOfOneDay(t, t.TempDir())
	var want map[string]string
	var wantLetters []string
	check := func(name, dir string) {
		t.Helper()
		got, letters := latestReports(t, dir), lettersOut(t, dir)
		if want == nil {
			want, wantLetters = got, letters
		}
		sameTree(t, got, want)
		if !slices.Equal(letters, wantLetters) {
			t.Errorf("%s: letters %v, want %v", name, letters, wantLetters)
		}
		if out := must(t, exitHeld, "replay", "--office", dir); !strings.HasPrefix(out, "5 reports read anew, 0 would change") {
			t.Errorf("%s: replay: %s", name, out)
		}
		must(t, exitDone, "archive", "verify", "--office", dir)
	}
	office := func() string {
		dir := t.TempDir()
		if err := makeOffice(dir); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	for k, order := range [][]int{{0, 1, 2, 3, 4}, {4, 3, 2, 1, 0}, {2, 0, 4, 1, 3}, {1, 3, 0, 4, 2}} {
		dir := office()
		for n, i := range order {
			exit := exitHeld
			if n == 0 || files[i] == files[4] || n == 1 && (order[0] == 4 || order[0]*order[1] == 3 && order[0]+order[1] == 4) {
				exit = exitDone // nothing contradicts it yet: 1 and 3 say the same
			}
			must(t, exit, "run", "-q", "--office", dir, files[i])
		}
		check(fmt.Sprintf("order %v", order), dir)
		if k > 0 {
			continue
		}
		for _, name := range []string{"a.csv", "b.csv", "c.csv", "copy-of-b.csv", "other.csv"} {
			held := strings.Contains(want[name], `"check": "sample-number-again"`) && strings.Contains(want[name], `"status": "held"`)
			if held != (name != "other.csv") {
				t.Errorf("%s: held %v:\n%s", name, held, want[name])
			}
		}
		for _, at := range wantLetters {
			if !strings.Contains(at, "MB26-9712") {
				t.Errorf("a letter may be sent on a report that is held: %s", at)
			}
		}
		if len(wantLetters) == 0 {
			t.Error("there are no letters on the report of other samples")
		}
		aside := 0
		for at, b := range tree(t, filepath.Join(dir, "letters")) {
			if strings.Contains(at, "replaced/") && strings.Contains(b, "This letter was withdrawn and must not be sent.") {
				aside++
			}
		}
		if aside == 0 {
			t.Error("the letters on the first are not put aside")
		}
	}
	dir := office()
	must(t, exitHeld, append([]string{"run", "-q", "--office", dir}, files...)...)
	check("all at once", dir)

	// Killed after the second one was archived and before the first was marked:
	// there is no note of its arrival, and it is given again.
	for _, indexed := range []bool{false, true} {
		dir = office()
		must(t, exitDone, "run", "-q", "--office", dir, files[0])
		var held string
		for _, b := range want {
			if strings.Contains(b, `"name": "b.csv"`) {
				held = b
			}
		}
		var rep normalize.Report
		if err := json.Unmarshal([]byte(held), &rep); err != nil {
			t.Fatal(err)
		}
		normalize.SetAgainst(&rep, []*normalize.Report{reportOf(t, dir, "a.csv")})
		b, err := rep.JSON()
		if err != nil {
			t.Fatal(err)
		}
		a, err := archive.Open(filepath.Join(dir, "archive"))
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := a.PutReport(rep.ID, b); err != nil {
			t.Fatal(err)
		}
		if indexed {
			ix, err := index.Open(t.Context(), filepath.Join(dir, "index.sqlite"))
			if err != nil {
				t.Fatal(err)
			}
			if err := ix.AddReport(t.Context(), rep.ID, 1, b); err != nil {
				t.Fatal(err)
			}
			if err := ix.Close(); err != nil {
				t.Fatal(err)
			}
		}
		must(t, exitHeld, append([]string{"run", "-q", "--office", dir}, files[1:]...)...)
		check(fmt.Sprintf("killed, in the index %v", indexed), dir)
	}

	// What is told of the one that was taken before.
	dir = office()
	must(t, exitDone, "run", "-q", "--office", dir, files[0])
	cmd := program(t, "run", "-q", "--office", dir, files[1])
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if out, err := cmd.Output(); err == nil || !strings.HasPrefix(string(out), "held ") {
		t.Errorf("the second: %v, %s", err, out)
	}
	for _, w := range []string{"a.csv: flagged [sample-number-again] this report was taken before, and is held now, since b.csv came with other results of the same samples and the same day",
		"what was written to the client must not be sent any more, and was put aside", "b.csv:", "held [sample-number-again] the laboratory number ", "in report MB26-0712 (a.csv), of the same day"} {
		if !strings.Contains(errs.String(), w) {
			t.Errorf("it is not told: %s\n%s", w, errs.String())
		}
	}
}

func reportOf(t *testing.T, dir, name string) *normalize.Report {
	t.Helper()
	var rep normalize.Report
	if err := json.Unmarshal([]byte(latestReports(t, dir)[name]), &rep); err != nil {
		t.Fatal(err)
	}
	return &rep
}
