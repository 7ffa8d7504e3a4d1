package draft

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/bundle"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/ingest/htmltable"
	"example.org/windrow/ingest/mail"
	"example.org/windrow/ingest/pdf"
	xlsx "example.org/windrow/ingest/sheet"
	"example.org/windrow/ingest/xls"
	"example.org/windrow/mappings"
)

// The truth files were written by the program that made the reports, not by
// this one.
type truth struct {
	Samples []struct {
		Lab     string `json:"lab_sample_id"`
		Results []struct {
			Analyte string   `json:"analyte"`
			Printed string   `json:"printed"`
			Unit    string   `json:"printed_unit"`
			Basis   string   `json:"basis"`
			Method  string   `json:"method"`
			Missing *string  `json:"missing"`
			Cell    *float64 `json:"cell_value"`
		} `json:"results"`
	} `json:"samples"`
}

const labsDir = "../../testdata/labs"

// readWays reads a file as the drafting command does.
func readWays(t testing.TB, path string) []*ingest.Document {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return readSource(ingest.NewSource(filepath.Base(path), b))
}

// members are the files in a mail or an archive.
func members(t testing.TB, path string) []*ingest.Source {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	src := ingest.NewSource(filepath.Base(path), b)
	switch ingest.Sniff(src.Name, b) {
	case ingest.KindMail:
		out, _, _ := mail.Expand(src, ingest.Limits{}.OrDefault())
		return out
	case ingest.KindZip:
		out, _ := bundle.Expand(src, ingest.Limits{}.OrDefault())
		return out
	}
	return nil
}

func readSource(src *ingest.Source) []*ingest.Document {
	b := src.Bytes
	var readers []ingest.Reader
	switch ingest.Sniff(src.Name, b) {
	case ingest.KindPDF:
		readers = append(readers, pdf.New())
	case ingest.KindXLSX:
		readers = append(readers, xlsx.New())
	case ingest.KindXLS:
		readers = append(readers, xls.New())
	case ingest.KindHTML:
		readers = append(readers, htmltable.New())
	case ingest.KindText:
		for _, d := range Dialects(b) {
			readers = append(readers, delimited.New(d))
		}
	}
	var out []*ingest.Document
	for _, r := range readers {
		doc, err := r.Read(context.Background(), src, ingest.Limits{})
		if err == nil {
			out = append(out, doc)
		}
	}
	return out
}

func labFiles(t testing.TB, lab string) (files []string, docs [][]*ingest.Document) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(labsDir, lab, "*.*"))
	if err != nil || len(all) == 0 {
		t.Fatal(lab, err)
	}
	for _, f := range all {
		if strings.HasSuffix(f, ".md") {
			continue
		}
		all := [][]*ingest.Document{readWays(t, f)}
		for _, m := range members(t, f) {
			all = append(all, readSource(m))
		}
		for _, ways := range all {
			n := 0
			for _, d := range ways {
				for _, p := range d.Pages {
					n += len(p.Words)
					if p.Cols > 3 {
						n += len(p.Cells)
					}
				}
			}
			if n == 0 {
				continue // a picture, the text of a mail, or a kind that is not read here
			}
			files, docs = append(files, f), append(docs, ways)
		}
	}
	return files, docs
}

type score struct {
	want, right, wrong, asked, missed, extra, held int
	notes                                          []string
}

// scoreLab reads a laboratory's reports by a draft made from them and
// compares with the truth.
func scoreLab(t testing.TB, files []string, docs [][]*ingest.Document, dr *Draft) score {
	v := vocabulary()
	var sc score
	m, reasons := mappings.Decode("draft.yaml", []byte(dr.Text), v)
	for _, r := range reasons {
		t.Error(r)
	}
	if m == nil {
		t.Fatal("the draft does not decode:\n" + dr.Text)
	}
	lines := strings.Split(dr.Text, "\n")
	asks := map[int]bool{}
	resultAsked := false
	for i, l := range lines {
		if strings.Contains(l, "QUESTION") {
			asks[i+1] = true
			if strings.Contains(l, "reads: result}") {
				resultAsked = true
			}
		}
	}
	for i, f := range files {
		var tr truth
		b, err := os.ReadFile(filepath.Join(filepath.Dir(f), "truth", filepath.Base(f)+".json"))
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &tr); err != nil {
			t.Fatal(err)
		}
		best := 1 << 30
		var x *mappings.Extract
		for _, try := range mappings.TryMapping(m, docs[i], v) {
			if try.Extract == nil {
				continue
			}
			n := 0
			for _, r := range try.Extract.Reasons {
				if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
					n++
					if r.Code == "layout-changed" {
						n += 100 // as a Set ranks the layouts of a laboratory
					}
				}
			}
			if n < best {
				best, x = n, try.Extract
			}
		}
		if best > 0 {
			sc.held++
		}
		got := map[string][]mappings.Reading{}
		if x != nil {
			for _, r := range x.Reasons {
				if r.Severity != ingest.Note && len(sc.notes) < 400 {
					sc.notes = append(sc.notes, filepath.Base(f)+": "+r.Code+": "+r.What+" | "+r.Expected+" | "+r.Found)
				}
			}
			for _, s := range x.Samples {
				id := s.Fields[mappings.LabSampleID].Value
				got[id] = append(got[id], s.Readings...)
			}
		} else {
			sc.notes = append(sc.notes, filepath.Base(f)+": no layout recognised it")
		}
		for _, s := range tr.Samples {
			if !holdsText(docs[i][0], s.Lab) {
				continue // another file of the same mail or archive has it
			}
			rest := append([]mappings.Reading(nil), got[s.Lab]...)
			for _, w := range s.Results {
				if a := id(v, w.Analyte); a != "" {
					w.Analyte = a
				}
				sc.want++
				k := -1
				for j, r := range rest {
					if r.Analyte == w.Analyte && mappings.Normalise(r.Printed) == mappings.Normalise(w.Printed) {
						k = j
						break
					}
				}
				for j, r := range rest {
					// A cell between two shown values may be shown as either.
					if full, err := strconv.ParseFloat(r.Full, 64); k < 0 && err == nil && w.Cell != nil && full == *w.Cell && r.Analyte == w.Analyte {
						k = j
					}
				}
				if k < 0 {
					for j, r := range rest {
						if r.Analyte == w.Analyte && r.Missing != "" && w.Missing != nil {
							k = j
						}
					}
				}
				if k < 0 {
					sc.missed++
					if len(sc.notes) < 400 {
						sc.notes = append(sc.notes, fmt.Sprintf("%s: %s: missed %s %s %s", filepath.Base(f), s.Lab, w.Analyte, w.Printed, w.Unit))
					}
					continue
				}
				r := rest[k]
				rest = append(rest[:k], rest[k+1:]...)
				if why := differs(v, r, w.Analyte, w.Unit, w.Basis, w.Method); why != "" {
					sc.fault(asks[r.Rule.Line] || testAsked(m, r, asks) || resultAsked, fmt.Sprintf("%s: %s %s: %s", filepath.Base(f), s.Lab, w.Analyte, why))
					continue
				}
				sc.right++
			}
			for _, r := range rest {
				if r.Missing != "" {
					continue // a test that was not run, which the truth leaves out
				}
				sc.extra++
				sc.fault(asks[r.Rule.Line] || testAsked(m, r, asks) || resultAsked, fmt.Sprintf("%s: %s: invented %s %s %s", filepath.Base(f), s.Lab, r.Analyte, r.Printed, r.Unit))
			}
		}
	}
	return sc
}

// holdsText reports whether a document has a text on its pages.
func holdsText(doc *ingest.Document, text string) bool {
	for _, p := range doc.Pages {
		for _, w := range p.Words {
			if strings.Contains(w.Text, text) {
				return true
			}
		}
		for _, c := range p.Cells {
			if c.Text == text {
				return true
			}
		}
	}
	return false
}

func (s *score) fault(asked bool, note string) {
	if asked {
		s.asked++
		note = "(asked) " + note
	} else {
		s.wrong++
		note = "WRONG " + note
	}
	s.notes = append(s.notes, note)
}

func testAsked(m *mappings.Mapping, r mappings.Reading, asks map[int]bool) bool {
	for _, t := range m.Tests {
		if t.Analyte == r.Analyte && t.Detail == r.Detail && t.Basis == r.Basis && asks[t.Place.Line] {
			return true
		}
	}
	return false
}

// differs says in what a reading is not what the truth has.
func differs(v mappings.Vocabulary, r mappings.Reading, analyte, unit, basis, method string) string {
	if unit != "" {
		id, _ := v.Resolve(mappings.UnitWord, unit)
		if a, _, ok := unitOf(v, unit); ok {
			id = a
		}
		if id != r.Unit {
			return fmt.Sprintf("unit %q for %q", r.Unit, unit)
		}
	}
	want := basis
	if want == analyte || strings.HasPrefix(want, "Ca sat") || id(v, want) == analyte {
		want = ""
	}
	got := r.Basis
	if got != want && (got == "P2O5" || got == "K2O" || want == "P2O5" || want == "K2O" || got == "index" || want == "index") {
		return fmt.Sprintf("basis %q for %q", got, basis)
	}
	a := r.Method
	b, _ := v.Resolve(mappings.MethodWord, method)
	if a != "" && b != "" && a != b && !strings.HasPrefix(b, a) {
		return fmt.Sprintf("method %q for %q", a, b)
	}
	return ""
}

func id(v mappings.Vocabulary, s string) string {
	a, _ := v.Resolve(mappings.AnalyteWord, s)
	return a
}

// TestLeaveOneOut drafts each laboratory's mapping from its reports alone.
func TestLeaveOneOut(t *testing.T) {
	labs, err := os.ReadDir(labsDir)
	if err != nil {
		t.Fatal(err)
	}
	table := fmt.Sprintf("%-46s %6s %6s %6s %6s %6s %6s  %-14s %s\n", "laboratory", "true", "right", "wrong", "asked", "missed", "%", "held reports", "lines with questions")
	ran := 0
	for _, l := range labs {
		if only := os.Getenv("DRAFT_SHOW"); !strings.HasPrefix(l.Name(), only) {
			continue // a person looks at one laboratory
		}
		files, docs := labFiles(t, l.Name())
		if len(files) == 0 {
			table += fmt.Sprintf("%-46s no text that these readers read\n", l.Name())
			continue
		}
		dr, _ := Propose(docs, Options{Vocabulary: vocabulary()})
		if dr == nil {
			t.Errorf("%s: nothing proposed", l.Name())
			continue
		}
		ran++
		if os.Getenv("DRAFT_SHOW") != "" && strings.HasPrefix(l.Name(), os.Getenv("DRAFT_SHOW")) {
			fmt.Println(dr.Text)
		}
		sc := scoreLab(t, files, docs, dr)
		lines := map[int]bool{}
		for _, q := range dr.Questions {
			lines[q.Line] = true
		}
		pc := 100 * float64(sc.right) / float64(max(1, sc.want))
		table += fmt.Sprintf("%-46s %6d %6d %6d %6d %6d %6.1f  %4d of %-6d %d of %d\n", l.Name(), sc.want, sc.right, sc.wrong, sc.asked, sc.missed, pc, sc.held, len(files), len(lines), strings.Count(dr.Text, "\n"))
		if os.Getenv("DRAFT_SHOW") != "" && strings.HasPrefix(l.Name(), os.Getenv("DRAFT_SHOW")) {
			sort.SliceStable(sc.notes, func(i, j int) bool {
				return !strings.Contains(sc.notes[i], "missed") && strings.Contains(sc.notes[j], "missed")
			})
			for _, n := range sc.notes[:min(len(sc.notes), 60)] {
				fmt.Println(n)
			}
		}
		if sc.wrong > 0 {
			for _, n := range sc.notes {
				if strings.HasPrefix(n, "WRONG") {
					t.Errorf("%s: %s", l.Name(), n)
				}
			}
		}
		if pc < 85 {
			t.Errorf("%s: %.1f %% read rightly, and 85 is the least", l.Name(), pc)
		}
	}
	t.Log("\n" + table)
	if ran == 0 {
		t.Fatal("no laboratory was tried")
	}
}
