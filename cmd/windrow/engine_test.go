//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"

	"example.org/windrow/normalize/archive/index/pgtest"
)

// An engineHere is a central engine for a test: a PostgreSQL server and an
// object store, both the work of others, and both real.
type engineHere struct {
	server          *pgtest.Server
	database, store string
	storeAway       atomic.Bool
	calls           atomic.Int64 // of the store
	delay           atomic.Int64 // of each, in nanoseconds
}

func startEngine(t *testing.T) *engineHere {
	t.Helper()
	en := &engineHere{server: pgtest.Start(t)}
	en.database = en.server.Database(t)
	back := newListedStore()
	if err := back.CreateBucket("soil"); err != nil {
		t.Fatal(err)
	}
	h := gofakes3.New(back).Server()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if en.storeAway.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		en.calls.Add(1)
		time.Sleep(time.Duration(en.delay.Load()))
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	t.Setenv("AWS_ACCESS_KEY_ID", "test")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "not-a-secret")
	en.store = "s3://soil?region=us-east-1&use_path_style=true&endpoint=" + srv.URL
	return en
}

// slow has every call of the store take longer, as over a network.
func (en *engineHere) slow(d time.Duration) { en.delay.Store(int64(d)) }

// office makes the folder of an office, or of a worker, of the engine.
func (en *engineHere) office(t *testing.T, longest time.Duration) string {
	t.Helper()
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(dir, "windrow.yaml")
	b, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	b = fmt.Appendf(b, "workers: 2\nengine:\n  database: %q\n  store: %q\n  longest: %s\n", en.database, en.store, longest)
	if err := os.WriteFile(at, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// sameArchive wants the archive of the engine to be, file for file and byte
// for byte, the one of an office that did the same by itself. Of the notes of
// arrivals the number is compared: their names have the time of the file.
func sameArchive(t *testing.T, central, alone string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "copy")
	must(t, exitDone, "archive", "export", "--office", central, out)
	sameFiles(t, digests(t, out), digests(t, filepath.Join(alone, "archive")))
}

// sameFiles wants two archives to hold the same files: the notes of arrivals
// by their number, as each carries its time.
func sameFiles(t *testing.T, got, want map[string]string) {
	t.Helper()
	notes := func(m map[string]string) int {
		n := 0
		for p := range m {
			if strings.HasPrefix(p, "arrivals/") {
				n++
				delete(m, p)
			}
		}
		return n
	}
	if g, w := notes(got), notes(want); g != w {
		t.Errorf("%d arrivals noted, %d by an office alone", g, w)
	}
	sameTree(t, got, want)
	for _, kind := range []string{"reports/", "advice/", "originals/"} {
		n := 0
		for p := range got {
			if strings.HasPrefix(p, kind) {
				n++
			}
		}
		if n == 0 {
			t.Errorf("nothing in %s", kind)
		}
	}
}

// worker starts a worker.
func worker(t *testing.T, dir string, errs *bytes.Buffer) *exec.Cmd {
	t.Helper()
	w := program(t, "work", "--office", dir, "--json")
	w.Stderr = errs
	if err := w.Start(); err != nil {
		t.Fatal(err)
	}
	return w
}

// TestEngineKilled has one office and two workers work over a central engine,
// kills the workers at random moments, kills the watch, and takes database and
// store away for a while; and wants the very archive and letters of an office
// that did it all by itself: nothing lost, nothing twice.
func TestEngineKilled(t *testing.T) {
	files, kills := 80, 6
	if n, err := strconv.Atoi(os.Getenv("ENGINE_FILES")); err == nil {
		files, kills = n, n/15
	}
	if testing.Short() {
		t.Skip("short: kills workers for half a minute")
	}
	en := startEngine(t)
	alone, office := t.TempDir(), en.office(t, 3*time.Second)
	if err := makeOffice(alone); err != nil {
		t.Fatal(err)
	}
	drop := t.TempDir()
	reportsOf(t, drop, 0, files)
	// One that is held, and the same bytes under another name.
	if err := os.WriteFile(filepath.Join(drop, "notes.txt"), []byte("no report at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	first := names(t, drop)[0]
	b, err := os.ReadFile(filepath.Join(drop, first))
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range names(t, drop) {
		content, err := os.ReadFile(filepath.Join(drop, name))
		if err != nil {
			t.Fatal(err)
		}
		at := time.Date(2026, 5, 1, 8, 0, i, 0, time.UTC)
		for _, dir := range []string{alone, office} {
			to := filepath.Join(dir, "inbox", name)
			if err := os.WriteFile(to, content, 0o600); err != nil {
				t.Fatal(err)
			}
			if err := os.Chtimes(to, at, at); err != nil {
				t.Fatal(err)
			}
		}
	}
	must(t, exitHeld, "run", "--office", alone, "-q")

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	inbox := func() int { return len(names(t, filepath.Join(office, "inbox"))) }
	begun := time.Now()

	// The engine is away at first: files wait, and the watch goes on.
	en.storeAway.Store(true)
	watch := startWatch(t, office)
	time.Sleep(3 * time.Second)
	if n := inbox(); n != files+1 {
		t.Errorf("%d of %d files left the inbox without an engine", files+1-n, files+1)
	}
	en.storeAway.Store(false)

	var logs bytes.Buffer
	folders := []string{en.office(t, 3*time.Second), en.office(t, 3*time.Second)}
	workers := []*exec.Cmd{worker(t, folders[0], &logs), worker(t, folders[1], &bytes.Buffer{})}
	for i := range kills {
		time.Sleep(time.Duration(500+rnd.IntN(1500)) * time.Millisecond)
		w := i % 2
		_ = workers[w].Process.Kill()
		_ = workers[w].Wait() // it was killed
		workers[w] = worker(t, folders[w], &bytes.Buffer{})
		if i == kills/3 {
			_ = watch.cmd.Process.Kill()
			<-watch.exited
			watch = startWatch(t, office)
		}
		if i == kills/2 {
			en.server.Down()
			time.Sleep(time.Second)
			en.server.Up(t)
			for j := range workers { // systemd would
				if workers[j].ProcessState != nil {
					workers[j] = worker(t, folders[j], &bytes.Buffer{})
				}
			}
		}
	}
	t.Logf("%d of %d files still waited after the last kill", inbox(), files+1)
	watch.until(t, 4*time.Minute, "all are filed", func() bool { return inbox() == 0 })
	t.Logf("%d files in %.1f s, with %d kills", files+1, time.Since(begun).Seconds(), kills)

	// The same bytes under another name are one report, and another arrival.
	for _, dir := range []string{alone, office} {
		to := filepath.Join(dir, "again.csv")
		if err := os.WriteFile(to, b, 0o600); err != nil {
			t.Fatal(err)
		}
		at := time.Date(2026, 5, 2, 8, 0, 0, 0, time.UTC)
		if err := os.Chtimes(to, at, at); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(to, filepath.Join(dir, "inbox", "again.csv")); err != nil {
			t.Fatal(err)
		}
	}
	must(t, exitDone, "run", "--office", alone, "-q")
	watch.until(t, time.Minute, "the copy is filed", func() bool { return inbox() == 0 })
	watch.stop(t)
	for _, w := range workers {
		_ = w.Process.Signal(syscall.SIGTERM)
		if err := w.Wait(); err != nil {
			t.Errorf("a worker that was told to stop: %v", err)
		}
	}
	if out := must(t, exitDone, "archive", "verify", "--office", office); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
	sameArchive(t, office, alone)
	if n, w := len(names(t, filepath.Join(office, "done"))), len(names(t, filepath.Join(alone, "done"))); n != w {
		t.Errorf("%d files in done, %d in those of an office alone", n, w)
	}
	if n, w := len(names(t, filepath.Join(office, "held"))), len(names(t, filepath.Join(alone, "held"))); n != w || n != 2 {
		t.Errorf("%d files in held, %d in those of an office alone", n, w)
	}
	letters := func(dir string) map[string]string {
		out := tree(t, filepath.Join(dir, "letters"))
		for p := range out {
			if strings.HasSuffix(p, ".part") || p == "index.html" {
				delete(out, p)
			}
		}
		return out
	}
	sameTree(t, letters(office), letters(alone))
	if _, err := os.Stat(filepath.Join(office, "archive")); err == nil {
		t.Error("the office has an archive of its own")
	}
	if strings.Contains(logs.String(), "not-a-secret") {
		t.Error("a worker told a secret")
	}
}

// TestEngineCommands asks, from an office, what is in the central archive.
func TestEngineCommands(t *testing.T) {
	en := startEngine(t)
	office := en.office(t, time.Minute)
	reportsOf(t, filepath.Join(office, "named"), 0, 3)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := ln.Addr().String()
	_ = ln.Close() // for the worker
	w := program(t, "work", "--office", en.office(t, time.Minute), "--listen-metrics", at)
	if err := w.Start(); err != nil {
		t.Fatal(err)
	}
	must(t, exitDone, "run", "--office", office, filepath.Join(office, "named"))
	for page, want := range map[string]string{"/readyz": `"healthy":true`, "/livez": "", "/metrics": `windrow_reports_total{lab="marrow-brook`} {
		r, err := http.Get("http://" + at + page)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r.Body)
		_ = r.Body.Close()
		if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(strings.ReplaceAll(string(b), " ", ""), strings.ReplaceAll(want, " ", "")) {
			t.Errorf("%s: %d %v\n%.400s", page, r.StatusCode, err, b)
		}
	}
	// Another office has the same files: it is told whose they are, and writes
	// no letters on them.
	other := en.office(t, time.Minute)
	otherName(t, other)
	if _, errs, exit := toldBy(t, "run", "--office", other, filepath.Join(office, "named")); exit != exitDone || !strings.Contains(errs, "[office-first]") || !strings.Contains(errs, "brought in by ") {
		t.Errorf("another office brings in the same files: %d\n%s", exit, errs)
	}
	for p := range tree(t, filepath.Join(other, "letters")) {
		if p != "index.html" {
			t.Errorf("the other office has the letter %s", p)
		}
	}
	_ = w.Process.Signal(syscall.SIGTERM)
	if err := w.Wait(); err != nil {
		t.Error(err)
	}
	// An office that is not let into the database is told so before any file comes.
	shut := startWatch(t, (&engineHere{database: strings.Replace(en.database, "?", "_absent?", 1), store: en.store}).office(t, time.Minute))
	shut.until(t, 20*time.Second, "it tells that there is no such database", func() bool {
		return strings.Contains(shut.errs.String(), "[engine-unreachable]") && strings.Contains(shut.errs.String(), "make the database")
	})
	shut.kill(t)
	for _, args := range [][]string{{"archive", "verify"}, {"archive", "rebuild"}, {"replay"}, {"audit"}, {"dataset", "--out", t.TempDir() + "/d"}} {
		out := must(t, exitDone, append(args, "--office", office)...)
		if out == "" {
			t.Errorf("%v says nothing", args)
		}
	}
	// Its pages show what is in the central archive to those alone who sign in.
	if _, errs, exit := toldBy(t, "serve", "--office", office); exit != exitFailed || !strings.Contains(errs, "the records of other offices too") || !strings.Contains(errs, "sign_in.users") {
		t.Errorf("serve without users: %d\n%s", exit, errs)
	}
	if out := must(t, exitDone, "config", "check", "--office", office); !strings.Contains(out, "engine.database") {
		t.Error("config check does not show the engine")
	}
	// The doctor looks where the archive is; of this office it may say more.
	out, err := program(t, "doctor", "--office", office).Output()
	if !strings.Contains(string(out), "it can be opened: s3://soil") || !strings.Contains(string(out), "it is sound: postgres://") || strings.Contains(string(out), "endpoint") {
		t.Errorf("doctor says (%v):\n%s", err, out)
	}
	if !regexp.MustCompile(`(?m)^ok +folders `).Match(out) {
		t.Errorf("doctor is not content with the folders of an office without archive and index:\n%s", out)
	}
	// Another place in the store, where nothing is, is not taken for the
	// archive that the database knows; a copy can be brought there.
	copied := filepath.Join(t.TempDir(), "copy")
	must(t, exitDone, "archive", "export", "--office", office, copied)
	before := en.stored(t)
	elsewhere := func(args ...string) (string, error) {
		cmd := program(t, append(args, "--office", office)...)
		cmd.Env = append(cmd.Env, "WINDROW_ENGINE_STORE="+en.store+"&prefix=elsewhere/")
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	for _, args := range [][]string{{"work"}, {"run", filepath.Join(office, "named")}} {
		if out, err := elsewhere(args...); err == nil || !strings.Contains(out, "[store-other]") || !strings.Contains(out, "engine.store") {
			t.Errorf("%s with another place in the store: %v\n%s", args[0], err, out)
		}
	}
	for _, args := range [][]string{{"archive", "verify"}, {"archive", "rebuild"}} {
		if out, err := elsewhere(args...); err == nil || !strings.Contains(out, "s3://soil: error [archive-gone]") || !strings.Contains(out, "engine.store") {
			t.Errorf("%v with another place in the store: %v\n%s", args, err, out)
		}
	}
	if now := en.stored(t); !slices.Equal(now, before) {
		t.Errorf("something was written to the wrong place: %d objects, and %d before", len(now), len(before))
	}
	if out, err := elsewhere("archive", "import", copied); err != nil {
		t.Errorf("a copy is not brought to a new place: %v\n%s", err, out)
	}
	if out, err := elsewhere("archive", "verify"); err != nil || !strings.Contains(out, "all is well") {
		t.Errorf("the copy in its new place: %v\n%s", err, out)
	}
	// A password in an address is refused, and not repeated.
	cmd := program(t, "config", "check", "--office", office)
	cmd.Env = append(cmd.Env, "WINDROW_ENGINE_DATABASE=postgres://who:Sesame41@db/x")
	out, err = cmd.CombinedOutput()
	if err == nil || strings.Contains(string(out), "Sesame41") || !strings.Contains(string(out), "PGPASSWORD") {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestEngineSameDay has a report contradicted by a later one over a central
// engine: both are held, and the letter that the office wrote on the first is
// put aside, as in an office alone.
func TestEngineSameDay(t *testing.T) {
	en := startEngine(t)
	office, alone := en.office(t, time.Minute), t.TempDir()
	if err := makeOffice(alone); err != nil {
		t.Fatal(err)
	}
	files := issuesOfOneDay(t, t.TempDir())
	w := worker(t, en.office(t, time.Minute), &bytes.Buffer{})
	for _, dir := range []string{alone, office} {
		must(t, exitDone, "run", "-q", "--office", dir, files[0])
		must(t, exitHeld, "run", "-q", "--office", dir, files[1])
	}
	_ = w.Process.Signal(syscall.SIGTERM)
	if err := w.Wait(); err != nil {
		t.Error(err)
	}
	sameArchive(t, office, alone)
	got, want := tree(t, filepath.Join(office, "letters")), tree(t, filepath.Join(alone, "letters"))
	aside := 0
	for p, b := range got {
		if strings.Contains(p, "replaced/") && strings.Contains(b, "This letter was withdrawn and must not be sent.") {
			aside++
		}
	}
	if aside == 0 {
		t.Error("the letters on the first are not put aside")
	}
	sameTree(t, got, want)
}
