package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// eraseOf erases a report in an office and gives what was said.
func eraseOf(t *testing.T, dir, id string) string {
	t.Helper()
	return must(t, exitDone, "archive", "erase", "--office", dir, id, "--by", "Records Desk", "--because", "request of 20 November", "--apply")
}

// clientOf is the first client's name on a report.
func clientOf(t *testing.T, rep *normalize.Report) string {
	t.Helper()
	for _, rec := range rep.Records {
		if rec.Client != nil && rec.Client.Name != "" {
			return rec.Client.Name
		}
	}
	t.Fatal("a report without a client proves nothing")
	return ""
}

// After an erasure no file of the office but the dropped one says who it was,
// every command works on what stays, the same file is a new arrival, and it
// can be erased again.
func TestEraseInAnOffice(t *testing.T) {
	const mail = "../../testdata/labs/ashlar-reed-soil-laboratory/AR-26-2214.eml"
	const other = "../../testdata/labs/calder-plains-growers-cooperative-laboratory/CP26-A017.pdf"
	dir := officeWith(t, exitDone, csvOfMarrow, mail, other)
	must(t, exitDone, "audit", "sign", "--office", dir, "--name", "Ilse Tarn", "--decision", "accepted")
	var rep *normalize.Report
	for _, r := range archivedReports(t, dir) {
		for _, rec := range r.Records {
			if rec.Client != nil && rec.Client.Name != "" && r.Source.Member != "" {
				rep = r
			}
		}
	}
	if rep == nil {
		t.Fatal("no report out of a mail with a client")
	}
	name := clientOf(t, rep)
	// Drafts of mappings hold what stands on the reports that they were made from.
	const another = "R0123456789abcdef"
	drafts := filepath.Join(dir, "mappings", "drafts")
	if err := os.MkdirAll(drafts, 0o750); err != nil {
		t.Fatal(err)
	}
	for file, text := range map[string]string{rep.ID + ".yaml": "# " + name, rep.ID + ".json": "{}", another + ".yaml": "# " + name, another + ".json": `{"With":["` + rep.ID + `"]}`, "R89abcdef01234567.yaml": "# somebody", "R89abcdef01234567.json": "{}"} {
		if err := os.WriteFile(filepath.Join(drafts, file), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	before := tree(t, dir)
	dry := must(t, exitDone, "archive", "erase", "--office", dir, "--client", strings.ToUpper(name))
	if !strings.Contains(dry, rep.ID) || !strings.Contains(dry, "nothing was erased") {
		t.Error(dry)
	}
	sameTree(t, tree(t, filepath.Join(dir, "archive", "reports")), sub(before, "archive/reports/"))
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{rep.ID, "--apply"}, "needs who erases, and why"},
		{[]string{"--finish", rep.ID}, "takes nothing else"},
		{nil, "nothing was named"},
		{[]string{"Ilse"}, "is not the id"},
	} {
		if _, errs, exit := toldBy(t, append([]string{"archive", "erase", "--office", dir}, c.args...)...); exit != exitUsage || !strings.Contains(errs, c.says) {
			t.Errorf("%v: %d: %s", c.args, exit, errs)
		}
	}
	if _, errs, exit := toldBy(t, "archive", "erase", "--office", dir, rep.ID, "--apply", "--by", "x", "--because", name+" asked"); exit != exitFailed || !strings.Contains(errs, "erasure-names-person") {
		t.Errorf("a why that names the person: %d: %s", exit, errs)
	}
	if _, errs, exit := toldBy(t, "archive", "erase", "--office", dir, "R1111111111111111"); exit != exitFailed || !strings.Contains(errs, "record-unknown") {
		t.Errorf("%d: %s", exit, errs)
	}
	out := must(t, exitDone, "archive", "erase", "--office", dir, "--client", name, "--by", "Records Desk", "--because", "request of 20 November", "--apply")
	if !strings.Contains(out, "erasures completed") || !strings.Contains(out, "2 originals") || !strings.Contains(out, "mail boxes") {
		t.Error(out)
	}
	for p, b := range tree(t, dir) {
		if strings.Contains(b, name) && !strings.HasPrefix(p, "archive/signoffs/") && !strings.HasPrefix(p, "done/") && !strings.HasPrefix(p, "inbox/") {
			t.Errorf("%s still says %q", p, name)
		}
		if strings.HasPrefix(p, "letters/") && strings.Contains(p, rep.ID) {
			t.Errorf("%s is still there", p)
		}
	}
	if left := names(t, drafts); len(left) != 2 || left[0] != "R89abcdef01234567.json" {
		t.Errorf("of the drafts there are left: %v", left)
	}
	works := func(state string) {
		t.Helper()
		for _, args := range [][]string{{"archive", "verify"}, {"archive", "rebuild"}, {"replay"}, {"replay", "--apply"}, {"audit", "-q"}, {"versions", rep.ID}, {"trace", rep.ID}, {"dataset", "--out", filepath.Join(t.TempDir(), "d")}} {
			out, errs, exit := toldBy(t, append([]string{args[0]}, append(args[1:], "--office", dir)...)...)
			if exit != exitDone || strings.Contains(out, "not read") {
				t.Errorf("%s: %v: %d\n%s%s", state, args, exit, out, errs)
			}
		}
		if out, errs, exit := toldBy(t, "archive", "erase", "--office", dir, "--finish"); exit != exitDone || !strings.HasPrefix(out, "0 erasures completed") {
			t.Errorf("%s: %d: %s%s", state, exit, out, errs)
		}
	}
	works("erased")
	if out := must(t, exitDone, "archive", "erase", "--office", dir, rep.ID); !strings.Contains(out, "nothing to erase") {
		t.Error(out)
	}
	if out := must(t, exitDone, "replay", "--office", dir); !strings.Contains(out, "not to be read, since the file was erased") {
		t.Error(out)
	}
	must(t, exitDone, "run", "--office", dir, mail)
	again := archivedReports(t, dir)[rep.ID]
	if again == nil || normalize.Erased(again) || again.Source.Name != rep.Source.Name || clientOf(t, again) != name {
		t.Fatalf("the same file again: %+v", again)
	}
	works("came again")
	eraseOf(t, dir, rep.ID)
	works("erased again")
}

func sub(all map[string]string, below string) map[string]string {
	out := map[string]string{}
	for p, b := range all {
		if rest, ok := strings.CutPrefix(p, below); ok {
			out[rest] = b
		}
	}
	return out
}

// An office that imports a copy in which a person's data was erased loses the
// letters, the page that lists them, and the index of it as well.
func TestImportErasesInAnOffice(t *testing.T) {
	dir := officeWith(t, exitDone, csvOfMarrow)
	out := t.TempDir()
	must(t, exitDone, "archive", "export", "--office", dir, filepath.Join(out, "old.tar"))
	other := officeWith(t, exitDone, csvOfMarrow)
	var id, name string
	for id = range archivedReports(t, dir) {
		name = clientOf(t, archivedReports(t, dir)[id])
	}
	must(t, exitDone, "archive", "import", "--office", other, filepath.Join(out, "old.tar"))
	if n := len(lettersOut(t, other)); n == 0 {
		t.Fatal("no letters to begin with")
	}
	eraseOf(t, dir, id)
	must(t, exitDone, "archive", "export", "--office", dir, filepath.Join(out, "new.tar"))
	if said := must(t, exitDone, "archive", "import", "--office", other, filepath.Join(out, "new.tar")); !strings.Contains(said, "1 erasure carried over") {
		t.Error(said)
	}
	for p, b := range tree(t, other) {
		if strings.Contains(b, name) && !strings.HasPrefix(p, "done/") && !strings.HasPrefix(p, "inbox/") {
			t.Errorf("%s still says %q", p, name)
		}
	}
	if n := len(lettersOut(t, other)); n != 0 {
		t.Errorf("%d letters are left", n)
	}
	if said := must(t, exitDone, "archive", "import", "--office", other, filepath.Join(out, "old.tar")); !strings.Contains(said, "left out, since it was erased here") {
		t.Error(said)
	}
	must(t, exitDone, "archive", "verify", "--office", other)
}

// What was cut short after the tombstone is told by verify and completed.
func TestEraseIsFinished(t *testing.T) {
	dir := officeWith(t, exitDone, csvOfMarrow)
	var id string
	for id = range archivedReports(t, dir) {
		break
	}
	before := tree(t, filepath.Join(dir, "archive"))
	eraseOf(t, dir, id)
	at := filepath.Join(dir, "archive")
	for p, b := range before { // as a restored backup would
		if strings.HasPrefix(p, "originals/") || strings.HasPrefix(p, "arrivals/") {
			if err := os.WriteFile(filepath.Join(at, filepath.FromSlash(p)), []byte(b), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := os.Remove(filepath.Join(at, "tombstones", id[1:3], id, "0002.json")); err != nil {
		t.Fatal(err)
	}
	_ = os.Remove(filepath.Join(at, "tombstones", id[1:3], id, "0002.json.sha256"))
	if out := must(t, exitFailed, "archive", "verify", "--office", dir); !strings.Contains(out, "[erasure-open]") || !strings.Contains(out, "erase --finish") {
		t.Error(out)
	}
	if out := must(t, exitDone, "archive", "erase", "--office", dir, "--finish"); !strings.HasPrefix(out, "1 erasure completed") {
		t.Error(out)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
	// An office that is opened for work completes it as well.
	if err := os.Remove(filepath.Join(at, "tombstones", id[1:3], id, "0002.json")); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(at, "tombstones", id[1:3], id, "0002.json.sha256")); err != nil {
		t.Fatal(err)
	}
	must(t, exitFailed, "archive", "verify", "--office", dir)
	must(t, exitDone, "run", "--office", dir, csvOfMarrow)
	must(t, exitDone, "archive", "verify", "--office", dir)
	if normalize.Erased(archivedReports(t, dir)[id]) {
		t.Error("the same file after it was erased is no new arrival")
	}
}

// Of a file with samples of several clients one client's data goes, and with
// it the file; the others keep their client, their letters and their advice.
func TestEraseOneOfSeveral(t *testing.T) {
	b, err := os.ReadFile(csvOfMarrow)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for line := range strings.Lines(string(b)) {
		if strings.Contains(line, ";MB6454;") {
			f := strings.Split(line, ";")
			f[2] = "Odo Quillfeather"
			line = strings.Join(f, ";")
		}
		lines = append(lines, line)
	}
	file := filepath.Join(t.TempDir(), "several.csv")
	if err := os.WriteFile(file, []byte(strings.Join(lines, "")), 0o600); err != nil {
		t.Fatal(err)
	}
	dir := officeWith(t, exitDone, file)
	var before *normalize.Report
	for _, before = range archivedReports(t, dir) {
	}
	letters := len(lettersOut(t, dir))
	out := must(t, exitDone, "archive", "erase", "--office", dir, "--client", "odo quillfeather", "--by", "Records Desk", "--because", "request", "--apply")
	if !strings.Contains(out, plural(len(before.Records)-1, "sample")+" of others in the same file") {
		t.Error(out)
	}
	after := archivedReports(t, dir)[before.ID]
	for i, rec := range after.Records {
		was := before.Records[i].Client.Name
		if mine := was == "Odo Quillfeather"; mine != (rec.Client == nil) || !mine && rec.Client.Name != was {
			t.Errorf("%s of %s: %+v", rec.ID, was, rec.Client)
		}
		if len(rec.Results) != len(before.Records[i].Results) {
			t.Errorf("%s has lost results", rec.ID)
		}
	}
	if n := len(lettersOut(t, dir)); n != letters-1 {
		t.Errorf("%d letters of %d are left", n, letters)
	}
	for p, text := range tree(t, dir) {
		if strings.Contains(text, "Quillfeather") {
			t.Errorf("%s still says the name", p)
		}
	}
	for _, args := range [][]string{{"archive", "verify"}, {"replay"}, {"audit", "-q"}} {
		must(t, exitDone, append(args, "--office", dir)...)
	}
	// Another client of the same file, later.
	name := clientOf(t, after)
	must(t, exitDone, "archive", "erase", "--office", dir, "--client", name, "--by", "Records Desk", "--because", "request", "--apply")
	for p, text := range tree(t, dir) {
		if strings.Contains(text, name) {
			t.Errorf("%s still says %s", p, name)
		}
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// archivedReports are the reports as they hold, by id.
func archivedReports(t *testing.T, dir string) map[string]*normalize.Report {
	t.Helper()
	a, err := archive.OpenExisting(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]*normalize.Report{}
	err = a.Each(archive.Reports, func(id string, _ int, b []byte) error {
		out[id] = &normalize.Report{}
		return json.Unmarshal(b, out[id])
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
