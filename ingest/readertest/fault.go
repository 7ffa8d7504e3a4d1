package readertest

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// farthest is how far outside its page, in points, a word may lie; text off
// the page is kept and marked, but not text at infinity.
const farthest = 1e6

// ReasonFault says what is wrong with the form of a reason, or "".
func ReasonFault(r *ingest.Reason) string {
	switch {
	case r == nil:
		return "the reason is nil"
	case r.Code == "" || strings.ToLower(r.Code) != r.Code || strings.ContainsAny(r.Code, " _."):
		return "the code of a reason is lower-case words joined by hyphens"
	case !slices.Contains([]ingest.Severity{ingest.Note, ingest.Flag, ingest.Hold, ingest.Fail}, r.Severity):
		return fmt.Sprintf("the reason has the severity %q", r.Severity)
	case r.What == "":
		return "the reason doesn't say what is wrong"
	case r.Next == "" && r.Severity != ingest.Note:
		return "the reason doesn't say what to do next"
	case !utf8.ValidString(r.What + r.Expected + r.Found + r.Next):
		return "the reason isn't valid UTF-8"
	}
	for _, word := range []string{"panic", "nil pointer", "index out of range", "goroutine", "interface {}", "runtime error"} {
		if strings.Contains(r.Error(), word) {
			return fmt.Sprintf("the reason says %q, which no clerk understands", word)
		}
	}
	return ""
}

// DocumentFault says what is wrong with the form of a document, or "".
func DocumentFault(src *ingest.Source, d *ingest.Document) string {
	if d.Source != src.Ref() {
		return fmt.Sprintf("the document names the source %+v, want %+v", d.Source, src.Ref())
	}
	if !slices.Contains([]ingest.Format{ingest.PDF, ingest.XLSX, ingest.CSV, ingest.HTML}, d.Format) {
		return fmt.Sprintf("the document has the format %q", d.Format)
	}
	if (d.Dialect != nil) != (d.Format == ingest.CSV) {
		return "a delimited file, and no other, has a dialect"
	}
	if len(d.Pages) == 0 {
		return "the document has no page"
	}
	for _, n := range d.Notes {
		if p := ReasonFault(n); p != "" {
			return "a note: " + p
		}
		if n.Where.File != src.Title() {
			return fmt.Sprintf("a note names the file %q: %v", n.Where.File, n)
		}
	}
	for i, p := range d.Pages {
		if p.Number != i+1 {
			return fmt.Sprintf("page %d has the number %d", i+1, p.Number)
		}
		if len(p.Words) > 0 && len(p.Cells) > 0 {
			return fmt.Sprintf("page %d has words and cells", p.Number)
		}
		for k := range p.Words {
			if f := wordFault(&p.Words[k]); f != "" {
				return fmt.Sprintf("page %d: word %d: %s: %+v", p.Number, k, f, p.Words[k])
			}
		}
		if d.Format == ingest.PDF && (!(p.Width > 0) || !(p.Height > 0) || p.Width > farthest || p.Height > farthest) {
			return fmt.Sprintf("page %d is %v by %v points", p.Number, p.Width, p.Height)
		}
		if f := cellsFault(p); f != "" {
			return fmt.Sprintf("page %d: %s", p.Number, f)
		}
	}
	return ""
}

func wordFault(w *ingest.Word) string {
	switch {
	case w.Text == "":
		return "no text"
	case !utf8.ValidString(w.Text):
		return "not UTF-8"
	case strings.ContainsFunc(w.Text, unicode.IsSpace):
		return "a space in it"
	case !slices.Contains([]int{0, 90, 180, 270}, w.Turn):
		return "turned neither level nor by quarters"
	case !slices.Contains([]string{"", "invisible", "clipped", "white", "covered", "off the page"}, w.Ghost):
		return "no such reason for a ghost"
	case w.Box.X0 > w.Box.X1 || w.Box.Y0 > w.Box.Y1:
		return "its box is inside out"
	case w.Size < 0:
		return "its size is negative"
	}
	for _, v := range []float64{w.Box.X0, w.Box.Y0, w.Box.X1, w.Box.Y1, w.Base, w.Size} {
		if math.IsNaN(v) || math.Abs(v) > farthest {
			return "a measure beyond all bounds"
		}
	}
	return ""
}

func cellsFault(p *ingest.Page) string {
	row, col := 0, 0
	for i := range p.Cells {
		c := &p.Cells[i]
		switch {
		case c.Row < row || c.Row == row && c.Col <= col:
			return fmt.Sprintf("cell %s comes after row %d column %d", ingest.CellName(c.Row, c.Col), row, col)
		case c.Row < 1 || c.Col < 1 || c.Row > p.Rows || c.Col > p.Cols:
			return fmt.Sprintf("cell %s lies outside %d rows by %d columns", ingest.CellName(c.Row, c.Col), p.Rows, p.Cols)
		case !slices.Contains([]ingest.CellKind{ingest.TextCell, ingest.NumberCell, ingest.DateCell, ingest.BoolCell, ingest.ErrorCell}, c.Kind):
			return fmt.Sprintf("cell %s has the kind %q", ingest.CellName(c.Row, c.Col), c.Kind)
		case c.Text == "" && c.Raw == "" && c.Formula == "" && c.Across == 0 && c.Down == 0:
			return fmt.Sprintf("cell %s holds nothing", ingest.CellName(c.Row, c.Col))
		case !utf8.ValidString(c.Text + c.Raw + c.Formula):
			return fmt.Sprintf("cell %s is not UTF-8", ingest.CellName(c.Row, c.Col))
		case c.Across < 0 || c.Down < 0:
			return fmt.Sprintf("cell %s covers a negative number of cells", ingest.CellName(c.Row, c.Col))
		}
		row, col = c.Row, c.Col
	}
	return ""
}
