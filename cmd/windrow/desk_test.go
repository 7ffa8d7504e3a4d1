package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// A desk is an office that the test works in.
type desk struct{ dir, tmp string }

// settings makes an office, or gives one other settings.
func settings(t *testing.T, dir, more string) *desk {
	t.Helper()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(dir, "windrow.yaml")
	b, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at, append(b, more...), 0o600); err != nil {
		t.Fatal(err)
	}
	d := &desk{dir, filepath.Join(dir, "tmp")}
	if err := os.MkdirAll(d.tmp, 0o750); err != nil {
		t.Fatal(err)
	}
	return d
}

// work runs the program once on paths, or on the watched folder, and gives
// the outcomes by the names of the files.
func (d *desk) work(t *testing.T, code int, paths ...string) map[string]pipeline.Outcome {
	t.Helper()
	cmd := program(t, append([]string{"run", "-q", "--json", "--office", d.dir}, paths...)...)
	cmd.Env = append(cmd.Env, "TMPDIR="+d.tmp)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	b, err := cmd.Output()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	if got := cmd.ProcessState.ExitCode(); got != code {
		t.Fatalf("exit %d, not %d\n%s", got, code, errs.Bytes())
	}
	for _, bad := range []string{"panic:", "goroutine ", "runtime error"} {
		if strings.Contains(errs.String(), bad) {
			t.Errorf("%q is told:\n%s", bad, errs.Bytes())
		}
	}
	outs := map[string]pipeline.Outcome{}
	for line := range bytes.Lines(b) {
		var o pipeline.Outcome
		if err := json.Unmarshal(line, &o); err != nil {
			t.Fatalf("%v in %s", err, line)
		}
		if _, twice := outs[o.Name]; twice {
			t.Errorf("%s came out twice", o.Name)
		}
		outs[o.Name] = o
	}
	return outs
}

// jargon is what no clerk should have to read.
var jargon = regexp.MustCompile(`panic|runtime error|unexpected EOF|\bnil\b|0x[0-9a-f]{4}|\.go:\d|strconv|zlib:|flate:|goroutine`)

// filed wants a file to lie where it belongs, unchanged in the archive, with
// reasons of use where it is held, beside it, too. It gives their words.
func (d *desk) filed(t *testing.T, out *pipeline.Outcome) string {
	t.Helper()
	where := "done"
	if out.Status == pipeline.Held {
		where = "held"
	}
	at := ""
	for _, n := range names(t, filepath.Join(d.dir, where)) {
		if n == out.Name || strings.HasSuffix(n, "_"+out.Name) {
			at = filepath.Join(d.dir, where, n)
		}
	}
	if at == "" {
		t.Errorf("%s: is %s, and not in %s", out.Name, out.Status, where)
	}
	kept := filepath.Join(d.dir, "archive", "originals", out.SHA256[:2], "sha256-"+out.SHA256)
	if a, err := os.ReadFile(kept); err != nil || ingest.NewSource("", a).SHA256 != out.SHA256 {
		t.Errorf("%s: the original is not kept (%v)", out.Name, err)
	}
	if out.Status != pipeline.Held {
		return ""
	}
	why, err := os.ReadFile(at + ".why.txt")
	if err != nil {
		t.Error(err)
	}
	words, stops := "", 0
	for _, r := range out.Reasons {
		if r.Severity != ingest.Hold && r.Severity != ingest.Fail {
			continue
		}
		stops++
		if r.Code == "" || r.What == "" || r.Expected == "" || r.Found == "" || r.Next == "" || !strings.Contains(r.Where.File, out.Name) {
			t.Errorf("%s: a reason lacks its file, or what was expected, found or is to do next:\n%s", out.Name, r)
		}
		if bad := jargon.FindString(r.Error()); bad != "" {
			t.Errorf("%s: a clerk has to read %q:\n%s", out.Name, bad, r)
		}
		words += r.Error() + "\n"
		if !regexp.MustCompile(`Code: +` + regexp.QuoteMeta(r.Code)).Match(why) {
			t.Errorf("%s: the note beside it doesn't tell of %s:\n%s", out.Name, r.Code, why)
		}
	}
	if stops == 0 {
		t.Errorf("%s: held without a reason", out.Name)
	}
	return words
}

// reports are the archived reports of a file.
func (d *desk) reports(t *testing.T, out *pipeline.Outcome) (all []*normalize.Report) {
	t.Helper()
	for _, p := range out.Parts {
		b, err := os.ReadFile(filepath.Join(d.dir, "archive", "reports", p.ID[1:3], p.ID, fmt.Sprintf("%04d.json", p.Version)))
		if err != nil {
			t.Fatal(err)
		}
		var rep normalize.Report
		if err := json.Unmarshal(b, &rep); err != nil {
			t.Fatal(err)
		}
		all = append(all, &rep)
	}
	return all
}

// rows are the results of a file that the archive gives out.
func (d *desk) rows(t *testing.T, out *pipeline.Outcome) (rows []normalize.Row) {
	t.Helper()
	for _, rep := range d.reports(t, out) {
		rows = append(rows, normalize.Rows(rep, normalize.RowOptions{WithClients: true})...)
	}
	return rows
}

// right wants all results of a file that is not held, as its truth has them,
// and none of one that is. It gives how many there are.
func (d *desk) right(t *testing.T, what, truthAt string, out *pipeline.Outcome) int {
	t.Helper()
	rows := d.rows(t, out)
	if out.Status == pipeline.Held {
		if len(rows) > 0 {
			t.Errorf("%s: held, and yet %d results are given out", what, len(rows))
		}
		for _, p := range out.Parts {
			if len(p.Letters) > 0 {
				t.Errorf("%s: held, and yet letters %v are written", what, p.Letters)
			}
		}
		return 0
	}
	b, err := os.ReadFile(truthAt)
	if err != nil {
		t.Fatal(err)
	}
	var tr truth
	if err := json.Unmarshal(b, &tr); err != nil {
		t.Fatalf("%s: %v", truthAt, err)
	}
	for i := range tr.Samples { // space around a name is not part of it
		tr.Samples[i].ClientID = strings.TrimSpace(tr.Samples[i].ClientID)
	}
	if len(tr.Samples) == 0 {
		t.Errorf("%s: is %s, and nothing should be stored of it", what, out.Status)
	}
	var n tally
	compare(t, what, &tr, rows, &n)
	if n.right == 0 {
		t.Errorf("%s: is %s without a result", what, out.Status)
	}
	return n.right
}

func codes(reasons []*ingest.Reason) string {
	var out []string
	for _, r := range reasons {
		if !slices.Contains(out, r.Code) {
			out = append(out, r.Code)
		}
	}
	return strings.Join(out, ", ")
}
