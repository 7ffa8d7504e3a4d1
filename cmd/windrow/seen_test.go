package main

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/access"
)

// Every command that does something is in the table of those that name people,
// or don't; and nothing in the table is gone.
func TestEveryCommandSaysWhetherItNames(t *testing.T) {
	root := newRoot(&env{stdout: io.Discard, stderr: io.Discard, now: fixedNow})
	var all []string
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, x := range c.Commands() {
			walk(x)
		}
		if len(c.Commands()) == 0 {
			all = append(all, c.CommandPath())
		}
	}
	walk(root)
	slices.Sort(all)
	for _, p := range all {
		if _, is := namings[p]; !is && p != "windrow help" {
			t.Errorf("%s is in no line of the table of namings (seen.go), so that the log would not say who saw or changed what by it", p)
		}
	}
	for p := range namings {
		if x, _, err := root.Find(strings.Fields(p)[1:]); p != "windrow help" && (err != nil || x.CommandPath() != p || x.RunE == nil) {
			t.Errorf("there is no command %s", p)
		}
	}
}

// Where people sign in to the pages, a command that shows or changes something
// of a client says so in the same log, also while the pages are served; and does
// nothing where it can't.
func TestCommandsAreInTheLog(t *testing.T) {
	dir := officeWith(t, exitDone, csvOfMarrow)
	var id string
	for x := range archivedReports(t, dir) {
		id = x
	}
	log := filepath.Join(dir, "access.jsonl")
	must(t, exitDone, "trace", id+"-1", "P", "--office", dir)
	if _, err := os.Stat(log); err == nil {
		t.Error("a log where nobody signs in")
	}
	settings, err := os.OpenFile(filepath.Join(dir, "windrow.yaml"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := settings.WriteString("sign_in:\n  users: users.yaml\n"); err != nil {
		t.Fatal(err)
	}
	if err := settings.Close(); err != nil {
		t.Fatal(err)
	}
	addUser(t, dir, "ilse", "--role", "office", "--called", "Ilse Marrow")
	w := startWatching(t, "serve", dir, "--listen", "127.0.0.1:0")
	get(t, w.url+"/sign-in")
	must(t, exitDone, "trace", id+"-1", "P", "--office", dir)
	must(t, exitDone, "versions", id, "--office", dir)
	must(t, exitDone, "show", "record", csvOfMarrow, "--office", dir)
	must(t, exitDone, "archive", "export", filepath.Join(t.TempDir(), "copy"), "--office", dir)
	must(t, exitDone, "archive", "verify", "--office", dir)
	must(t, exitDone, "replay", "--office", dir)
	must(t, exitDone, "conversions", "--office", dir)
	w.stop(t)
	toldBy(t, "ruling", id, "--set-aside", "--by", "Ilse Marrow", "--because", "a test of ours", "--office", dir)
	toldBy(t, "archive", "erase", id, "--by", "Records Desk", "--because", "request of 20 November", "--apply", "--office", dir)
	out := must(t, exitDone, "access", "list", "--json", "--office", dir)
	var got []access.Entry
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	var did []string
	for _, e := range got {
		if e.From != atTerminal {
			continue
		}
		if !strings.HasPrefix(e.Who, osPrefix) || len(e.Who) == len(osPrefix) {
			t.Errorf("who is it: %+v", e)
		}
		did = append(did, strings.Join(append([]string{string(e.Did), e.What}, append(e.Reports, e.Records...)...), " "))
	}
	want := []string{"saw windrow trace " + id + " " + id + "-1", "saw windrow versions " + id, "saw windrow show record", "saw windrow archive export", "saw windrow replay",
		"asked to change windrow ruling " + id, "changed windrow ruling, exit code 0 " + id, "asked to change windrow archive erase " + id, "changed windrow archive erase, exit code 0 " + id}
	if !slices.Equal(did, want) {
		t.Errorf("the log has\n%s\nwant\n%s", strings.Join(did, "\n"), strings.Join(want, "\n"))
	}
	for _, s := range []string{"Ilse Marrow", "a test of ours", "20 November", "MB26"} {
		if strings.Contains(out, s) {
			t.Errorf("the log says %q", s)
		}
	}
	must(t, exitDone, "access", "verify", "--office", dir)

	// Where the log can't be written, nothing is shown.
	for _, p := range []string{log, log + ".head"} {
		if err := os.Remove(p); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(log, 0o750); err != nil {
		t.Fatal(err)
	}
	if out, errs, exit := toldBy(t, "show", "record", csvOfMarrow, "--office", dir); exit != exitFailed || out != "" || !strings.Contains(errs, "[access-log]") {
		t.Errorf("without a log: exit %d, %s\n%s", exit, out, errs)
	}
}
