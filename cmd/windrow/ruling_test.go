package main

import (
	"bytes"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// told runs the program and gives what it said on stdout and on stderr, and how
// it ended.
func toldBy(t *testing.T, args ...string) (out, errs string, exit int) {
	t.Helper()
	cmd := program(t, args...)
	var o, e bytes.Buffer
	cmd.Stdout, cmd.Stderr = &o, &e
	_ = cmd.Run() // how it ended is its code
	return o.String(), e.String(), cmd.ProcessState.ExitCode()
}

// TestRuleOnReissuesOfOneDay decides between two issues of one day: the one
// that counts is used and has letters, the other one is not; a replay changes
// nothing of it; and what is withdrawn is as before.
func TestRuleOnReissuesOfOneDay(t *testing.T) {
	files := issuesOfOneDay(t, t.TempDir())
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	must(t, exitHeld, "run", "-q", "--office", dir, files[0], files[1])
	a, b := reportOf(t, dir, "a.csv"), reportOf(t, dir, "b.csv")
	before := latestReports(t, dir)
	state := func(name string, wantA, wantB normalize.Status, changes string) {
		t.Helper()
		if x, y := reportOf(t, dir, "a.csv").Status, reportOf(t, dir, "b.csv").Status; x != wantA || y != wantB {
			t.Errorf("%s: %s and %s, want %s and %s", name, x, y, wantA, wantB)
		}
		letters := map[bool]bool{}
		for _, at := range lettersOut(t, dir) {
			letters[strings.Contains(at, a.ID)] = true
			if !strings.Contains(at, a.ID) && !strings.Contains(at, b.ID) {
				t.Errorf("%s: whose letter is %s?", name, at)
			}
		}
		if letters[true] != (wantA != normalize.Held) || letters[false] != (wantB != normalize.Held) {
			t.Errorf("%s: letters %v", name, lettersOut(t, dir))
		}
		if out, errs, _ := toldBy(t, "replay", "--office", dir); !strings.HasPrefix(out, changes) {
			t.Errorf("%s: replay: %s%s", name, out, errs)
		}
		if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
			t.Errorf("%s: verify: %s", name, out)
		}
	}
	rule := func(exit int, id string, args ...string) (string, string) {
		t.Helper()
		out, errs, got := toldBy(t, append([]string{"ruling", id, "--office", dir, "--by", "Ilse Marrow", "--because", "the laboratory says so"}, args...)...)
		if got != exit {
			t.Errorf("rule %s %v: exit %d, not %d\n%s%s", id, args, got, exit, out, errs)
		}
		return out, errs
	}
	const same = "2 reports read anew, 0 would change"
	state("undecided", normalize.Held, normalize.Held, same)
	if out, _ := rule(exitDone, b.ID+"-1", "--count"); !strings.Contains(out, b.ID+": count, decided by Ilse Marrow") {
		t.Errorf("it says %s", out)
	}
	state("the second counts", normalize.Held, normalize.Flagged, same)
	if !strings.Contains(latestReports(t, dir)["b.csv"], `Ilse Marrow decided on `) {
		t.Error("the report does not say who decided")
	}
	for _, c := range []struct {
		id   string
		args []string
		want string
	}{
		{a.ID, []string{"--count"}, a.ID + `: error [ruling-refused] of another report of the same samples and the same day it was decided that it counts
    expected  one that counts
    found     ` + b.ID + `, b.csv
    next      if this one counts after all, take that decision back first: windrow ruling ` + b.ID + ` --withdraw`},
		{b.ID, []string{"--count"}, "that was decided already"},
		{a.ID, []string{"--withdraw"}, "nothing was decided about this report"},
		{"R0123456789abcdef", []string{"--set-aside"}, "the archive holds no report of that id"},
	} {
		if _, errs := rule(exitFailed, c.id, c.args...); !strings.Contains(errs, c.want) {
			t.Errorf("%v: it says\n%s\nwant\n%s", c.args, errs, c.want)
		}
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{b.ID, "--by", "x", "--because", "y"}, "give one of --count, --set-aside and --withdraw"},
		{[]string{b.ID, "--by", "x", "--because", "y", "--count", "--set-aside"}, "a ruling is one decision"},
		{[]string{b.ID, "--because", "y", "--count"}, "needs the name of the person"},
		{[]string{b.ID, "--by", "x", "--count"}, "a ruling needs its reason"},
		{[]string{"b.csv", "--by", "x", "--because", "y", "--count"}, "b.csv is not the id of a report"},
	} {
		if _, errs, exit := toldBy(t, append([]string{"ruling", "--office", dir}, c.args...)...); exit != exitUsage || !strings.Contains(errs, c.want) {
			t.Errorf("%v: exit %d, %s", c.args, exit, errs)
		}
	}
	rule(exitDone, b.ID, "--withdraw")
	state("withdrawn", normalize.Held, normalize.Held, same)
	if !maps.Equal(latestReports(t, dir), before) {
		t.Error("after the decision was taken back the reports are not as they were")
	}

	// With one set aside nothing contradicts the other.
	rule(exitDone, b.ID, "--set-aside")
	state("the second is set aside", normalize.OK, normalize.Held, same)
	must(t, exitHeld, "run", "-q", "--office", dir, files[2])
	state("a third", normalize.Held, normalize.Held, "3 reports read anew, 0 would change")

	// A process that was killed after the decision and before it took effect: a
	// replay has it take effect.
	rep := reportOf(t, dir, "a.csv")
	arch, err := archive.Open(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	r := &normalize.Ruling{Schema: normalize.RulingSchema, Report: rep.ID, Decision: normalize.Count, By: "Ilse Marrow", On: time.Date(2026, 4, 9, 8, 0, 0, 0, time.UTC), Because: "told so", Basis: normalize.BasisOf(rep), Settles: []string{normalize.AgainCode}}
	doc, err := r.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := arch.Put(archive.Rulings, rep.ID, doc); err != nil {
		t.Fatal(err)
	}
	toldBy(t, "replay", "-q", "--apply", "--office", dir)
	state("decided, killed, replayed", normalize.Flagged, normalize.Held, "3 reports read anew, 0 would change")

	// A damaged decision holds.
	damageRuling(t, dir, rep.ID)
	if out, errs, _ := toldBy(t, "replay", "--office", dir); !strings.Contains(out+errs, "1 would change") {
		t.Errorf("a damaged ruling: %s%s", out, errs)
	}
	if out, _, exit := toldBy(t, "archive", "verify", "--office", dir); exit != exitFailed || !strings.Contains(out, "rulings/") {
		t.Errorf("verify of a damaged ruling: %d %s", exit, out)
	}
}

// TestRuleOnACorrectedReport: a report that says that it corrects an earlier one
// is released by the decision that it counts, and the earlier one is set aside
// by another.
func TestRuleOnACorrectedReport(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	const first, corrected = "AR-26-2255.pdf", "AR-26-2255-corrected.pdf"
	must(t, exitDone, "run", "-q", "--office", dir, "../../testdata/labs/ashlar-reed-soil-laboratory/"+first)
	must(t, exitHeld, "run", "-q", "--office", dir, "../../testdata/hostile/"+corrected)
	before := len(lettersOut(t, dir))
	out, errs, exit := toldBy(t, "ruling", reportOf(t, dir, corrected).ID, "--count", "--by", "Ilse Marrow", "--because", "the laboratory has mistaken two samples", "--office", dir)
	now := reportOf(t, dir, corrected)
	if exit != exitDone || now.Status != normalize.Flagged || !normalize.Ruled(now) || len(lettersOut(t, dir)) <= before || before == 0 {
		t.Fatalf("exit %d, %s, %d letters\n%s%s", exit, now.Status, len(lettersOut(t, dir)), out, errs)
	}
	if !strings.Contains(errs, "that one counts, too, until it is set aside") {
		t.Errorf("it says %s", errs)
	}
	for _, r := range now.Reasons {
		if r.Code == "corrects-earlier" && (r.Severity != ingest.Flag || r.Next != "settled by the decision of Ilse Marrow") {
			t.Errorf("the reason is %s", r.Error())
		}
	}
	must(t, exitDone, "ruling", reportOf(t, dir, first).ID, "--set-aside", "--by", "Ilse Marrow", "--because", "replaced by the correction", "--office", dir)
	if was := reportOf(t, dir, first); was.Status != normalize.Held || !normalize.SetAside(was) {
		t.Errorf("the first is %s", was.Status)
	}
	for _, at := range lettersOut(t, dir) {
		if !strings.Contains(at, now.ID) {
			t.Errorf("a letter of the first may be sent: %s", at)
		}
	}
	// What the correction said of the first goes with it, at the next replay.
	if out, _, _ := toldBy(t, "replay", "--office", dir); !strings.HasPrefix(out, "2 reports read anew, 1 would change") || !strings.Contains(out, "because of: other reports") {
		t.Errorf("replay: %s", out)
	}
	toldBy(t, "replay", "-q", "--apply", "--office", dir)
	if out, _, _ := toldBy(t, "replay", "--office", dir); !strings.HasPrefix(out, "2 reports read anew, 0 would change") {
		t.Errorf("replay: %s", out)
	}
	if now := reportOf(t, dir, corrected); now.Status != normalize.Flagged || !normalize.Ruled(now) {
		t.Errorf("after the replay it is %s", now.Status)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// TestRuledFilesLeaveTheHeldOnes drops reports into the folder of an office: a
// held one's note tells the command that decides, with the report's id, and so
// does the page of letters; once decided, the file lies with the handled ones,
// its note is gone, and the other file and its note stay.
func TestRuledFilesLeaveTheHeldOnes(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	const corrected, strange = "AR-26-2255-corrected.pdf", "strange.csv"
	b, err := os.ReadFile("../../testdata/hostile/" + corrected)
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{corrected: b, strange: []byte("a,b\n1,2\n")} {
		if err := os.WriteFile(filepath.Join(dir, "inbox", name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	must(t, exitHeld, "run", "-q", "--office", dir)
	id := reportOf(t, dir, corrected).ID
	command := "windrow ruling " + id + " --count --by NAME --because WORDS"
	for _, file := range []string{filepath.Join(dir, "held", corrected+".why.txt"), filepath.Join(dir, "letters", "index.html")} {
		text, err := os.ReadFile(file)
		if err != nil || !strings.Contains(strings.Join(strings.Fields(string(text)), " "), command) {
			t.Errorf("%s doesn't tell the command %q: %v\n%s", filepath.Base(file), command, err, text)
		}
	}
	lying := func(folder string) []string {
		t.Helper()
		list, err := os.ReadDir(filepath.Join(dir, folder))
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, e := range list {
			names = append(names, e.Name())
		}
		return names
	}
	_, errs, exit := toldBy(t, "ruling", id, "--count", "--by", "Ilse Marrow", "--because", "told by telephone", "--office", dir)
	if exit != exitDone || !strings.Contains(errs, "waits no more and lies here now") {
		t.Errorf("exit %d: %s", exit, errs)
	}
	done := lying("done")
	if held := lying("held"); !slices.Equal(held, []string{strange, strange + ".why.txt"}) || len(done) != 1 || !strings.HasSuffix(done[0], "_"+corrected) {
		t.Errorf("held: %v, done: %v", held, done)
	}
	if kept, err := os.ReadFile(filepath.Join(dir, "done", done[0])); err != nil || !bytes.Equal(kept, b) {
		t.Errorf("the file is not what it was: %v", err)
	}

	// A process that was killed before the file was moved: the next replay
	// moves it; one that only looks moves nothing.
	if err := os.Rename(filepath.Join(dir, "done", done[0]), filepath.Join(dir, "held", corrected)); err != nil {
		t.Fatal(err)
	}
	toldBy(t, "replay", "-q", "--office", dir)
	if held := lying("held"); len(held) != 3 {
		t.Errorf("after looking: %v", held)
	}
	out, _, _ := toldBy(t, "replay", "--apply", "--office", dir)
	if held, done := lying("held"), lying("done"); len(held) != 2 || len(done) != 1 || !strings.Contains(out, "1 file that waited for a person moved") {
		t.Errorf("after the replay: held %v, done %v: %s", held, done, out)
	}
}

// TestRuleOnWhatCannotBeRead: numbers that can't be read are no matter of a
// decision.
func TestRuleOnWhatCannotBeRead(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	first, err := os.ReadFile(issuesOfOneDay(t, t.TempDir())[0])
	if err != nil {
		t.Fatal(err)
	}
	const name = "a.csv"
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, bytes.ReplaceAll(first, []byte("mg/kg"), []byte("lb/A")), 0o600); err != nil {
		t.Fatal(err)
	}
	must(t, exitHeld, "run", "-q", "--office", dir, file)
	rep := reportOf(t, dir, name)
	_, errs, exit := toldBy(t, "ruling", rep.ID, "--count", "--by", "Ilse Marrow", "--because", "it looks right", "--office", dir)
	if exit != exitFailed || !strings.Contains(errs, "what holds this report is no matter of a decision") || !strings.Contains(errs, "settle that first: ") {
		t.Errorf("exit %d: %s", exit, errs)
	}
	if got := reportOf(t, dir, name).Status; got != normalize.Held {
		t.Errorf("it is %s", got)
	}
	if out, _, _ := toldBy(t, "archive", "verify", "--office", dir); strings.Contains(out, "ruling") {
		t.Errorf("a ruling was kept: %s", out)
	}
}

// damageRuling changes a letter in the latest ruling on a report.
func damageRuling(t *testing.T, dir, id string) {
	t.Helper()
	at, err := filepath.Glob(filepath.Join(dir, "archive", "rulings", "*", id, "*.json"))
	if err != nil || len(at) == 0 {
		t.Fatal("no ruling", err)
	}
	last := at[len(at)-1]
	b, err := os.ReadFile(last)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(last, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(last, bytes.Replace(b, []byte("told so"), []byte("told no"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
}
