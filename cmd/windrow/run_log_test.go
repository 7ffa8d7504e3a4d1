package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// TestRunLogs has a run write the log lines of a watch: each an object, with
// what was done by ids and codes, and without a name of a client or a file.
func TestRunLogs(t *testing.T) {
	dir := officeWith(t, exitDone, csvOfMarrow)
	var name string
	for _, rep := range archivedReports(t, dir) {
		name = clientOf(t, rep)
	}
	files := issuesOfOneDay(t, t.TempDir())
	out, errs, exit := toldBy(t, "run", "--office", dir, "--log-format", "json", files[4])
	if exit != exitDone || out != "" {
		t.Errorf("exit %d, %s", exit, out)
	}
	seen := map[string]int{}
	for _, l := range strings.Split(strings.TrimSpace(errs), "\n") {
		if strings.HasPrefix(l, "windrow: ") {
			continue // what an office should set, as a watch says it at its start
		}
		var x struct {
			Msg, Level, Source, Status string
			Files, OK                  int
		}
		if err := json.Unmarshal([]byte(l), &x); err != nil {
			t.Errorf("no line of a log: %s", l)
			continue
		}
		seen[x.Msg]++
		if x.Msg == "finished" && (x.Status != "ok" && x.Status != "flagged" || len(x.Source) != 12) || x.Msg == "done" && x.Files != 1 {
			t.Errorf("%s", l)
		}
	}
	for _, m := range []string{"arrived", "kept", "finished", "done"} {
		if seen[m] != 1 {
			t.Errorf("%q is there %d times:\n%s", m, seen[m], errs)
		}
	}
	for _, s := range []string{name, "other.csv"} {
		if strings.Contains(errs, s) {
			t.Errorf("the log says %q:\n%s", s, errs)
		}
	}
	// With --json the outcomes are on stdout, for the program that asked for them.
	if out, errs, _ = toldBy(t, "run", "--office", dir, "--log-format", "json", "--json", files[4]); !strings.Contains(out, `"status":"duplicate"`) && !strings.Contains(out, `"again"`) || strings.Contains(errs, "other.csv") {
		t.Errorf("%s\n%s", out, errs)
	}
	// Errors alone, and words as before where nobody asked.
	if _, errs, _ = toldBy(t, "run", "--office", dir, "--log-level", "error", files[4]); strings.Contains(errs, "arrived") {
		t.Errorf("level error:\n%s", errs)
	}
	if _, errs, _ = toldBy(t, "run", "--office", dir, files[4]); strings.Contains(errs, "level=") || !strings.Contains(errs, "1 file: 1 known already") {
		t.Errorf("in words:\n%s", errs)
	}
}
