package mappings

import (
	"strings"

	"example.org/windrow/ingest"
)

// A Companion is a document that a laboratory sends beside its reports and that
// is none itself: an invoice, a leaflet, a covering letter.
type Companion struct {
	What    string     // what it is, for people
	File    *Pattern   // what its file is called; nil for any name
	Texts   []*Pattern // all of them stand in it
	Numbers bool       // numbers that look like results may stand in it, such as the prices of tests
	Place   ingest.Place
}

// mostCompanionPages is how long a document may be that is no report: as far
// as recognising texts are looked for.
const mostCompanionPages = 5

// Companion is the declaration that fits a document read in one or more ways,
// nil for none. file is its name without a path. Only what is seen whole can
// fit: a page without text may be the picture of a report, and a scan, a hidden
// sheet or a long document is for a person. That no layout reads the document
// is for the caller to know.
func (m *Mapping) Companion(docs []*ingest.Document, file string) *Companion {
	for _, d := range docs {
		if len(m.NotReports) == 0 || d.Scanned() || len(d.Pages) > mostCompanionPages || !seenWhole(d) {
			continue
		}
		text := opener(d)
		for _, c := range m.NotReports {
			if c.fits(text, file) {
				return c
			}
		}
	}
	return nil
}

func (c *Companion) fits(text, file string) bool {
	if c.File != nil {
		if _, ok := c.File.values(normalise(file)); !ok {
			return false
		}
	}
	for _, p := range c.Texts {
		if !p.in(text) {
			return false
		}
	}
	return true
}

func seenWhole(d *ingest.Document) bool {
	for _, p := range d.Pages {
		if p.Hidden || len(p.Words)+len(p.Cells) == 0 || len(p.Cells) > 2000 {
			return false
		}
		for i := range p.Words {
			if p.Words[i].Ghost != "" {
				return false // text that nobody sees, as behind a picture
			}
		}
		for i := range p.Cells {
			if p.Cells[i].Hidden {
				return false
			}
		}
	}
	return len(d.Pages) > 0
}

// Lines are the level lines of a document, each from left to right, in pieces
// as a person sees them: words of a page less than an em apart, or a cell. Of a
// piece the text and the place are told.
func Lines(d *ingest.Document) [][]Piece {
	var out [][]Piece
	for _, p := range d.Pages {
		v := newView(d, p)
		for _, l := range v.lines {
			var line []Piece
			for _, run := range v.runs(l) {
				if text := strings.TrimSpace(joined(run)); text != "" {
					line = append(line, Piece{Text: text, Place: v.placeOf(run)})
				}
			}
			out = append(out, line)
		}
	}
	return out
}
