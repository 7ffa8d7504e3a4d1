package audit

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// Again compares the printed text of every result of a report with what
// stands at its place in the original, read again as docs: one document for
// each way of reading it, of which one has to agree. version is that in the
// archive. texts counts what was compared.
func Again(rep *normalize.Report, version int, docs []*ingest.Document) (found []Difference, texts int) {
	var pages []*lookup
	for _, d := range docs {
		for _, p := range d.Pages {
			pages = append(pages, newLookup(p))
		}
	}
	for _, rec := range rep.Records {
		for _, res := range rec.Results {
			if d := labelAgain(rep, version, rec, res, pages); d != nil {
				found = append(found, *d)
			}
			if res.Printed.Text == "" || res.Printed.Place.IsZero() {
				continue
			}
			texts++
			var have []string
			for _, l := range pages {
				if s, ok := l.at(res.Printed.Place); ok {
					have = append(have, s)
				}
			}
			if slices.ContainsFunc(have, func(s string) bool { return shows(s, res.Printed.Text) }) {
				continue
			}
			d := Difference{Code: CodePlace, Report: rep.ID, Version: version, Record: rec.ID, Lab: rep.Lab.ID, Result: label(res),
				What: "the original, read again, does not show the printed text at its place, " + res.Printed.Place.Inside(), Expected: "“" + strings.Join(have, "” or “") + "”", Found: "“" + res.Printed.Text + "”"}
			if len(have) == 0 {
				d.Expected = "nothing stands there"
			}
			found = append(found, d)
		}
	}
	return found, texts
}

// labelAgain compares the label of a result with what stands at its place in
// the original; nil where they agree. Of a heading of several levels the place
// is that of its own words, and the wider ones stand above.
func labelAgain(rep *normalize.Report, version int, rec *normalize.Record, res *normalize.Result, pages []*lookup) *Difference {
	p := res.Printed.Label
	if p == nil || p.Place.IsZero() {
		return nil
	}
	levels := strings.Split(p.Text, mappings.HeadingLevels)
	var have []string
	for _, l := range pages {
		s, ok := l.at(p.Place)
		if !ok {
			continue
		}
		have = append(have, s)
		for i := range levels {
			for j := i + 1; j <= len(levels); j++ {
				if own := strings.Join(levels[i:j], " "); shows(s, own) || wordsIn(s, own) {
					return nil
				}
			}
		}
	}
	d := &Difference{Code: CodePlace, Report: rep.ID, Version: version, Record: rec.ID, Lab: rep.Lab.ID, Result: label(res),
		What: "the original, read again, does not show the label of the result at its place, " + p.Place.Inside(), Expected: "“" + strings.Join(have, "” or “") + "”", Found: "“" + p.Text + "”"}
	if len(have) == 0 {
		d.Expected = "nothing stands there"
	}
	return d
}

// wordsIn reports whether every word of a text stands there, as often as the
// text has it: the words of a turned or divided heading come in another order.
func wordsIn(there, text string) bool {
	left := strings.Fields(there)
	for _, w := range strings.Fields(text) {
		i := slices.Index(left, w)
		if i < 0 {
			return false
		}
		left = slices.Delete(left, i, i+1)
	}
	return true
}

// A lookup finds what stands at a place of a page.
type lookup struct {
	page  *ingest.Page
	cells map[string]string
}

func newLookup(p *ingest.Page) *lookup {
	l := &lookup{page: p, cells: make(map[string]string, len(p.Cells))}
	for i := range p.Cells {
		l.cells[p.PlaceOfCell(&p.Cells[i]).Inside()] = p.Cells[i].Text
	}
	return l
}

// at is the text at a place, false where the place is not of this page.
func (l *lookup) at(p ingest.Place) (string, bool) {
	if len(l.cells) > 0 || p.Box == nil {
		s, ok := l.cells[p.Inside()]
		return s, ok
	}
	if p.Page != l.page.Number {
		return "", false
	}
	var words []string
	for i := range l.page.Words {
		// A word belongs to the box when most of it is in it: boxes are kept
		// to fractions of a point.
		w := &l.page.Words[i]
		if b := w.Box; b.OverlapX(*p.Box) > b.Width()/2 && b.OverlapY(*p.Box) > b.Height()/2 || inside(*p.Box, b) {
			words = append(words, w.Text)
		}
	}
	return strings.Join(words, " "), len(words) > 0
}

// inside reports whether most of a lies in b: where a result is a part of a
// word, as in pH:6.5.
func inside(a, b ingest.Box) bool {
	return a.OverlapX(b) > a.Width()/2 && a.OverlapY(b) > a.Height()/2
}

// shows reports whether text stands in what is at a place, not as a part of
// a longer number. Spaces are no difference.
func shows(there, text string) bool {
	squeeze := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsSpace(r) {
				return -1
			}
			return r
		}, s)
	}
	there, text = squeeze(there), squeeze(text)
	for from := 0; ; {
		i := strings.Index(there[from:], text)
		if i < 0 {
			return false
		}
		i += from
		before, after := there[:i], there[i+len(text):]
		if !continues(before, text[:1], true) && !continues(after, text[len(text)-1:], false) {
			return true
		}
		from = i + 1
	}
}

// continues reports whether a digit at the edge of a text goes on beyond it.
func continues(beyond, edge string, atEnd bool) bool {
	if beyond == "" || edge < "0" || edge > "9" {
		return false
	}
	c := beyond[0]
	if atEnd {
		c = beyond[len(beyond)-1]
	}
	if c >= '0' && c <= '9' {
		return true
	}
	if c != '.' && c != ',' {
		return false
	}
	// A point or comma goes on only where a digit follows it.
	if atEnd {
		return len(beyond) > 1 && beyond[len(beyond)-2] >= '0' && beyond[len(beyond)-2] <= '9'
	}
	return len(beyond) > 1 && beyond[1] >= '0' && beyond[1] <= '9'
}

// NotReread enters that a report's texts could not be compared, and why.
func (r *Reread) NotReread(rep *normalize.Report, why string) {
	n := 0
	for _, rec := range rep.Records {
		n += len(rec.Results)
	}
	r.Without += n
	r.Open = append(r.Open, fmt.Sprintf("%s (%s, %d results): %s", FileOf(rep), rep.ID, n, why))
}
