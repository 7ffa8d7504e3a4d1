package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/cmd/internal/pipeline"
)

// patient is an office that is well: it has worked, and its archive was checked
// and copied.
func patient(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: \"Finch County Soil Desk\"\nlisten: 127.0.0.1:0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	report := filepath.Join(t.TempDir(), "x.csv")
	copyFile(t, filepath.Join("../../testdata/labs", ofEachKind[3]), report)
	if err := os.Chtimes(report, time.Time{}, fixedNow().AddDate(0, 0, -1)); err != nil {
		t.Fatal(err)
	}
	must(t, exitDone, "run", "-q", "--office", dir, report)
	must(t, exitDone, "archive", "verify", "--office", dir)
	must(t, exitDone, "archive", "export", "--office", dir, filepath.Join(t.TempDir(), "copy"))
	return dir
}

// doctorOf is a doctor at an office whose settings have no mistake.
func doctorOf(t *testing.T, dir string) *doctor {
	t.Helper()
	e := &env{stdout: io.Discard, stderr: io.Discard, now: fixedNow, global: globals{office: dir}}
	cfg, _, err := e.settings(newDoctor(e).Flags(), true)
	if err != nil {
		t.Fatal(err)
	}
	return &doctor{e: e, cfg: cfg, now: fixedNow()}
}

// Each fault is found by its check, and said with what to do; without it the
// same check finds nothing.
func TestDoctorFindsEachFault(t *testing.T) {
	well1 := patient(t)
	ctx := context.Background()
	settings := func(more string) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			b, err := os.ReadFile(filepath.Join(dir, "windrow.yaml"))
			if err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, "windrow.yaml"), string(b)+more)
		}
	}
	job := func(name string, j metrics.Job) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			if err := pipeline.NoteJob(doctorOf(t, dir).cfg, name, j); err != nil {
				t.Fatal(err)
			}
		}
	}
	room := func(free, size uint64, known bool) func(*testing.T, string) {
		return func(t *testing.T, _ string) {
			diskOf = func(string) (uint64, uint64, bool) { return free, size, known }
		}
	}
	for _, x := range []struct {
		name  string
		check func(*doctor, context.Context)
		fault func(t *testing.T, dir string)
		state string
		says  string
		do    string
	}{
		{"no name", (*doctor).settings, func(t *testing.T, dir string) { write(t, filepath.Join(dir, "windrow.yaml"), "language: en\n") }, attention, "office.name is not set", "write it"},
		{"passwords for all", (*doctor).settings, func(t *testing.T, dir string) {
			settings("pdf_passwords: sesame\n")(t, dir)
			if err := os.Chmod(filepath.Join(dir, "windrow.yaml"), 0o644); err != nil {
				t.Fatal(err)
			}
		}, attention, "holds passwords", "chmod o= "},
		{"no key", (*doctor).settings, settings("dataset_key_file: gone.key\n"), wrong, "the key of datasets can't be opened", "bring it back"},
		{"a drive is gone", (*doctor).folders, settings("folders:\n  - path: ../drive/inbox\n"), wrong, "a watched folder is not there", "connect the drive"},
		{"a file in place of a folder", (*doctor).folders, func(t *testing.T, dir string) {
			if err := os.RemoveAll(filepath.Join(dir, "held")); err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, "held"), "x")
		}, wrong, "held is a file and no folder", "move the file away"},
		{"disk full", (*doctor).disk, room(100e6, 100e9, true), wrong, "0.1 GB of 100.0 GB are free", "make room"},
		{"disk nearly full", (*doctor).disk, room(9e9, 100e9, true), attention, "9.0 GB of 100.0 GB are free", "make room"},
		{"disk small", (*doctor).disk, room(1e9, 4e9, true), attention, "1.0 GB of 4.0 GB", "make room"},
		{"disk unknown", (*doctor).disk, room(0, 0, false), attention, "can't be asked", "see to it"},
		{"the archive is gone", (*doctor).archive, func(t *testing.T, dir string) {
			if err := os.Rename(filepath.Join(dir, "archive"), filepath.Join(dir, "away")); err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, "done", "2026-05-01_x.pdf"), "x")
		}, wrong, "there is none, and yet reports were filed", "do not run windrow before"},
		{"a folder that is no archive", (*doctor).archive, func(t *testing.T, dir string) {
			if err := os.Rename(filepath.Join(dir, "archive"), filepath.Join(dir, "away")); err != nil {
				t.Fatal(err)
			}
			if err := os.Mkdir(filepath.Join(dir, "archive"), 0o700); err != nil {
				t.Fatal(err)
			}
		}, wrong, "there is no archive in this folder", "network share"},
		{"the index is damaged", (*doctor).index, func(t *testing.T, dir string) {
			write(t, filepath.Join(dir, "index.sqlite"), strings.Repeat("no database ", 1000))
		}, attention, "it is damaged", "windrow archive rebuild"},
		{"never checked", (*doctor).jobs, func(t *testing.T, dir string) {
			if err := os.Remove(filepath.Join(dir, pipeline.Verified)); err != nil {
				t.Fatal(err)
			}
		}, attention, "the archive was never checked", "windrow archive verify"},
		{"never copied, with a central engine", (*doctor).jobs, func(t *testing.T, dir string) {
			settings("engine:\n  database: postgres://windrow@db.example/windrow\n  store: s3://soil?region=calder\n")(t, dir)
			for _, p := range []string{pipeline.Exported, "archive"} { // the archive is elsewhere
				if err := os.RemoveAll(filepath.Join(dir, p)); err != nil {
					t.Fatal(err)
				}
			}
		}, attention, "never copied from this office", "one office of the engine"},
		{"damage was found", (*doctor).jobs, job(pipeline.Verified, metrics.Job{At: fixedNow(), Problems: 2}), wrong, "found 2 problems", "BACKUP.md"},
		{"the copy is old", (*doctor).jobs, job(pipeline.Exported, metrics.Job{At: fixedNow().AddDate(0, 0, -5)}), attention, "last copied 5 days ago", "windrow archive export"},
		{"the copy failed", (*doctor).jobs, job(pipeline.Exported, metrics.Job{At: fixedNow(), Failed: true}), wrong, "that failed", "windrow archive export"},
		{"a note is damaged", (*doctor).jobs, func(t *testing.T, dir string) { write(t, filepath.Join(dir, pipeline.Verified), "{") }, attention, "can't be read", "windrow archive verify"},
		{"the clock is behind", (*doctor).clock, job(pipeline.Exported, metrics.Job{At: fixedNow().AddDate(0, 1, 0)}), wrong, "the last copy of the archive is of 2026-07-01", "set the clock"},
		{"no such program for scans", (*doctor).scans, settings("tesseract: /nowhere/tesseract\n"), wrong, "is not there: /nowhere/tesseract", "correct tesseract"},
		{"a program for scans that fails", (*doctor).scans, func(t *testing.T, dir string) {
			at := filepath.Join(dir, "tess")
			write(t, at, "#!/bin/sh\nexit 3\n")
			if err := os.Chmod(at, 0o700); err != nil {
				t.Fatal(err)
			}
			settings("tesseract: "+at+"\n")(t, dir)
		}, wrong, "does not run", "anew"},
		{"no English", (*doctor).scans, func(t *testing.T, dir string) {
			at := filepath.Join(dir, "tess")
			write(t, at, "#!/bin/sh\necho osd\n")
			if err := os.Chmod(at, 0o700); err != nil {
				t.Fatal(err)
			}
			settings("tesseract: "+at+"\n")(t, dir)
		}, wrong, "no data for English", "tesseract-ocr-eng"},
		{"no cache", (*doctor).cache, func(t *testing.T, dir string) {
			at := filepath.Join(dir, "file")
			write(t, at, "x")
			t.Setenv("XDG_CACHE_HOME", at)
		}, attention, "can't keep its machine code", "XDG_CACHE_HOME"},
		{"no home", (*doctor).cache, func(t *testing.T, _ string) {
			t.Setenv("XDG_CACHE_HOME", "")
			t.Setenv("HOME", "")
		}, attention, "no folder for caches", "XDG_CACHE_HOME"},
		{"a mapping is wrong", (*doctor).stages, func(t *testing.T, dir string) {
			if err := os.MkdirAll(filepath.Join(dir, "mappings"), 0o700); err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, "mappings", "x.yaml"), "lab: [\n")
		}, wrong, "x.yaml", ""},
		{"no such rules", (*doctor).stages, settings("rule_set: nobody\n"), wrong, "there is no rule set of that name", "rule_set"},
		{"the register is wrong", (*doctor).stages, func(t *testing.T, dir string) { write(t, filepath.Join(dir, "register.csv"), "a,b\n1,2\n") }, attention, "register.csv", "windrow register check"},
	} {
		t.Run(x.name, func(t *testing.T) {
			was := diskOf
			t.Cleanup(func() { diskOf = was })
			dir := filepath.Join(t.TempDir(), "office")
			if err := os.CopyFS(dir, os.DirFS(well1)); err != nil {
				t.Fatal(err)
			}
			if x.name != "a mapping is wrong" && x.name != "no such rules" && x.name != "the register is wrong" { // the whole of it is TestDoctor
				diskOf = func(string) (uint64, uint64, bool) { return 50e9, 100e9, true }
				d := doctorOf(t, dir)
				x.check(d, ctx)
				for _, s := range d.found {
					if s.State == wrong || s.State == attention && s.Check != "scans" { // tesseract may be absent here
						t.Errorf("before the fault: %+v", s)
					}
				}
				if len(d.found) == 0 {
					t.Error("before the fault nothing was said")
				}
			}
			x.fault(t, dir)
			d := doctorOf(t, dir)
			x.check(d, ctx)
			for _, s := range d.found {
				if s.State == x.state && strings.Contains(s.Says, x.says) && strings.Contains(s.Do, x.do) && s.Do != "" {
					return
				}
			}
			t.Errorf("not found: %+v", d.found)
		})
	}
}

// A file that another computer dated into the future does not make an office
// wrong until then.
func TestDoctorFileOfTheFuture(t *testing.T) {
	d := &doctor{cfg: doctorOf(t, patient(t)).cfg, now: fixedNow(), newest: fixedNow().AddDate(1, 0, 0)}
	d.clock(context.Background())
	if len(d.found) != 1 || d.found[0].State != attention || !strings.Contains(d.found[0].Do, "the computer that wrote the file") {
		t.Errorf("%+v", d.found)
	}
}

// A clock before the program was written is wrong whatever is in the archive.
func TestDoctorOnAClockOfOld(t *testing.T) {
	d := &doctor{cfg: doctorOf(t, patient(t)).cfg, now: time.Date(1970, 1, 1, 0, 3, 0, 0, time.UTC)}
	d.clock(context.Background())
	if len(d.found) != 1 || d.found[0].State != wrong || !strings.Contains(d.found[0].Says, "before this program was written") {
		t.Errorf("%+v", d.found)
	}
}

// The whole of it: an office that is well, one with something to see to, one
// that can't work; its exit codes, its lines, and its JSON.
func TestDoctor(t *testing.T) {
	dir := patient(t)
	ask := func(args ...string) (int, string) {
		var out, errs bytes.Buffer
		code := execute(context.Background(), &env{stdout: &out, stderr: &errs, now: fixedNow}, append([]string{"doctor", "--office", dir}, args...))
		if errs.Len() > 0 {
			t.Errorf("on stderr:\n%s", errs.String())
		}
		return code, out.String()
	}
	was := diskOf
	t.Cleanup(func() { diskOf = was })
	diskOf = func(string) (uint64, uint64, bool) { return 50e9, 100e9, true }
	before := tree(t, dir)
	code, out := ask()
	lines := strings.Split(strings.TrimSpace(out), "\n")
	bad := 0
	for _, l := range lines {
		if !strings.HasPrefix(l, "ok ") {
			bad++
			if !strings.Contains(l, "tesseract") { // it may be absent here
				t.Error(l)
			}
		}
	}
	if want := map[bool]int{true: exitDone, false: exitHeld}[bad == 0]; code != want || len(lines) < 13 || !strings.Contains(out, "set as a page and a PDF") {
		t.Errorf("ended with %d:\n%s", code, out)
	}
	sameTree(t, tree(t, dir), before) // it changes nothing

	diskOf = func(string) (uint64, uint64, bool) { return 5e9, 100e9, true }
	code, out = ask("--json")
	var doc struct {
		State    string
		Findings []symptom
	}
	if err := json.Unmarshal([]byte(out), &doc); err != nil || code != exitHeld || doc.State != attention || len(doc.Findings) < 13 {
		t.Errorf("ended with %d (%v):\n%s", code, err, out)
	}
	write(t, filepath.Join(dir, "windrow.yaml"), "ofice: x\n")
	code, out = ask()
	if code != exitFailed || !strings.Contains(out, "wrong") || !strings.Contains(out, "did you mean office?") {
		t.Errorf("ended with %d:\n%s", code, out)
	}
}

// A running watch is asked at its address, and so it is for --probe.
func TestDoctorAsksTheWatch(t *testing.T) {
	dir := patient(t)
	for _, x := range []struct {
		code  int
		body  string
		state string
		says  string
	}{
		{200, `{"healthy":true,"reasons":[]}`, well, "all is well"},
		{503, `{"healthy":false,"reasons":["a report has waited for more than 15 minutes"]}`, wrong, "a report has waited"},
		{200, `<html>`, attention, "another program answers"},
	} {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		srv := &http.Server{ReadHeaderTimeout: time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(x.code)
			_, _ = io.WriteString(w, x.body)
		})}
		go func() { _ = srv.Serve(ln) }()
		d := doctorOf(t, dir)
		d.cfg.Listen = ln.Addr().String()
		d.watch(context.Background())
		if len(d.found) != 1 || d.found[0].State != x.state || !strings.Contains(d.found[0].Says, x.says) {
			t.Errorf("%+v", d.found)
		}
		var out, errs bytes.Buffer
		code := execute(context.Background(), &env{stdout: &out, stderr: &errs, now: fixedNow}, []string{"doctor", "--probe", "http://" + ln.Addr().String() + "/readyz"})
		if want := map[bool]int{true: exitDone, false: exitFailed}[x.code == 200]; code != want || !strings.Contains(out.String(), x.body) {
			t.Errorf("probe ended with %d: %s%s", code, out.String(), errs.String())
		}
		_ = srv.Close()
	}
	var out, errs bytes.Buffer
	if code := execute(context.Background(), &env{stdout: &out, stderr: &errs, now: fixedNow}, []string{"doctor", "--probe", "http://127.0.0.1:1/readyz"}); code != exitFailed || !strings.Contains(errs.String(), "no watch answers") {
		t.Errorf("of nobody: %d %s", code, errs.String())
	}
}
