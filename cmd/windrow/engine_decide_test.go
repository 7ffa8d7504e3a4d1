//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"maps"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"gocloud.dev/blob"

	"example.org/windrow/normalize/archive/index"
)

// sameDecided is sameArchive after decisions, of which each has the time at
// which it was made: rulings, proofs and tombstones are compared by their names.
func sameDecided(t *testing.T, central, alone string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "copy")
	must(t, exitDone, "archive", "export", "--office", central, out)
	timeless := func(dir string) map[string]string {
		m := digests(t, dir)
		for p := range m {
			if top, _, _ := strings.Cut(p, "/"); slices.Contains([]string{"rulings", "proofs", "tombstones"}, top) {
				m[p] = ""
			}
		}
		return m
	}
	sameFiles(t, timeless(out), timeless(filepath.Join(alone, "archive")))
	if said := must(t, exitDone, "archive", "verify", "--office", central); !strings.Contains(said, "all is well") {
		t.Errorf("verify says:\n%s", said)
	}
	// What the index has is what one made anew from the archive has.
	was := dumpOf(t, central)
	must(t, exitDone, "archive", "rebuild", "--office", central)
	if now := dumpOf(t, central); was != now {
		t.Errorf("the index is not that of the archive:\n%s\n%s", was, now)
	}
}

// dumpOf is the index of an office's engine, in words.
func dumpOf(t *testing.T, office string) string {
	t.Helper()
	ix, err := index.Open(t.Context(), databaseOf(t, office))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = ix.Close() }()
	var b bytes.Buffer
	if err := ix.Dump(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// databaseOf is the address of the database in an office's settings.
func databaseOf(t *testing.T, office string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(office, "windrow.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(b), "database: \"")
	address, _, whole := strings.Cut(rest, "\"")
	if !found || !whole {
		t.Fatal("an office without an engine")
	}
	return address
}

// stored are the names of all objects in the store of the engine.
func (en *engineHere) stored(t *testing.T) (keys []string) {
	t.Helper()
	b, err := blob.OpenBucket(t.Context(), en.store+"&response_checksum_validation=when_required")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = b.Close() }()
	for it := b.List(nil); ; {
		o, err := it.Next(t.Context())
		if errors.Is(err, io.EOF) {
			return keys
		}
		if err != nil {
			t.Fatal(err)
		}
		keys = append(keys, o.Key)
	}
}

// otherName gives an office another name.
func otherName(t *testing.T, office string) {
	t.Helper()
	at := filepath.Join(office, "windrow.yaml")
	b, err := os.ReadFile(at)
	if err == nil {
		err = os.WriteFile(at, bytes.ReplaceAll(b, []byte("Finch"), []byte("Wren")), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// onBothWays does the same in an office of an engine and in one alone.
func onBothWays(t *testing.T, office, alone string, code int, args ...string) (central string) {
	t.Helper()
	must(t, code, append(slices.Clone(args), "--office", alone)...)
	return must(t, code, append(slices.Clone(args), "--office", office)...)
}

// TestEngineDecide decides, replays and erases over a central engine, and wants
// the archive and the letters of an office that did the same by itself.
func TestEngineDecide(t *testing.T) {
	en := startEngine(t)
	office, alone, workers := en.office(t, time.Minute), t.TempDir(), en.office(t, time.Minute)
	if err := makeOffice(alone); err != nil {
		t.Fatal(err)
	}
	files := issuesOfOneDay(t, t.TempDir())
	w := worker(t, workers, &bytes.Buffer{})
	stop := func() {
		_ = w.Process.Signal(syscall.SIGTERM)
		if err := w.Wait(); err != nil {
			t.Error(err)
		}
	}
	onBothWays(t, office, alone, exitDone, "run", "-q", files[0])
	onBothWays(t, office, alone, exitHeld, "run", "-q", files[1])
	onBothWays(t, office, alone, exitDone, "run", "-q", files[4])
	a, b := reportOf(t, alone, "a.csv").ID, reportOf(t, alone, "b.csv").ID
	letters := func() {
		t.Helper()
		sameTree(t, tree(t, filepath.Join(office, "letters")), tree(t, filepath.Join(alone, "letters")))
	}

	// A report counts, while the worker is at work.
	said := onBothWays(t, office, alone, exitDone, "ruling", b, "--count", "--by", "Ilse Marrow", "--because", "the laboratory says so")
	if !strings.Contains(said, b+": count, decided by Ilse Marrow") || !strings.Contains(said, b+"  flagged") {
		t.Errorf("ruling says\n%s", said)
	}
	sameDecided(t, office, alone)
	letters()
	if n := len(lettersOut(t, office)); n == 0 {
		t.Error("no letters on the report that counts")
	}
	if _, errs, exit := toldBy(t, "ruling", a, "--office", office, "--count", "--by", "Ilse Marrow", "--because", "it too"); exit != exitFailed || !strings.Contains(errs, "it was decided that it counts") {
		t.Errorf("both count: %d %s", exit, errs)
	}

	// Another office of the engine decides about its own reports alone.
	other := en.office(t, time.Minute)
	otherName(t, other)
	before := en.stored(t)
	for _, args := range [][]string{{"ruling", b, "--set-aside", "--by", "Orrin Vale", "--because", "so"}} {
		if _, errs, exit := toldBy(t, append(args, "--office", other)...); exit != exitFailed || !strings.Contains(errs, "[office-other]") {
			t.Errorf("%v in another office: %d %s", args, exit, errs)
		}
	}
	reread(t, other)
	if out := must(t, exitDone, "replay", "--apply", "--office", other); !strings.Contains(out, "0 reports read anew") {
		t.Errorf("a replay in another office: %s", out)
	}
	if now := en.stored(t); !slices.Equal(now, before) {
		t.Errorf("another office changed the archive")
	}

	// Another mapping, in the folders of all.
	for _, dir := range []string{office, alone, workers} {
		reread(t, dir)
	}
	// One after the other: of two that contradict each other and are read at once
	// either may be the one that finds the other, and so has a version more.
	for _, id := range []string{b, a, reportOf(t, alone, "other.csv").ID} {
		_, _, want := toldBy(t, "replay", "--apply", id, "--office", alone)
		if out, errs, got := toldBy(t, "replay", "--apply", id, "--office", office); got != want || strings.Contains(out, " 0 would change") {
			t.Errorf("replay of %s: exit %d, alone %d\n%s%s", id, got, want, out, errs)
		}
	}
	if out, errs, _ := toldBy(t, "replay", "--apply", "--office", office); !strings.HasPrefix(out, "3 reports read anew, 0 ") {
		t.Errorf("replay of all: %s%s", out, errs)
	}
	sameDecided(t, office, alone)
	letters()
	if out, _, _ := toldBy(t, "replay", "--office", office); !strings.HasPrefix(out, "3 reports read anew, 0 would change") {
		t.Errorf("a second replay: %s", out)
	}

	// A person is forgotten: in the store, in the database, among the letters.
	rep := reportOf(t, alone, "other.csv")
	name := clientOf(t, rep)
	sum := rep.Source.SHA256
	said = onBothWays(t, office, alone, exitDone, "archive", "erase", rep.ID, "--by", "Records Desk", "--because", "request of 20 November", "--apply")
	if !strings.Contains(said, "1 erasure completed") || !strings.Contains(said, "other offices of the engine") || strings.Contains(said, "older version") {
		t.Errorf("erase says\n%s", said)
	}
	sameDecided(t, office, alone)
	letters()
	if slices.ContainsFunc(en.stored(t), func(k string) bool { return strings.Contains(k, sum) }) {
		t.Error("the original is still in the store")
	}
	if !slices.ContainsFunc(en.stored(t), func(k string) bool { return strings.Contains(k, "tombstones/") }) {
		t.Error("no tombstone in the store")
	}
	for _, at := range lettersOut(t, office) {
		if strings.Contains(at, rep.ID) {
			t.Errorf("%s is still there", at)
		}
	}
	conn, err := pgx.Connect(t.Context(), en.database)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(t.Context())) }()
	left := 0
	if err := conn.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM river_job WHERE args::text LIKE '%'||$1||'%') + (SELECT count(*) FROM arrivals WHERE sha256 = $1) + (SELECT count(*) FROM records WHERE report_id = $2 AND client LIKE '%'||$3||'%')`, sum, rep.ID, name).Scan(&left); err != nil || left != 0 {
		t.Errorf("the database has %d rows on what was erased, %v", left, err)
	}
	// A worker takes the same file as a new arrival.
	stop()
	w = worker(t, workers, &bytes.Buffer{})
	onBothWays(t, office, alone, exitDone, "run", "-q", files[4])
	sameDecided(t, office, alone)
	letters()
	stop()

	// The copy of an archive is brought into an empty engine.
	copied := filepath.Join(t.TempDir(), "copy.tar")
	must(t, exitDone, "archive", "export", "--office", alone, copied)
	fresh := startEngine(t).office(t, time.Minute)
	must(t, exitDone, "archive", "import", "--office", fresh, copied)
	sameDecided(t, fresh, alone)
	if out := must(t, exitDone, "archive", "import", "--office", fresh, copied); !strings.Contains(out, " 0 files new") && !strings.Contains(out, "; 0 files") {
		t.Errorf("the same again: %s", out)
	}
}

// TestEngineProof has a person compare a scan that lies in a central engine with
// its picture, and wants what an office by itself makes of the same.
func TestEngineProof(t *testing.T) {
	if _, err := exec.LookPath("tesseract"); err != nil {
		t.Skip("tesseract is not on this machine; Debian's package is tesseract-ocr")
	}
	en := startEngine(t)
	office, alone := en.office(t, time.Minute), t.TempDir()
	if err := makeOffice(alone); err != nil {
		t.Fatal(err)
	}
	w := worker(t, en.office(t, time.Minute), &bytes.Buffer{})
	onBothWays(t, office, alone, exitHeld, "run", "-q", "../../testdata/labs/dunmere-hand-laboratory/DH-0470.pdf")
	id := reportOf(t, alone, "DH-0470.pdf").ID
	sheets := map[string]string{office: filepath.Join(t.TempDir(), "engine.xlsx"), alone: filepath.Join(t.TempDir(), "alone.xlsx")}
	for _, seen := range []struct{ phosphorus, by string }{{"173", "Ilse Marrow"}, {"172", "Orrin Vale"}} {
		for dir, sheet := range sheets {
			if _, err := os.Stat(sheet); err != nil {
				must(t, exitDone, "proof", id, "--office", dir, "--sheet", sheet)
			}
			fill(t, sheet, map[string]string{"172": seen.phosphorus})
			must(t, exitDone, "proof", id, "--office", dir, "--take", sheet, "--by", seen.by)
		}
		sameDecided(t, office, alone)
		if got, want := tree(t, filepath.Join(office, "letters")), tree(t, filepath.Join(alone, "letters")); !maps.Equal(got, want) {
			t.Errorf("the letters of %s are %v, alone %v", seen.by, slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)))
		}
	}
	if n := len(lettersOut(t, office)); n != 1 {
		t.Errorf("%d letters on what two people compared", n)
	}
	// Without the worker too: the archive is that hand's own while it writes.
	_ = w.Process.Signal(syscall.SIGTERM)
	if err := w.Wait(); err != nil {
		t.Error(err)
	}
	if said := must(t, exitDone, "archive", "verify", "--office", office); !strings.Contains(said, "2 proofs") {
		t.Errorf("verify says\n%s", said)
	}
	if out := must(t, exitDone, "trace", id+"-1", "P", "--office", office); !strings.Contains(out, "compared with its picture by Orrin Vale") {
		t.Errorf("the trace does not tell who read it: %s", out)
	}
}

// TestEngineSole wants a decision to wait for a file in hand, files to wait for
// a decision, and what a killed one left to be made good.
func TestEngineSole(t *testing.T) {
	en := startEngine(t)
	office := en.office(t, time.Minute)
	files := issuesOfOneDay(t, t.TempDir())
	w := worker(t, en.office(t, time.Minute), &bytes.Buffer{})
	must(t, exitDone, "run", "-q", "--office", office, files[0])
	must(t, exitHeld, "run", "-q", "--office", office, files[1])
	out := t.TempDir()
	must(t, exitDone, "archive", "export", "--office", office, filepath.Join(out, "archive"))
	b := reportOf(t, out, "b.csv").ID

	conn, err := pgx.Connect(t.Context(), en.database)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(t.Context())) }()
	exec := func(q string) {
		t.Helper()
		if _, err := conn.Exec(t.Context(), q); err != nil {
			t.Fatal(err)
		}
	}
	// The key of the lock: a worker of another version must know it too.
	const key = "(2003398163, 0)"
	waits := func(args ...string) (end func(code int)) {
		t.Helper()
		cmd := program(t, append(args, "--office", office)...)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &said
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		select {
		case <-ended:
			t.Errorf("%v did not wait: %s", args, said.String())
		case <-time.After(4 * time.Second):
		}
		return func(code int) {
			t.Helper()
			select {
			case <-ended:
			case <-time.After(time.Minute):
				_ = cmd.Process.Kill()
				<-ended
			}
			if got := cmd.ProcessState.ExitCode(); got != code {
				t.Errorf("%v: exit %d, not %d\n%s", args, got, code, said.String())
			}
		}
	}
	exec("SELECT pg_advisory_lock_shared" + key)
	end := waits("ruling", b, "--count", "--by", "Ilse Marrow", "--because", "so")
	exec("SELECT pg_advisory_unlock_shared" + key)
	end(exitDone)
	exec("SELECT pg_advisory_lock" + key)
	end = waits("run", "-q", files[4])
	exec("SELECT pg_advisory_unlock" + key)
	end(exitDone)

	// One died between archive and index: who comes next makes it good.
	exec("UPDATE reports SET version = version - 1, status = 'ok' WHERE id = '" + b + "'")
	exec("INSERT INTO state (key, value) VALUES ('mark:at-work', 'yes')")
	must(t, exitDone, "ruling", b, "--office", office, "--withdraw", "--by", "Ilse Marrow", "--because", "not so")
	n := 0
	if err := conn.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM reports WHERE id = '`+b+`' AND status = 'held') + (SELECT 10 * count(*) FROM state WHERE key LIKE 'mark:%')`).Scan(&n); err != nil || n != 1 {
		t.Errorf("the index was not made good: %d, %v", n, err)
	}

	// An erasure that is killed at any moment is completed.
	id := reportOf(t, out, "a.csv").ID
	for i := range 4 {
		cmd := program(t, "archive", "erase", id, "--office", office, "--by", "Records Desk", "--because", "a request", "--apply")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(150+250*i) * time.Millisecond)
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed, or done
		must(t, exitDone, "archive", "erase", "--finish", "--office", office)
		if said := must(t, exitDone, "archive", "verify", "--office", office); !strings.Contains(said, "all is well") {
			t.Errorf("after kill %d: %s", i, said)
		}
	}
	toldBy(t, "archive", "erase", id, "--office", office, "--by", "Records Desk", "--because", "a request", "--apply")
	if said := must(t, exitDone, "archive", "erase", id, "--office", office); !strings.Contains(said, "nothing to erase") {
		t.Errorf("it is not erased: %s", said)
	}
	_ = w.Process.Signal(syscall.SIGTERM)
	if err := w.Wait(); err != nil {
		t.Error(err)
	}
}

// TestEngineServe has two offices of one engine serve their pages: a report
// that is dropped in at one is on its pages, is decided about there, and is not
// on those of the other, whose people don't decide about it either.
func TestEngineServe(t *testing.T) {
	eng := startEngine(t)
	offices := []string{eng.office(t, time.Minute), eng.office(t, time.Minute)}
	otherName(t, offices[1])
	w := worker(t, eng.office(t, time.Minute), &bytes.Buffer{})
	var desks []*watcher
	var people []*http.Client
	for _, dir := range offices {
		f, err := os.OpenFile(filepath.Join(dir, "windrow.yaml"), os.O_APPEND|os.O_WRONLY, 0)
		if err == nil {
			_, err = f.WriteString("sign_in:\n  users: users.yaml\n")
			err = errors.Join(err, f.Close())
		}
		if err != nil {
			t.Fatal(err)
		}
		addUser(t, dir, "ilse", "--role", "office", "--called", "Ilse Marrow")
		d := startWatching(t, "serve", dir)
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		c := &http.Client{Jar: jar}
		form := formOf(t, c, d.url+"/sign-in")
		if code, page := postAs(t, c, d.url, "/sign-in", url.Values{"form": {form}, "to": {"/"}, "name": {"ilse"}, "password": {goodPassword}}); code != http.StatusOK || !strings.Contains(page, "Ilse Marrow") {
			t.Fatalf("not let in: %d %s", code, page)
		}
		desks, people = append(desks, d), append(people, c)
	}
	files := issuesOfOneDay(t, t.TempDir())
	for _, f := range files[:2] {
		copyFile(t, f, filepath.Join(offices[0], "inbox", filepath.Base(f)))
		desks[0].until(t, time.Minute, "the file is filed", func() bool { return len(names(t, filepath.Join(offices[0], "inbox"))) == 0 })
	}
	page := func(i int, path string, want int) string {
		t.Helper()
		resp, err := people[i].Get(desks[i].url + path)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil || resp.StatusCode != want {
			t.Fatalf("%s: %d, %v\n%s", path, resp.StatusCode, err, b)
		}
		return string(b)
	}
	ids := regexp.MustCompile(`href="/report/(R[0-9a-f]{16})"`).FindAllStringSubmatch(page(0, "/reports", http.StatusOK), -1)
	if len(ids) != 2 {
		t.Fatalf("%d reports on the page", len(ids))
	}
	if p := page(1, "/reports", http.StatusOK); strings.Contains(p, ids[0][1]) || strings.Contains(p, "MB26-0712") {
		t.Error("the pages of another office show them")
	}
	id := ids[0][1]
	page(1, "/report/"+id, http.StatusNotFound)
	for _, p := range []string{"/", "/held", "/intake", "/labs", "/county", "/report/" + id, "/report/" + id + "/versions", "/report/" + id + "/original", "/sample/" + id + "-1"} {
		page(0, p, http.StatusOK)
	}
	decide := func(i int) (int, string) {
		return postAs(t, people[i], desks[i].url, "/report/"+id+"/rule", url.Values{"form": {formOf(t, people[i], desks[i].url+"/reports")}, "decision": {"count"}, "because": {"the laboratory says so"}})
	}
	if code, p := decide(1); code != http.StatusNotFound && code != http.StatusForbidden {
		t.Errorf("another office decides: %d %s", code, p)
	}
	if code, p := decide(0); code != http.StatusOK {
		t.Fatalf("%d %s", code, p)
	}
	if p := page(0, "/report/"+id, http.StatusOK); !strings.Contains(p, "Ilse Marrow (ilse)") {
		t.Error("the page does not say who decided")
	}
	if len(lettersOut(t, offices[0])) == 0 || len(lettersOut(t, offices[1])) > 0 {
		t.Errorf("letters: %v, %v", lettersOut(t, offices[0]), lettersOut(t, offices[1]))
	}
	page(0, "/sample/"+id+"-1/letter", http.StatusOK)
	// What is erased from elsewhere goes from the folder of letters as well.
	must(t, exitDone, "archive", "erase", id, "--office", eng.office(t, time.Minute), "--by", "Records Desk", "--because", "a request", "--apply")
	desks[0].until(t, 3*time.Minute, "the letters are gone", func() bool { return len(lettersOut(t, offices[0])) == 0 })
	for _, d := range desks {
		d.stop(t)
	}
	_ = w.Process.Signal(syscall.SIGTERM)
	if err := w.Wait(); err != nil {
		t.Error(err)
	}
	if said := must(t, exitDone, "archive", "verify", "--office", offices[0]); !strings.Contains(said, "all is well") {
		t.Error(said)
	}
	if out := must(t, exitDone, "access", "list", "--office", offices[0]); !strings.Contains(out, "POST /report/{id}/rule") {
		t.Errorf("the log does not say who decided:\n%s", out)
	}
}

// formOf is what a form on a page carries with it.
func formOf(t *testing.T, c *http.Client, at string) string {
	t.Helper()
	resp, err := c.Get(at)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`name="form" value="([0-9a-f]+)"`).FindSubmatch(b)
	if m == nil {
		t.Fatalf("no form on %s:\n%s", at, b)
	}
	return string(m[1])
}

// postAs sends a form from the page's own address, as a browser does.
func postAs(t *testing.T, c *http.Client, base, path string, form url.Values) (int, string) {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, base+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", base)
	resp, err := c.Do(req)
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
