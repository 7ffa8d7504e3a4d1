package pdf

import (
	"fmt"

	"example.org/windrow/ingest"
)

// A tally adds up over the pages whether the text can be relied on.
type tally struct {
	pages    int
	visible  int // characters that a person sees
	pictures int // pages that are pictures
	unread   *ingest.Reason
}

// The shares that decide.
const (
	mostDoubtful = 0.20 // of a page's characters; more, and the page's text is not text
	fullPicture  = 0.30 // of a page without text; a smaller picture is a logo
	// Scanners add a line of their own to a picture of a whole page.
	mainlyPicture = 0.50
	fewCharacters = 60
)

// add takes a page into the tally, and notes what the document should say of
// it. The words at the indexes cut are partly hidden.
func (t *tally) add(p *ingest.Page, seen *pageSeen, cut []int) (notes []*ingest.Reason) {
	t.pages++
	good, bad := 0, 0
	for i := range seen.glyphs {
		switch gl := &seen.glyphs[i]; {
		case gl.ghost != "" || gl.blank():
		case doubtful(gl.text):
			bad++
		default:
			good++
		}
	}
	t.visible += good + bad
	where := ingest.Place{Page: p.Number}
	if float64(bad) > mostDoubtful*float64(good+bad) && t.unread == nil {
		t.unread = textUnreadable(p.Number, fmt.Sprintf("%d of %d characters on the page without a meaning", bad, good+bad))
	} else if bad > 0 {
		notes = append(notes, &ingest.Reason{Code: "characters-unknown", Severity: ingest.Flag, Where: where,
			What:  "some characters on the page have shapes but no meaning in the file; they are shown as \uFFFD",
			Found: fmt.Sprintf("%d of %d characters", bad, good+bad), Next: "compare the page with what was read from it"})
	}
	if good+bad == 0 && seen.pictures >= fullPicture || good+bad < fewCharacters && seen.pictures >= mainlyPicture {
		t.pictures++
		notes = append(notes, &ingest.Reason{Code: "picture-page", Severity: ingest.Hold, Where: where,
			What: "the page is a picture, and what it says was not read", Expected: "pages with text",
			Found: "a picture", Next: "look at the page; if it carries results, ask the laboratory for its electronic copy"})
	}
	for _, i := range cut {
		w := &p.Words[i]
		box := w.Box
		notes = append(notes, &ingest.Reason{Code: "cut-off", Severity: ingest.Flag, Where: ingest.Place{Page: p.Number, Box: &box},
			What: "a word is cut off on the page; it was read in full from the file", Found: w.Text,
			Next: "compare the page with what was read from it"})
	}
	return notes
}

// unreadable is the reason for which there is no document, or nil.
func (t *tally) unreadable() *ingest.Reason {
	switch {
	case t.unread != nil:
		return t.unread
	case t.pictures == t.pages || t.visible == 0 && t.pictures > 0:
		return scan(t.pictures)
	case t.visible == 0:
		return noText()
	}
	return nil
}
