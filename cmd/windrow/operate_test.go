package main

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"example.org/windrow/normalize"
)

// ofEachKind are reports of the test laboratories: a PDF, a workbook, a CSV
// file, a mail, one that is held.
var ofEachKind = []string{"thrushgate-garden-soil-desk/TG-26-01180.pdf", "thrushgate-garden-soil-desk/revised/TG-26-01920.pdf", "verrin-analytical/VA-26-0455.xlsx",
	"marrow-brook-land-water-testing/MB26-0711.csv", "oxbow-tansy-agronomy-laboratory/OT-26-0612.pdf"}

// dropAll drops reports of each kind, among them the mails, into an office, and
// gives how many.
func dropAll(t *testing.T, dir string) int {
	t.Helper()
	mails, err := filepath.Glob("../../testdata/labs/*/*.eml")
	if err != nil || len(mails) == 0 {
		t.Fatalf("no mail among the reports (%v)", err)
	}
	for _, p := range ofEachKind {
		copyFile(t, filepath.Join("../../testdata/labs", p), filepath.Join(dir, "inbox", filepath.Base(p)))
	}
	for _, p := range mails[:2] {
		copyFile(t, p, filepath.Join(dir, "inbox", filepath.Base(p)))
	}
	return len(ofEachKind) + 2
}

// namesIn are what the archive of an office knows of people, files and samples:
// names, addresses, labels and numbers, as the reports print them.
func namesIn(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	add := func(s string) {
		for _, s := range strings.Split(s, "\n") {
			if s = strings.TrimSpace(s); len(s) > 4 && strings.ContainsFunc(s, unicode.IsLetter) && !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	for p, b := range tree(t, filepath.Join(dir, "archive", "reports")) {
		if !strings.HasSuffix(p, ".json") {
			continue
		}
		var rep normalize.Report
		if err := json.Unmarshal([]byte(b), &rep); err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		add(rep.Source.Name)
		add(rep.Source.Member)
		for _, rec := range rep.Records {
			if c := rec.Client; c != nil {
				add(c.Name)
				add(c.Phone)
				add(c.Email)
				add(c.Address)
			}
			add(rec.Sample.LabID)
			add(rec.Sample.ClientLabel)
		}
	}
	if len(out) < 20 {
		t.Fatalf("only %d names are in the archive: %v", len(out), out)
	}
	return out
}

// A log as JSON is JSON in every line, follows each file by one mark from its
// arrival to its filing, and holds no name of a person, a file or a sample
// above the level debug; at debug it does, so that the check can fail.
func TestLogTellsNoNames(t *testing.T) {
	for _, level := range []string{"info", "debug"} {
		t.Run(level, func(t *testing.T) {
			dir := t.TempDir()
			if err := makeOffice(dir); err != nil {
				t.Fatal(err)
			}
			n := dropAll(t, dir)
			w := startWatch(t, dir, "--log-format", "json", "--log-level", level)
			w.until(t, time.Minute, "all are filed", func() bool { return len(names(t, filepath.Join(dir, "inbox"))) == 0 })
			w.stop(t)
			if out := w.out.String(); out != "" {
				t.Errorf("on stdout:\n%s", out)
			}
			marks := regexp.MustCompile(`^[0-9a-f]{12}$`)
			way := map[string][]string{}
			for line := range strings.Lines(w.errs.String()) {
				var l struct{ Time, Level, Msg, Source string }
				if err := json.Unmarshal([]byte(line), &l); err != nil || l.Time == "" || l.Msg == "" {
					t.Errorf("no line of a log (%v): %s", err, line)
				}
				if l.Source == "" {
					continue
				}
				if !marks.MatchString(l.Source) {
					t.Errorf("the mark %q", l.Source)
				}
				if l.Level != "DEBUG" {
					way[l.Source] = append(way[l.Source], l.Msg)
				}
			}
			if len(way) != n {
				t.Errorf("%d files are told of, not %d", len(way), n)
			}
			for mark, steps := range way {
				if want := []string{"arrived", "kept", "finished", "filed"}; !slices.Equal(steps, want) {
					t.Errorf("%s went %v, not %v", mark, steps, want)
				}
			}
			told := 0
			for _, name := range namesIn(t, dir) {
				if strings.Contains(w.errs.String(), name) {
					told++
					if level == "info" {
						t.Errorf("the log holds %q", name)
					}
				}
			}
			if level == "debug" && told == 0 {
				t.Error("the log at debug names nothing, so that the check above can't fail")
			}
		})
	}
}

// Ready is no more than can be done now, and alive is the program; the address
// for others answers whatever they call it, and holds no pages of the office.
func TestReadyAndForOthers(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	w := startWatch(t, dir, "--listen-metrics", "127.0.0.1:0")
	w.until(t, 5*time.Second, "the second address is told", func() bool { return strings.Contains(w.errs.String(), "for other computers") })
	all := atURL.FindAllString(w.errs.String(), -1)
	other := all[len(all)-1]
	if len(all) != 2 || other == w.url {
		t.Fatalf("addresses %v", all)
	}
	as := func(url, host string) (int, string) {
		req, err := http.NewRequest(http.MethodGet, url, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = host
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, string(b)
	}
	for _, p := range []string{"/metrics", "/healthz", "/readyz", "/livez"} {
		if code, b := as(other+p, "windrow:8471"); code != 200 {
			t.Errorf("%s for others: %d %s", p, code, b)
		}
		if code, _ := as(w.url+p, "windrow:8471"); code != 403 {
			t.Errorf("%s by a borrowed name: %d", p, code)
		}
	}
	for _, p := range []string{"/", "/letters/", "/debug/pprof/"} {
		if code, _ := as(other+p, "windrow:8471"); code != 404 {
			t.Errorf("%s for others: %d", p, code)
		}
	}
	for folder, why := range map[string]string{"inbox": "a watched folder can't be written to", "held": "the folder of held reports can't be written to", "archive": "the archive can't be written to"} {
		if err := os.Rename(filepath.Join(dir, folder), filepath.Join(dir, "away")); err != nil {
			t.Fatal(err)
		}
		if code, b := as(other+"/readyz", "x"); code != 503 || !strings.Contains(b, why) {
			t.Errorf("without %s: %d %s", folder, code, b)
		}
		if code, b := as(other+"/livez", "x"); code != 200 {
			t.Errorf("without %s it counts as dead: %d %s", folder, code, b)
		}
		if err := os.Rename(filepath.Join(dir, "away"), filepath.Join(dir, folder)); err != nil {
			t.Fatal(err)
		}
	}
	if code, b := as(other+"/readyz", "x"); code != 200 {
		t.Errorf("with all of them back: %d %s", code, b)
	}
	w.stop(t)
}

// What verify and export found, and how the office stands, is in the metrics of
// a watch that runs beside them.
func TestMetricsOfJobsAndFolders(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	copyFile(t, filepath.Join("../../testdata/labs", ofEachKind[1]), filepath.Join(dir, "inbox", "x.pdf"))
	w := startWatch(t, dir)
	has := func(want ...string) {
		t.Helper()
		got := get(t, w.url+"/metrics")
		for _, l := range want {
			if !strings.Contains(got, "\n"+l+"\n") {
				t.Errorf("/metrics lacks %q", l)
			}
		}
	}
	has("windrow_archive_verify_timestamp_seconds 0", "windrow_archive_export_timestamp_seconds 0", "windrow_last_report_timestamp_seconds 0")
	w.until(t, time.Minute, "it is held", func() bool { return len(names(t, filepath.Join(dir, "held"))) == 2 })
	must(t, exitDone, "archive", "verify", "--office", dir)
	must(t, exitDone, "archive", "export", "--office", dir, filepath.Join(t.TempDir(), "copy"))
	at := "1.7803062e+09" // 2026-06-01 09:30 UTC, the clock of the tests
	has("windrow_archive_verify_timestamp_seconds "+at, "windrow_archive_verify_problems 0", "windrow_archive_verify_failed 0", "windrow_archive_export_timestamp_seconds "+at,
		"windrow_archive_export_failed 0", "windrow_held_files 1", "windrow_waiting_files 0", "windrow_last_report_timestamp_seconds "+at)
	if got := get(t, w.url+"/metrics"); !regexp.MustCompile(`\nwindrow_disk_free_bytes [1-9]`).MatchString(got) || !regexp.MustCompile(`\nwindrow_disk_size_bytes [1-9]`).MatchString(got) {
		t.Error("/metrics lacks the disk")
	}
	var original string
	for p := range tree(t, filepath.Join(dir, "archive", "originals")) {
		original = filepath.Join(dir, "archive", "originals", p)
	}
	if err := os.Chmod(original, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(original, []byte("other"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := program(t, "archive", "verify", "--office", dir).CombinedOutput(); err == nil {
		t.Errorf("damage is not found:\n%s", out)
	}
	if got := get(t, w.url+"/metrics"); strings.Contains(got, "windrow_archive_verify_problems 0") || !strings.Contains(got, "windrow_archive_verify_problems ") {
		t.Error("the damage is not in the metrics")
	}
	if out, err := program(t, "archive", "export", "--office", dir, filepath.Join(dir, "windrow.yaml", "x")).CombinedOutput(); err == nil {
		t.Errorf("an export into a file:\n%s", out)
	}
	has("windrow_archive_export_failed 1")
	w.stop(t)
}
