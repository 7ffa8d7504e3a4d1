package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// A document that somebody changes after it was signed for, and gives a
// fitting checksum, is told by every audit and by verify, whatever was
// changed; so is a report that is gone.
func TestAuditTellsWhatWasAlteredSinceItWasSigned(t *testing.T) {
	office := settings(t, filepath.Join(t.TempDir(), "office"), "").dir
	labs := filepath.Join("..", "..", "testdata", "labs")
	must(t, exitDone, "run", "-q", "--office", office, filepath.Join(labs, "calder-plains-growers-cooperative-laboratory", "CP26-A017.pdf"), filepath.Join(labs, "thrushgate-garden-soil-desk", "TG-26-01180.pdf"))
	must(t, exitDone, "audit", "sign", "-q", "--office", office, "--name", "Ilse Marrow", "--decision", "accepted")
	a, err := archive.OpenExisting(filepath.Join(office, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	var id string
	var sound []byte
	if err := a.Each(archive.Reports, func(i string, _ int, b []byte) error {
		if strings.Contains(string(b), "CP26-A017.pdf") {
			id, sound = i, b
		}
		return nil
	}); err != nil || id == "" {
		t.Fatal(id, err)
	}
	at := filepath.Join(office, "archive", archive.Reports, id[1:3], id, "0001.json")
	put := func(b []byte) {
		t.Helper()
		h := sha256.Sum256(b)
		for name, x := range map[string][]byte{at: b, at + ".sha256": []byte(hex.EncodeToString(h[:]) + "  0001.json\n")} {
			if err := os.Chmod(name, 0o600); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(name, x, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	tells := func(code, what string) {
		t.Helper()
		for _, args := range [][]string{{"audit", "-q"}, {"audit", "-q", "--period", "1999"}, {"archive", "verify"}} {
			out := must(t, exitFailed, append(args, "--office", office)...)
			if !strings.Contains(out, "["+code+"]") || !strings.Contains(out, what) || !strings.Contains(out, "by Ilse Marrow") || !strings.Contains(out, id) {
				t.Errorf("%v does not tell %s:\n%s", args, code, out)
			}
		}
	}
	for what, change := range map[string]func(rep *normalize.Report){
		"a method":         func(rep *normalize.Report) { rep.Records[0].Results[0].Method = "olsen" },
		"a sample":         func(rep *normalize.Report) { rep.Records[0].Sample.LabID = "17" },
		"a status":         func(rep *normalize.Report) { rep.Records[0].Results[0].Status = normalize.Flagged },
		"a deleted result": func(rep *normalize.Report) { rep.Records[0].Results = rep.Records[0].Results[1:] },
		"a printed rating": func(rep *normalize.Report) { rep.Records[0].Results[0].Printed.Rating = "Splendid" },
	} {
		rep := &normalize.Report{}
		if err := json.Unmarshal(sound, rep); err != nil {
			t.Fatal(err)
		}
		change(rep)
		b, err := rep.JSON()
		if err != nil {
			t.Fatal(err)
		}
		put(b)
		t.Log(what)
		tells("altered-in-place", "was altered in place since it was signed on ")
	}
	put(sound)
	must(t, exitDone, "audit", "-q", "--office", office)
	// A newer version beside the one that was signed is no difference.
	rep := &normalize.Report{}
	if err := json.Unmarshal(sound, rep); err != nil {
		t.Fatal(err)
	}
	rep.Version += ", a later one"
	b, err := rep.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if v, _, err := a.PutReport(id, b); err != nil || v != 2 {
		t.Fatal(v, err)
	}
	if out := must(t, exitDone, "audit", "-q", "--office", office); !strings.Contains(out, "newer version: 1 ("+id+")") {
		t.Errorf("a newer version is not told:\n%s", out)
	}
	must(t, exitDone, "archive", "verify", "--office", office)
	// A report that is gone as a whole.
	if err := os.RemoveAll(filepath.Dir(at)); err != nil {
		t.Fatal(err)
	}
	tells("gone-since-signed", "is gone since it was signed on ")
	if out := must(t, exitFailed, "audit", "-q", "--office", office); strings.Contains(out, "report-missing") {
		t.Errorf("one report that is gone is told twice:\n%s", out)
	}
	// Without a sign-off the note of its arrival still names it.
	if err := os.RemoveAll(filepath.Join(office, "archive", archive.SignOffs)); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(office, "archive", archive.SignOffs), 0o700); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitFailed, "audit", "-q", "--office", office); !strings.Contains(out, id+": [report-missing] the report that was made of CP26-A017.pdf") {
		t.Errorf("a report that is gone is not told:\n%s", out)
	}
	if out := must(t, exitDone, "audit", "-q", "--office", office, "--period", "1999"); strings.Contains(out, id) {
		t.Errorf("a report of another period is told:\n%s", out)
	}
}
