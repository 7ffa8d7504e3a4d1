package main

import (
	"context"
	"encoding/json"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

// allReadings is what the stages make of every report of the demonstration and
// of the test laboratories, in the order of their names.
func allReadings(t *testing.T) (all []*pipeline.Reading, files int) {
	t.Helper()
	st := loadStages(t)
	for _, r := range demo.Reports() {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource(r.Name, r.Bytes), pipeline.Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		all, files = append(all, rds...), files+1
	}
	err := filepath.WalkDir(filepath.Join("..", "..", "testdata", "labs"), func(p string, d fs.DirEntry, err error) error {
		if err == nil && filepath.Base(filepath.Dir(p)) == "truth" && strings.HasSuffix(p, ".json") {
			at := filepath.Join(filepath.Dir(filepath.Dir(p)), strings.TrimSuffix(filepath.Base(p), ".json"))
			all, files = append(all, readOnce(t, st, at)...), files+1
		}
		return err
	})
	if err != nil || files < 60 {
		t.Fatalf("only %d files (%v)", files, err)
	}
	return all, files
}

// Every value of every report there is follows from its printed number by the
// steps beside it, and every printed text stands at its place.
func TestAuditRecomputesEverything(t *testing.T) {
	k := audit.NewClerk(audit.Scope{}, normalize.Sources())
	texts, results, labels := 0, 0, map[*mappings.PrintedLabel]bool{}
	all, files := allReadings(t)
	var spent time.Duration
	for _, rd := range all {
		began := time.Now()
		found := k.Take(rd.Report, audit.Document{Report: rd.Report.ID, Version: 1})
		spent += time.Since(began)
		docs := rd.Docs
		if rd.Match != nil {
			docs = append(docs, rd.Match.Doc)
		}
		more, n := audit.Again(rd.Report, 1, docs)
		texts += n
		for _, rec := range rd.Report.Records {
			for _, res := range rec.Results {
				results++
				if labels[res.Printed.Label] = true; res.Printed.Label == nil || strings.TrimSpace(res.Printed.Label.Text) == "" || res.Printed.Label.Place.IsZero() {
					t.Errorf("%s: %s printed “%s” at %s has no label", rec.ID, res.Analyte, res.Printed.Text, res.Printed.Place)
				}
			}
		}
		for _, d := range append(found, more...) {
			t.Error(d)
		}
	}
	if len(labels)*2 > results {
		t.Errorf("%d labels of %d results: results of one column are to share theirs", len(labels), results)
	}
	n := k.Tally()
	t.Logf("%d files, %d reports, %d values recomputed, %d of them converted, %d steps, %d forms, %d texts at their places; %.1f µs a value", files, n.Reports, n.Values, n.Converted, n.Steps, n.Forms, texts,
		float64(spent.Microseconds())/float64(n.Values))
	if n.Values < 8000 || n.Converted < 4000 || texts < n.Values {
		t.Errorf("too few to mean anything: %+v, %d texts", n, texts)
	}
	if len(k.Account().Conversions) < 20 {
		t.Errorf("only %d conversions", len(k.Account().Conversions))
	}
}

// What somebody changes in the archive, and gives a fitting checksum, comes
// out by the command, with the place, what was expected and what was found.
func TestAuditCommandTellsDamage(t *testing.T) {
	office := settings(t, filepath.Join(t.TempDir(), "office"), "").dir
	must(t, exitDone, "run", "-q", "--office", office, "../../testdata/labs/calder-plains-growers-cooperative-laboratory/CP26-A017.pdf")
	must(t, exitDone, "audit", "-q", "--office", office)
	must(t, exitDone, "audit", "sign", "-q", "--office", office, "--name", "Ilse Marrow", "--decision", "accepted")
	a, err := archive.OpenExisting(filepath.Join(office, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	var id string
	var sound []byte
	if err := a.Each(archive.Reports, func(i string, _ int, b []byte) error { id, sound = i, b; return nil }); err != nil {
		t.Fatal(err)
	}
	put := func(change func(rep *normalize.Report)) {
		t.Helper()
		rep := &normalize.Report{}
		if err := json.Unmarshal(sound, rep); err != nil {
			t.Fatal(err)
		}
		change(rep)
		b, err := rep.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if _, isNew, err := a.PutReport(id, b); err != nil || !isNew {
			t.Fatal(isNew, err)
		}
	}
	phosphorus := func(rep *normalize.Report) *normalize.Result {
		for _, res := range rep.Records[0].Results {
			if res.Analyte == "P" && len(res.Steps) > 1 {
				return res
			}
		}
		t.Fatal("no phosphorus that was converted")
		return nil
	}
	for _, x := range []struct {
		code   string
		change func(rep *normalize.Report)
	}{
		{"step-differs", func(rep *normalize.Report) { phosphorus(rep).Steps[1].Factor = "0.437" }},
		{"step-differs", func(rep *normalize.Report) { phosphorus(rep).Steps[0].To.Value = "127.6" }},
		{"end-differs", func(rep *normalize.Report) { phosphorus(rep).Value = "55.65" }},
		{"chain-broken", func(rep *normalize.Report) { phosphorus(rep).Steps[1].From.Value = "127" }},
		{"input-differs", func(rep *normalize.Report) { phosphorus(rep).Steps[0].Inputs[0].Value = "2100000" }},
		{"source-unknown", func(rep *normalize.Report) { phosphorus(rep).Steps[1].Source = "hearsay" }},
		{"original-differs", func(rep *normalize.Report) { rep.Source.SHA256 = strings.Repeat("0", 64) }},
	} {
		put(x.change)
		out := must(t, exitFailed, "audit", "-q", "--office", office)
		if !strings.Contains(out, "["+x.code+"]") || !strings.Contains(out, id) || !strings.Contains(out, "    expected  ") {
			t.Errorf("%s is not told:\n%s", x.code, out)
		}
		if !strings.Contains(out, "newer version: 1 ("+id+")") {
			t.Errorf("what has changed since the sign-off is not told:\n%s", out)
		}
	}
	must(t, exitFailed, "audit", "sign", "-q", "--office", office, "--name", "Ilse Marrow", "--decision", "accepted")
	must(t, exitDone, "audit", "sign", "-q", "--office", office, "--name", "Ilse Marrow", "--decision", "accepted with remarks", "--note", "version 8 was a test")

	// A printed text that is not the page's shows only when the page is read.
	put(func(rep *normalize.Report) { phosphorus(rep).Printed.Text = "255*" })
	must(t, exitDone, "audit", "-q", "--office", office)
	if out := must(t, exitFailed, "audit", "-q", "--reread", "--office", office); !strings.Contains(out, "[printed-differs]") || !strings.Contains(out, "expected  “255”") {
		t.Errorf("a printed text that the page does not have is not told:\n%s", out)
	}
	// An original that can't be read any more is open, and no difference.
	ref, err := a.PutOriginal([]byte("%PDF-1.4\nnothing"))
	if err != nil {
		t.Fatal(err)
	}
	put(func(rep *normalize.Report) { rep.Source.SHA256 = ref.SHA256() })
	must(t, exitDone, "audit", "-q", "--office", office)
	if out := must(t, exitHeld, "audit", "-q", "--reread", "--office", office); !strings.Contains(out, "0 printed texts") {
		t.Errorf("an original that can't be read is not told:\n%s", out)
	}
	// A sign-off that was changed is found by verify, and taken by nobody.
	var of string
	if err := a.EachID(archive.SignOffs, func(id string) error { of = id; return nil }); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(office, "archive", archive.SignOffs, of[1:3], of, "0001.json")
	b, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(at, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at, []byte(strings.Replace(string(b), "Ilse Marrow", "Somebody Else", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(at + ".sha256"); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitFailed, "archive", "verify", "--office", office); !strings.Contains(out, "is not what was signed") {
		t.Errorf("verify does not tell a changed sign-off:\n%s", out)
	}
	must(t, exitFailed, "audit", "list", "--office", office)
}

// One digit of one stored number is changed, in results drawn at random with a
// fixed seed from all there are: value, factor, beginning and outcome of a
// step, and inputs that arithmetic rests on. The audit tells every one.
func TestAuditTellsAnyChangedDigit(t *testing.T) {
	all, _ := allReadings(t)
	c := audit.NewChecker(normalize.Sources())
	type place struct {
		rep *normalize.Report
		rec *normalize.Record
		res *normalize.Result
	}
	var places []place
	for _, rd := range all {
		c.Report(rd.Report, 1) // so that it knows the factor of each conversion
		for _, rec := range rd.Report.Records {
			for _, res := range rec.Results {
				if res.Value != "" && len(res.Steps) > 0 {
					places = append(places, place{rd.Report, rec, res})
				}
			}
		}
	}
	r := rand.New(rand.NewPCG(2026, 11))
	// another is s with one digit changed, never only in zeros that say nothing.
	another := func(s string) string {
		b := []byte(s)
		for {
			i := r.IntN(len(b))
			if b[i] < '0' || b[i] > '9' {
				continue
			}
			b[i] = '0' + (b[i]-'0'+byte(1+r.IntN(9)))%10
			return string(b)
		}
	}
	told := map[string][2]int{}
	for range 3000 {
		p := places[r.IntN(len(places))]
		res := *p.res // the readings are shared: what is changed is a copy
		res.Steps = append([]normalize.Step{}, res.Steps...)
		s := &res.Steps[r.IntN(len(res.Steps))]
		kind := []string{"value", "factor", "from", "to", "input"}[r.IntN(5)]
		was := s.Factor
		switch kind {
		case "value":
			res.Value = normalize.Decimal(another(string(res.Value)))
		case "factor":
			if s.Factor == "" {
				continue
			}
			s.Factor = another(s.Factor)
		case "from":
			s.From.Value = normalize.Decimal(another(string(s.From.Value)))
		case "to":
			s.To.Value = normalize.Decimal(another(string(s.To.Value)))
		case "input":
			if len(s.Inputs) == 0 || s.Inputs[0].Name == "depth" && s.Rule == "area/by-mass" {
				continue
			}
			s.Inputs = append([]normalize.Input{}, s.Inputs...)
			s.Inputs[0].Value = normalize.Decimal(another(string(s.Inputs[0].Value)))
			if strings.HasPrefix(s.Rule, "cell/") {
				continue // digits beyond those that the value keeps say nothing
			}
		}
		rep, rec := *p.rep, *p.rec
		rec.Results = []*normalize.Result{&res}
		for _, other := range p.rec.Results {
			if other.Analyte == "density" {
				rec.Results = append(rec.Results, other)
			}
		}
		rep.Records = []*normalize.Record{&rec}
		n := told[kind]
		n[0]++
		if len(c.Report(&rep, 1)) > 0 {
			n[1]++
		} else {
			t.Errorf("%s %s: a changed %s is not told: %+v (factor %s before)", rec.ID, res.Analyte, kind, *s, was)
		}
		told[kind] = n
	}
	for _, kind := range []string{"value", "factor", "from", "to", "input"} {
		t.Logf("%s: %d changed, %d told", kind, told[kind][0], told[kind][1])
		if told[kind][0] < 50 {
			t.Errorf("only %d of %s were changed", told[kind][0], kind)
		}
	}
}
