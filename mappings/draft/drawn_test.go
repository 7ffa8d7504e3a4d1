package draft

import (
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// drawn turns lines of text into a page as a typewriter would print it: a
// character is 6 points wide and a line 12 points high.
func drawn(text string) *ingest.Document {
	p := &ingest.Page{Number: 1, Width: 612, Height: 792}
	for i, l := range strings.Split(strings.Trim(text, "\n"), "\n") {
		y := 20 + 12*float64(i)
		for c := 0; c < len(l); {
			if l[c] == ' ' {
				c++
				continue
			}
			e := c
			for e < len(l) && l[e] != ' ' {
				e++
			}
			p.Words = append(p.Words, ingest.Word{Text: l[c:e], Box: ingest.Box{X0: 6 * float64(c), Y0: y, X1: 6 * float64(e), Y1: y + 10}, Base: y + 8, Size: 10})
			c = e
		}
	}
	return &ingest.Document{Source: ingest.SourceRef{Name: "a.pdf"}, Format: ingest.PDF, Pages: []*ingest.Page{p}}
}

// grid turns rows of cells, separated by bars, into a sheet; without a name
// into a delimited file.
func grid(text string, name string) *ingest.Document {
	p := &ingest.Page{Number: 1, Name: name}
	d := &ingest.Document{Source: ingest.SourceRef{Name: "a.xlsx"}, Format: ingest.XLSX, Pages: []*ingest.Page{p}}
	if name == "" {
		d.Format, d.Source.Name, d.Dialect = ingest.CSV, "a.csv", &ingest.Dialect{Encoding: "utf-8", Delimiter: ","}
	}
	for r, l := range strings.Split(strings.Trim(text, "\n"), "\n") {
		for c, t := range strings.Split(l, "|") {
			t = strings.TrimSpace(t)
			p.Rows, p.Cols = r+1, max(p.Cols, c+1)
			cell := ingest.Cell{Row: r + 1, Col: c + 1, Text: t, Kind: ingest.TextCell}
			if name == "" {
				cell.Line, cell.LineCol = r+1, c+1
			}
			if t != "" {
				p.Cells = append(p.Cells, cell)
			}
		}
	}
	return d
}

// drafted proposes a mapping for documents and gives what it reads from
// them, a reading a line, and the codes of reasons to hold them.
func drafted(t *testing.T, docs ...*ingest.Document) (string, *Draft) {
	t.Helper()
	v := vocabulary()
	var in [][]*ingest.Document
	for _, d := range docs {
		in = append(in, []*ingest.Document{d})
	}
	dr, reasons := Propose(in, Options{Vocabulary: v})
	if dr == nil {
		return "nothing: " + reasons[0].Code + "\n", nil
	}
	again, _ := Propose(in, Options{Vocabulary: v})
	if again == nil || again.Text != dr.Text {
		t.Error("the same documents give another text")
	}
	if os.Getenv("DRAFT_SHOW") == "shapes" {
		t.Log(dr.Text)
	}
	m, why := mappings.Decode("draft.yaml", []byte(dr.Text), v)
	for _, r := range why {
		t.Error(r)
	}
	if m == nil {
		t.Fatal(dr.Text)
	}
	var b strings.Builder
	for _, doc := range docs {
		var best *mappings.Extract
		for _, try := range mappings.TryMapping(m, []*ingest.Document{doc}, v) {
			if x := try.Extract; x != nil && (best == nil || len(x.Reasons) < len(best.Reasons)) {
				best = x
			}
		}
		if best == nil {
			b.WriteString("not recognised\n")
			continue
		}
		// No draft is used as it is: its questions hold what it reads.
		if asks := slices.ContainsFunc(best.Reasons, func(r *ingest.Reason) bool { return r.Code == "question-open" }); !asks || len(m.Questions) == 0 {
			t.Errorf("the draft has %d questions, and the report is held for them: %v\n%s", len(m.Questions), asks, dr.Text)
		}
		for _, s := range best.Samples {
			for _, r := range s.Readings {
				fmt.Fprintf(&b, "%s %s", s.Fields[mappings.LabSampleID].Value, r.Analyte)
				if r.Basis != "" {
					b.WriteString(" as " + r.Basis)
				}
				val := r.Censor + r.Number + r.Words
				if r.Missing != "" {
					val = r.Missing
				}
				fmt.Fprintf(&b, " = %s %s", val, r.Unit)
				if r.Rating != "" {
					b.WriteString(" " + r.Rating)
				}
				b.WriteString("\n")
			}
		}
		codes := map[string]bool{}
		for _, r := range best.Reasons {
			if r.Code != "question-open" && (r.Severity == ingest.Hold || r.Severity == ingest.Fail) {
				codes[r.Code] = true
				if os.Getenv("DRAFT_SHOW") == "shapes" {
					t.Log(r)
				}
			}
		}
		var cs []string
		for c := range codes {
			cs = append(cs, c)
		}
		sort.Strings(cs)
		for _, c := range cs {
			b.WriteString("! " + c + "\n")
		}
	}
	return b.String(), dr
}

// asks reports whether a line of the draft that holds text also holds a
// question.
func asks(dr *Draft, text string) bool {
	for _, l := range strings.Split(dr.Text, "\n") {
		if strings.Contains(l, text) && strings.Contains(l, "QUESTION") {
			return true
		}
	}
	return false
}
