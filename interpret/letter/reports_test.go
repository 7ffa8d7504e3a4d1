package letter_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/ingest/sheet"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/labs"
	"example.org/windrow/normalize"
)

const labFolder = "../../testdata/labs/"

// reportOf reads a report all the way; nil when no mapping knows it.
func reportOf(t *testing.T, set *mappings.Set, file string) *normalize.Report {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	src := ingest.NewSource(filepath.Base(file), b)
	var readers []ingest.Reader
	switch filepath.Ext(file) {
	case ".pdf":
		readers = append(readers, pdf.New())
	case ".xlsx":
		readers = append(readers, sheet.New())
	case ".csv":
		for _, d := range set.Dialects() {
			readers = append(readers, delimited.New(d))
		}
	}
	var docs []*ingest.Document
	for _, r := range readers {
		if doc, err := r.Read(context.Background(), src, ingest.DefaultLimits()); err == nil {
			docs = append(docs, doc)
		}
	}
	m, reason := set.Recognise(docs)
	if reason != nil {
		t.Logf("%s: %s", file, reason.What)
		return nil
	}
	return normalize.Build(m.Read(), normalize.Options{Version: "test"})
}

// TestLettersOfReports reads the reports of the laboratories whose mappings
// are built in, and writes a letter for every sample.
func TestLettersOfReports(t *testing.T) {
	set, faults := mappings.LoadFS(labs.FS, normalize.Vocabulary())
	for _, f := range faults {
		t.Fatal(f)
	}
	rs := ruleSet(t)
	count := map[string]int{}
	total := 0
	single, looked := 0, 0
	for _, lab := range []string{"thrushgate-garden-soil-desk", "verrin-analytical", "marrow-brook-land-water-testing", "oxbow-tansy-agronomy-laboratory"} {
		files, err := filepath.Glob(labFolder + lab + "/*")
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if !slices.Contains([]string{".pdf", ".xlsx", ".csv"}, filepath.Ext(f)) || strings.Contains(f, "-5000") || strings.Contains(f, "-load-") {
				continue // guides, and the load files, which hold nothing that the others don't
			}
			rep := reportOf(t, set, f)
			if rep == nil {
				continue
			}
			for _, rec := range rep.Records {
				total++
				a := interpret.Advise(rec, rep, rs, interpret.Ask{On: "2026-06-15", AreaSqFt: "500"})
				count[fmt.Sprintf("%-8s %s", a.Outcome, a.LandUse.ID)]++
				if a.Outcome != interpret.Advised {
					var codes []string
					for _, q := range a.Questions {
						codes = append(codes, q.Code)
					}
					count[fmt.Sprintf("%-8s %s because %s", a.Outcome, a.LandUse.Said, strings.Join(codes, " "))]++
				}
				if err := (&letter.Letter{Advice: a, Record: rec, Report: rep, Office: office}).HTML(io.Discard); err != nil {
					t.Errorf("%s %s: %v", f, rec.ID, err)
				}
				if total%8 == 0 { // a PDF takes its time
					for _, lang := range letter.Languages() {
						looked++
						if n := len(wordsOf(t, rec.ID, pdfOf(t, &letter.Letter{Advice: a, Record: rec, Report: rep, Office: office, Language: lang}))); n == 1 {
							single++
						} else if n > 2 {
							t.Errorf("%s %s: %d pages in %s", f, rec.ID, n, lang)
						}
					}
				}
				x, err := a.JSON()
				y, _ := interpret.Advise(rec, rep, rs, interpret.Ask{On: "2026-06-15", AreaSqFt: "500"}).JSON()
				if err != nil || !bytes.Equal(x, y) {
					t.Errorf("%s %s: the same record gave two advices", f, rec.ID)
				}
				if rec.Client != nil && rec.Client.Name != "" && bytes.Contains(x, []byte(rec.Client.Name)) {
					t.Errorf("%s %s: the advice holds the client's name", f, rec.ID)
				}
				for _, g := range a.Ratings {
					if strings.Contains(g.Method, "Mehlich-1") && g.Class != "" {
						t.Errorf("%s %s: %s by %s is rated by tables for Mehlich-3", f, rec.ID, g.Analyte, g.Method)
					}
				}
				if rec.Status != normalize.OK && a.Outcome == interpret.Advised {
					t.Errorf("%s %s: a record that is %s is advised on without a question", f, rec.ID, rec.Status)
				}
			}
		}
	}
	for _, k := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%4d %s", count[k], k)
	}
	if t.Logf("%d of %d are one page", single, looked); looked < 60 || single*100 < 90*looked {
		t.Errorf("only %d of %d are one page", single, looked)
	}
	if total < 200 {
		t.Errorf("only %d samples were read", total)
	}
}

// One letter of a real report, worked by hand from what the report prints:
// pH 5.8, Mehlich buffer 5.90; acidity 4 x (6.6 - 5.9) = 2.8; 2.8 x (6.5 -
// 5.8) / (6.6 - 5.8) = 2.45 tons/acre for 8 inches, half of it for a lawn, x
// 45.914 = 56.2 lb/1000 sq ft, over the cap of 50 and so in two parts of 28.
func TestOneLawnByHand(t *testing.T) {
	set, _ := mappings.LoadFS(labs.FS, normalize.Vocabulary())
	rep := reportOf(t, set, labFolder+"thrushgate-garden-soil-desk/TG-26-01217.pdf")
	if rep == nil || len(rep.Records) != 1 {
		t.Fatal("the report was not read")
	}
	a := interpret.Advise(rep.Records[0], rep, ruleSet(t), interpret.Ask{On: "2026-06-15", AreaSqFt: "500"})
	if len(a.Lines) == 0 || a.Lines[0].ID != "lime" {
		t.Fatalf("%+v", a.Lines)
	}
	l := a.Lines[0]
	if !strings.HasPrefix(l.Need, "56.2") || len(l.Parts) != 2 || l.Parts[0].PerArea[0].Lb != "14" || l.Parts[0].PerArea[1].Lb != "28" {
		t.Errorf("%s %+v", l.Need, l.Parts)
	}
}
