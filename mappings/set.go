package mappings

import (
	"fmt"
	"io/fs"
	"net/mail"
	"regexp"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// A Set is the mappings of an office: those that come with Windrow and its
// own. It is not changed after it has been loaded and is safe for concurrent
// use.
type Set struct {
	vocab Vocabulary
	list  []*Mapping
}

// LoadFS reads every *.yaml file of a folder. Files with reasons against them
// are left out; the reasons say why.
func LoadFS(fsys fs.FS, vocab Vocabulary) (*Set, []*ingest.Reason) {
	s := &Set{vocab: vocab}
	return s, s.Add(fsys, vocab)
}

// Add reads a further folder. A mapping with the id of one already there
// takes its place, so that an office can correct what came with Windrow. A
// file with a mistake takes that place too, and leaves it empty: the older
// mapping that it was meant to replace would read reports by rules that
// somebody has found wrong, and the laboratory's reports wait instead.
func (s *Set) Add(fsys fs.FS, vocab Vocabulary) []*ingest.Reason {
	var out []*ingest.Reason
	entries, err := fs.ReadDir(fsys, ".")
	if err != nil {
		return []*ingest.Reason{{Code: "mapping-error", Severity: ingest.Fail, What: "the folder of mappings can't be read", Expected: "a folder of .yaml files", Found: err.Error(), Next: "check the mappings setting and the folder's rights"}}
	}
	here, broken := map[string]*Mapping{}, map[string]bool{}
	for _, e := range entries {
		if e.IsDir() || !strings.HasSuffix(e.Name(), ".yaml") {
			continue
		}
		b, err := fs.ReadFile(fsys, e.Name())
		if err != nil {
			out = append(out, &ingest.Reason{Code: "mapping-error", Severity: ingest.Fail, Where: ingest.Place{File: e.Name()}, What: "the mapping can't be read", Expected: "a readable file", Found: err.Error(), Next: "check the file's rights"})
			continue
		}
		m, reasons := Decode(e.Name(), b, vocab)
		out = append(out, reasons...)
		if m == nil {
			if id := idLine.FindSubmatch(b); id != nil {
				broken[string(id[1])] = true
			}
			continue
		}
		if o := here[m.ID]; o != nil {
			out = append(out, &ingest.Reason{Code: "mapping-error", Severity: ingest.Fail, Where: m.Place, What: fmt.Sprintf("two mappings have the id %q", m.ID), Expected: "each id once", Found: o.File + " has it too", Next: "give one of them another id"})
			continue
		}
		here[m.ID] = m
	}
	kept := s.list[:0:0]
	for _, m := range s.list {
		if here[m.ID] == nil && !broken[m.ID] {
			kept = append(kept, m)
		}
	}
	for _, m := range here {
		kept = append(kept, m)
	}
	sort.Slice(kept, func(i, j int) bool { return kept[i].ID < kept[j].ID })
	s.list = kept
	return out
}

// With gives a set in which a mapping stands in for the one of its id; the set
// itself stays as it is.
func (s *Set) With(m *Mapping) *Set {
	out := &Set{vocab: s.vocab}
	for _, o := range s.list {
		if o.ID != m.ID {
			out.list = append(out.list, o)
		}
	}
	out.list = append(out.list, m)
	sort.Slice(out.list, func(i, j int) bool { return out.list[i].ID < out.list[j].ID })
	return out
}

// idLine is a mapping's id, in a file that may not be well formed.
var idLine = regexp.MustCompile(`(?m)^id:[ \t]*"?([a-z0-9-]+)`)

// Mappings are the mappings of the set, by id.
func (s *Set) Mappings() []*Mapping { return s.list }

// Dialects are the distinct ways in which the set's delimited layouts are
// cut, in a fixed order. A delimited file is read once in each.
func (s *Set) Dialects() []ingest.Dialect {
	seen := map[ingest.Dialect]bool{}
	var out []ingest.Dialect
	for _, m := range s.list {
		for _, l := range m.Layouts {
			if l.Dialect != nil && !seen[*l.Dialect] {
				seen[*l.Dialect] = true
				out = append(out, *l.Dialect)
			}
		}
	}
	sort.Slice(out, func(i, j int) bool {
		return out[i].Encoding+out[i].Delimiter < out[j].Encoding+out[j].Delimiter
	})
	return out
}

// A Match is a mapping that recognised a report, with the reading of the
// layout that fits it best.
type Match struct {
	Mapping *Mapping
	Layout  *Layout
	Doc     *ingest.Document
	extract *Extract
}

// Read gives what was read from the report.
func (m *Match) Read() *Extract { return m.extract }

// A Try says how near one layout came to a document; for people who ask why
// a mapping did or did not match.
type Try struct {
	Mapping *Mapping
	Layout  *Layout
	Missing []string // recognising texts that are not in the document
	Against []string // texts that must not be there and are
	Extract *Extract // nil unless recognised
}

// Recognise finds the mapping for a report and reads it. docs are the same
// source read in each way that the set's layouts ask for (see Dialects). The
// reason is set, and the match nil, when no mapping or more than one fits.
func (s *Set) Recognise(docs []*ingest.Document) (*Match, *ingest.Reason) {
	return s.recognise(docs, true)
}

// RecogniseForReport is Recognise for who wants the report and not to be
// told of each number: every number is accounted for all the same, but the
// extract has no list of marks, which is longer than all the readings.
func (s *Set) RecogniseForReport(docs []*ingest.Document) (*Match, *ingest.Reason) {
	return s.recognise(docs, false)
}

func (s *Set) recognise(docs []*ingest.Document, list bool) (*Match, *ingest.Reason) {
	tries := s.try(docs, list)
	byLab := map[*Mapping][]*Match{}
	var labs []*Mapping
	for i, t := range tries {
		if t.Extract == nil {
			continue
		}
		if byLab[t.Mapping] == nil {
			labs = append(labs, t.Mapping)
		}
		byLab[t.Mapping] = append(byLab[t.Mapping], &Match{Mapping: t.Mapping, Layout: t.Layout, Doc: docOf(docs, t.Layout), extract: tries[i].Extract})
	}
	name := ""
	if len(docs) > 0 {
		name = docs[0].Source.Title()
	}
	if len(labs) == 0 {
		r := &ingest.Reason{Code: "lab-unknown", Severity: ingest.Hold, Where: ingest.Place{File: name},
			What: "no mapping recognises this file as a report of a laboratory that the office knows", Expected: s.expects(docs), Found: opening(docs),
			Next: "if it is a report, write a mapping for the laboratory; if not, file it elsewhere"}
		if r.Expected == "" {
			// Whatever the name says: a web page is often named as a workbook.
			r.What = "by what is in it, this file is " + inWords(docs) + ", and no mapping of the office reads such files"
			r.Expected = "a file of a kind that the laboratories of the office send"
			r.Next = "if it is a report, ask the laboratory for it in its usual form, such as a PDF; if this is its usual form now, write a mapping for it; if it is no report, file it elsewhere"
		} else if t := nearest(tries, docs); t != nil {
			r.Rule = t.Layout.Place
			r.What = fmt.Sprintf("this file names %s, but lacks texts by which the mapping knows the laboratory's reports", t.Mapping.Lab)
			r.Expected = "the text " + strings.Join(quoteAll(t.Missing), " and ")
			if more := len(t.Missing) - 3; more > 0 {
				r.Expected += fmt.Sprintf(" and %d more", more)
			}
			r.Expected += fmt.Sprintf(", by which the layout %q is recognised", t.Layout.Name)
			r.Next = "if it is a report in a new form, add a layout for it to " + t.Mapping.File + "; if not, file it elsewhere"
		}
		return nil, r
	}
	if sent := sentBy(labs, docs); len(sent) == 1 {
		labs = sent // the texts fit more than one laboratory; who sent the mail decides
	}
	if len(labs) > 1 {
		var ids []string
		for _, m := range labs {
			ids = append(ids, m.Lab+" ("+m.File+")")
		}
		return nil, &ingest.Reason{Code: "two-labs", Severity: ingest.Hold, Where: ingest.Place{File: name}, What: "more than one mapping recognises this file", Expected: "one laboratory", Found: listWords(ids),
			Next: "see first whether reports of two laboratories were joined into one file, and then drop in each by itself; otherwise make the recognise texts of the mappings more particular, or add unless: to one of them; senders: tells apart what comes by mail"}
	}
	ms := byLab[labs[0]]
	sort.SliceStable(ms, func(i, j int) bool { return badness(ms[i].extract) < badness(ms[j].extract) })
	if len(ms) > 1 && badness(ms[0].extract) == 0 && badness(ms[1].extract) == 0 {
		return nil, &ingest.Reason{Code: "two-layouts", Severity: ingest.Hold, Where: ingest.Place{File: name}, Rule: ms[1].Layout.Place, What: "two layouts of one laboratory read this file", Expected: "one layout", Found: ms[0].Layout.Name + " and " + ms[1].Layout.Name,
			Next: "give each layout a recognise text of its own, or dates in force that do not overlap"}
	}
	return ms[0], nil
}

// nearest is the layout that comes nearest to a document which names its
// laboratory, or nil: the one that misses the fewest texts.
func nearest(tries []*Try, docs []*ingest.Document) *Try {
	var best *Try
	texts := map[*ingest.Document]string{}
	for _, t := range tries {
		d := docOf(docs, t.Layout)
		if len(t.Missing) == 0 || len(t.Against) > 0 || d == nil {
			continue
		}
		if _, ok := texts[d]; !ok {
			texts[d] = normalise(opener(d))
		}
		if !strings.Contains(strings.ToLower(texts[d]), strings.ToLower(normalise(t.Mapping.Lab))) {
			continue
		}
		if best == nil || len(t.Missing) < len(best.Missing) {
			best = t
		}
	}
	return best
}

// sentBy are those of some laboratories that send from an address from which
// the mail with these documents came.
func sentBy(labs []*Mapping, docs []*ingest.Document) []*Mapping {
	var out []*Mapping
	for _, m := range labs {
		if slices.ContainsFunc(strings.Split(docs[0].Source.Senders, "\n"), m.sends) {
			out = append(out, m)
		}
	}
	return out
}

// sends reports whether a From line has an address of the laboratory.
func (m *Mapping) sends(from string) bool {
	a, err := mail.ParseAddress(from)
	if err != nil {
		return false
	}
	addr := strings.ToLower(a.Address)
	return slices.ContainsFunc(m.Senders, func(s string) bool {
		return addr == s || strings.HasSuffix(addr, "@"+s) || strings.HasSuffix(addr, "."+s)
	})
}

// badness counts the reasons that hold an extract. A layout that is not on
// the report at all explains less than one that reads it and leaves lines
// over, however many.
func badness(e *Extract) int {
	n := 0
	for _, x := range e.Reasons {
		if x.Severity == ingest.Hold || x.Severity == ingest.Fail {
			n++
			if x.Code == "layout-changed" {
				n += 100
			}
		}
	}
	return n
}

// Try tries every layout of the set on a report and says how near each came.
func (s *Set) Try(docs []*ingest.Document) []*Try { return s.try(docs, true) }

func (s *Set) try(docs []*ingest.Document, list bool) []*Try {
	var out []*Try
	texts := map[*ingest.Document]string{}
	best := map[*Mapping]*Extract{}
	for _, d := range docs {
		texts[d] = opener(d)
	}
	for _, m := range s.list {
		for _, l := range m.Layouts {
			d := docOf(docs, l)
			if d == nil {
				continue
			}
			t := &Try{Mapping: m, Layout: l}
			out = append(out, t)
			marks := m.Recognise
			if len(l.Recognise) > 0 {
				marks = l.Recognise
			}
			for _, p := range marks {
				if !p.in(texts[d]) {
					t.Missing = append(t.Missing, p.Src)
				}
			}
			for _, p := range m.Unless {
				if p.in(texts[d]) {
					t.Against = append(t.Against, p.Src)
				}
			}
			if len(t.Missing) == 0 && len(t.Against) == 0 {
				t.Extract = readLayout(d, l, s.vocab, list)
				if !list {
					best[m] = letGo(best[m], t.Extract)
				}
			}
		}
	}
	return out
}

// letGo is the better of two extracts by layouts of one mapping, the earlier
// where they are alike. The other keeps the reasons that rank it and loses
// its samples, which nobody asks for and which may be many.
func letGo(was, now *Extract) *Extract {
	if was == nil {
		return now
	}
	better, worse := was, now
	if badness(now) < badness(was) {
		better, worse = now, was
	}
	worse.Samples = nil
	return better
}

// docOf is the document read in the way that a layout asks for, or nil.
func docOf(docs []*ingest.Document, l *Layout) *ingest.Document {
	for _, d := range docs {
		if d.Format != l.Format {
			continue
		}
		if l.Dialect == nil && d.Dialect == nil || l.Dialect != nil && d.Dialect != nil && *l.Dialect == *d.Dialect {
			return d
		}
	}
	return nil
}

// opener is the text in which recognising texts are looked for: all visible
// text of the first pages or sheets, line by line, cells apart by spaces.
func opener(d *ingest.Document) string {
	var b strings.Builder
	for i, p := range d.Pages {
		if i >= 5 {
			break
		}
		if p.Hidden {
			continue
		}
		if p.Name != "" {
			b.WriteString(normalise(p.Name) + " ")
		}
		v := newView(d, &ingest.Page{Number: p.Number, Name: p.Name, Width: p.Width, Height: p.Height, Words: p.Words, Cells: p.Cells[:min(len(p.Cells), 2000)]})
		b.WriteString(joined(v.atoms) + " ")
		b.WriteString(joined(v.turned) + " ")
	}
	return b.String()
}

// opening is the beginning of a document, for messages.
func opening(docs []*ingest.Document) string {
	if len(docs) == 0 {
		return "nothing that can be read"
	}
	t := strings.TrimSpace(opener(docs[0]))
	if t == "" {
		return "no text"
	}
	rs := []rune(t)
	if len(rs) > 120 {
		rs = append(rs[:120], '.', '.', '.')
	}
	return "it begins: " + string(rs)
}

// inWords is the kind of a file by what is in it.
func inWords(docs []*ingest.Document) string {
	if len(docs) > 0 {
		switch docs[0].Format {
		case ingest.HTML:
			return "a web page"
		case ingest.XLSX:
			return "a workbook"
		case ingest.PDF:
			return "a PDF"
		case ingest.CSV:
			return "a plain table of text"
		}
	}
	return "of a kind by itself"
}

// expects lists the laboratories whose reports come in this format, "" for
// none.
func (s *Set) expects(docs []*ingest.Document) string {
	var labs []string
	for _, m := range s.list {
		for _, l := range m.Layouts {
			if docOf(docs, l) != nil && !contains(labs, m.Lab) {
				labs = append(labs, m.Lab)
			}
		}
	}
	if len(labs) == 0 {
		return ""
	}
	if len(labs) > 6 {
		return fmt.Sprintf("a report of %s or another of %d laboratories", strings.Join(labs[:5], ", "), len(labs)-5)
	}
	return "a report of " + strings.Join(labs, ", ")
}
