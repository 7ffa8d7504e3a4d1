package pipeline

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// tollgate is an invented laboratory that sends half of its results in the
// text of its mails and half in a list attached to them.
const tollgate = `windrow mapping: 1
lab: Tollgate Soil Rooms
id: tollgate
recognise: [Tollgate Job, Sample, Test]
tests:
  Sand %: {analyte: sand, unit: "%", method: hydrometer}
  Salts dS/m: {analyte: EC, unit: dS/m, method: "1:2 soil:water"}
  Potassium: {analyte: K, unit: mg/kg, method: Mehlich-3}
layouts:
  - name: list
    format: delimited
    separator: comma
    encoding: utf-8
    one sample each: row
    tables:
      - name: results
        each row: a reading
        heading row: 1
        columns:
          - {heading: Tollgate Job, reads: report_no}
          - {heading: Sample, reads: lab_sample_id}
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
  - name: message
    format: html
    recognise: [Tollgate Soil Rooms, Physical tests]
    one sample each: row
    report:
      - {text: "here are the results of job {report_no}."}
    tables:
      - name: physical
        each row: a sample
        columns:
          - {heading: Sample, reads: lab_sample_id}
          - {heading: Sand %}
          - {heading: Salts dS/m}
`

const (
	tollPage = `<html><body><h2>Tollgate Soil Rooms</h2><p>here are the results of job T71.</p><h3>Physical tests</h3>` +
		`<table><tr><th>Sample</th><th>Sand %</th><th>Salts dS/m</th></tr><tr><td>T71.1</td><td>62</td><td>0.38</td></tr></table></body></html>`
	tollList = "Tollgate Job,Sample,Test,Result,Unit\nT71,T71.1,Potassium,192,mg/kg\n"
)

type attached struct{ name, body string }

func tollMail(plain, page string, files ...attached) string {
	var b strings.Builder
	b.WriteString("From: r@tollgate.example\r\nSubject: T71\r\nMIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=o\r\n\r\n--o\r\nContent-Type: multipart/alternative; boundary=i\r\n\r\n")
	if plain != "" {
		fmt.Fprintf(&b, "--i\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n%s\r\n", plain)
	}
	if page != "" {
		fmt.Fprintf(&b, "--i\r\nContent-Type: text/html; charset=utf-8\r\n\r\n%s\r\n", page)
	}
	b.WriteString("--i--\r\n")
	for _, f := range files {
		fmt.Fprintf(&b, "--o\r\nContent-Type: application/octet-stream\r\nContent-Transfer-Encoding: base64\r\nContent-Disposition: attachment; filename=%q\r\n\r\n%s\r\n", f.name, base64.StdEncoding.EncodeToString([]byte(f.body)))
	}
	b.WriteString("--o--\r\n")
	return b.String()
}

func zipOf(t *testing.T, files ...attached) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w, err := z.Create(f.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(f.body)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// tollStages are stages that know the laboratory; more is added to its
// mapping.
func tollStages(t *testing.T, more string) *Stages {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "tollgate.yaml"), []byte(strings.Replace(tollgate, "tests:\n", more+"tests:\n", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	st, reasons := Load(Want{MappingDirs: []string{dir}, Workers: 1, Version: "test"})
	if len(reasons) > 0 || len(st.Amiss) > 0 {
		t.Fatal(reasons, st.Amiss)
	}
	t.Cleanup(func() { _ = st.Close() })
	return st
}

func swap(old, now string) string { return strings.Replace(tollPage, old, now, 1) }

// TestPartsOfAMailWaitTogether: where one part of a mail can't be used, none
// is; and a mail with nothing amiss is not held.
func TestPartsOfAMailWaitTogether(t *testing.T) {
	st := tollStages(t, "")
	list := attached{"results.csv", tollList}
	for _, c := range []struct{ name, mail, code string }{
		{"sound", tollMail("see the page", tollPage, list), ""},
		{"plain copy", tollMail("Sample T71.1  Sand %: 62  Salts dS/m: 0.38", tollPage, list), ""},
		{"talk", tollMail("Good day, job T71 is attached. Call 555-0166.", "", list), ""},
		{"zip of the list", tollMail("", tollPage, attached{"r.zip", zipOf(t, list)}), ""},
		{"other unit", tollMail("x", swap("Salts dS/m", "Salts mS/m"), list), "layout-changed"},
		{"empty attachment", tollMail("x", tollPage, list, attached{"more.csv", ""}), "empty-file"},
		{"broken PDF", tollMail("x", tollPage, list, attached{"r.pdf", "%PDF-1.4\n1 0 obj"}), "damaged"},
		{"unknown kind", tollMail("x", tollPage, list, attached{"letter.docx", "PK\x03\x04 and no more"}), "damaged"},
		{"unknown file in a zip", tollMail("x", tollPage, attached{"r.zip", zipOf(t, list, attached{"b.pdf", "%PDF-1.4\n"})}), "damaged"},
		{"other heading", tollMail("x", swap("Physical tests", "Physical analyses"), list), "message-with-numbers"},
		{"other name", tollMail("x", swap("Tollgate Soil Rooms", "Tollgate Rooms"), list), "message-with-numbers"},
		{"results in plain text", tollMail("Sample T71.1 has\npH: 6.4\n", "", list), "message-with-numbers"},
		{"plain text says more than the page", tollMail("pH: 6.4", tollPage, list), "message-with-numbers"},
	} {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(c.mail)), Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		var codes []string
		for _, rd := range rds {
			if (rd.Report.Status == normalize.Held) != (c.code != "") {
				t.Errorf("%s: %s is %s, %v", c.name, rd.Source.Title(), rd.Report.Status, rd.Report.Reasons)
			}
			for _, r := range inOrder(slices.Clone(rd.Report.Reasons)) {
				if stops(r) {
					codes = append(codes, r.Code)
					break
				}
			}
		}
		if c.code != "" && !slices.Contains(codes, c.code) {
			t.Errorf("%s: held for %v, want %s", c.name, codes, c.code)
		}
		if n := len(codes); c.code == "" && n > 0 {
			t.Errorf("%s: held for %v", c.name, codes)
		}
	}
}

// TestAMessageDeclaredNoReport: the mapping can say that what a laboratory
// writes in its mails is never a report.
func TestAMessageDeclaredNoReport(t *testing.T) {
	st := tollStages(t, "message body: not a report\n")
	rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(tollMail("x", swap("Physical tests", "Physical analyses"), attached{"results.csv", tollList}))), Defaults{})
	if err != nil || len(rds) != 1 || rds[0].Report.Status == normalize.Held || len(rds[0].Report.Records) != 1 {
		t.Fatalf("%v %v", rds[0].Report.Reasons, err)
	}
	if !slices.ContainsFunc(rds[0].Report.Reasons, func(r *ingest.Reason) bool { return r.Code == "message-not-read" && r.Severity == ingest.Note }) {
		t.Errorf("nothing tells that the message was not read: %v", rds[0].Report.Reasons)
	}
}

// TestFilesOfAnArchiveWaitWhereTheyShare: the files of a zip are reports of
// their own, unless a held one has the same sample or report number.
func TestFilesOfAnArchiveWaitWhereTheyShare(t *testing.T) {
	st := tollStages(t, "")
	bad := strings.ReplaceAll(tollList, "mg/kg", "lb/A")
	other := strings.ReplaceAll(tollList, "T71", "T80")
	for _, c := range []struct {
		name  string
		files []attached
		used  []string
	}{
		{"apart", []attached{{"a.csv", bad}, {"b.csv", other}}, []string{"b.csv"}},
		{"same report number", []attached{{"a.csv", bad}, {"b.csv", strings.Replace(tollList, "T71.1", "T71.2", 1)}}, nil},
		{"unreadable beside", []attached{{"a.pdf", "%PDF-1.4\n"}, {"b.csv", other}}, []string{"b.csv"}},
	} {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource("z.zip", []byte(zipOf(t, c.files...))), Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		var used []string
		for _, rd := range rds {
			if rd.Report.Status != normalize.Held {
				used = append(used, rd.Source.Member)
			}
		}
		if !slices.Equal(used, c.used) {
			t.Errorf("%s: used %v, want %v", c.name, used, c.used)
		}
	}
}

// TestAHeldMailMakesNoLetter: neither letters nor records come of any part of
// a held mail, its first reason is that which holds it, and what is used of a
// held archive is named.
func TestAHeldMailMakesNoLetter(t *testing.T) {
	dir := t.TempDir()
	cfg := &config.Config{Dir: dir, Archive: filepath.Join(dir, "archive"), Letters: filepath.Join(dir, "letters"), Done: filepath.Join(dir, "done"), Held: filepath.Join(dir, "held"), Datasets: filepath.Join(dir, "datasets"), Index: filepath.Join(dir, "index.sqlite")}
	o, err := OpenOffice(context.Background(), cfg, tollStages(t, ""))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := o.Close(); err != nil {
			t.Error(err)
		}
	}()
	process := func(name, body string) Outcome {
		return o.Process(context.Background(), Arrival{Source: ingest.NewSource(name, []byte(body)), Channel: "command", Time: time.Unix(1e9, 0)})
	}
	list := attached{"results.csv", tollList}
	out := process("m.eml", tollMail("x", tollPage, list, attached{"more.csv", ""}))
	if out.Status != Held || len(out.Letters()) > 0 || len(out.Used()) > 0 || len(out.Parts) != 3 || out.Reasons[0].Code != "empty-file" {
		t.Fatalf("%+v", out)
	}
	for _, p := range out.Parts {
		if p.Status != Held {
			t.Errorf("%s is %s", p.Member, p.Status)
		}
	}
	// The way out that the reason names: the attachment by itself.
	if out := process("results.csv", tollList); out.Status != OK && out.Status != Flagged || len(out.Letters()) != 1 {
		t.Fatalf("%+v", out)
	}
	if out := process("results.csv", tollList); out.Status != Duplicate {
		t.Errorf("the same file again is %s", out.Status)
	}
	out = process("z.zip", zipOf(t, attached{"a.pdf", "%PDF-1.4\n"}, attached{"b.csv", strings.ReplaceAll(tollList, "T71", "T80")}, list))
	if want := []string{"b.csv", "results.csv (which came before, as results.csv)"}; out.Status != Held || !slices.Equal(out.Used(), want) {
		t.Errorf("used %q, want %q", out.Used(), want)
	}
}
