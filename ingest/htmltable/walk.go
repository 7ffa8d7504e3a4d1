package htmltable

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"example.org/windrow/ingest"
)

// A builder makes the page of one document.
type builder struct {
	ctx    context.Context
	lim    ingest.Limits
	page   *ingest.Page
	row    int // the last that was begun
	sheet  []rule
	holds  map[*html.Node]bool // elements that hold a table
	apart  map[*html.Node]bool // rows of tables that are there for the layout
	hidden []string            // texts that nobody sees, in the order of the document
	notes  ingest.Notes
	short  []int // rows with fewer cells than their table's widest
	frames bool
	shown  int // pictures large enough to hold text
	reason *ingest.Reason
}

// lastCol is how wide a grid may become; that of a workbook, for want of a
// bound in the standard.
const lastCol = 16_384

// add puts a cell on the page.
func (b *builder) add(c ingest.Cell) {
	if b.reason != nil {
		return
	}
	if len(b.page.Cells) >= b.lim.Cells {
		b.reason = ingest.TooLarge("the web page has more filled cells than a file may have", fmt.Sprint(b.lim.Cells), "more than that", "cells")
		return
	}
	b.page.Cells = append(b.page.Cells, c)
	b.page.Rows = max(b.page.Rows, c.Row)
	b.page.Cols = max(b.page.Cols, c.Col)
}

// paragraph is a row of one cell.
func (b *builder) paragraph(s string) {
	b.row++
	if b.row%every == 0 && b.reason == nil {
		b.reason = b.lim.Over(b.ctx.Err(), "the web page")
	}
	b.add(ingest.Cell{Row: b.row, Col: 1, Text: s, Kind: ingest.TextCell})
}

// every is how often, in rows, a long page looks whether it should stop.
const every = 256

// tail puts what nobody sees behind everything else, and says so.
func (b *builder) tail() {
	for _, s := range b.hidden {
		b.row++
		b.add(ingest.Cell{Row: b.row, Col: 1, Text: s, Kind: ingest.TextCell, Hidden: true})
	}
	if n := len(b.hidden); n > 0 {
		b.notes.Add(&ingest.Reason{Code: CodeHidden, Severity: ingest.Note,
			What: "the web page holds text that a browser doesn't show; it was kept apart and nothing was read from it", Found: clip(b.hidden[0], n)})
	}
	if b.shown > 0 {
		b.notes.Add(&ingest.Reason{Code: CodePictures, Severity: ingest.Note,
			What: "the web page shows pictures; if there is text in them, it was not read", Found: fmt.Sprintf("%d of them", b.shown)})
	}
}

// clip shows the first of several texts, in part.
func clip(s string, of int) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	if of > 1 {
		s += fmt.Sprintf(" (and %d more)", of-1)
	}
	return s
}

// hide keeps a text that nobody sees.
func (b *builder) hide(s string) {
	if s = strings.Join(strings.Fields(s), " "); s != "" {
		b.hidden = append(b.hidden, s)
	}
}

// unread are elements whose content is no text of the page.
var unread = map[string]bool{"script": true, "style": true, "template": true, "head": true, "title": true, "datalist": true, "object": true, "embed": true,
	"audio": true, "video": true, "svg": true, "math": true, "canvas": true, "map": true, "area": true, "iframe": true, "noframes": true}

// blocks are elements that begin and end a line.
var blocks = map[string]bool{"address": true, "article": true, "aside": true, "blockquote": true, "body": true, "center": true, "dd": true, "details": true,
	"dialog": true, "dir": true, "div": true, "dl": true, "dt": true, "fieldset": true, "figcaption": true, "figure": true, "footer": true, "form": true,
	"h1": true, "h2": true, "h3": true, "h4": true, "h5": true, "h6": true, "header": true, "hgroup": true, "hr": true, "html": true, "legend": true, "li": true,
	"listing": true, "main": true, "menu": true, "nav": true, "ol": true, "optgroup": true, "option": true, "p": true, "plaintext": true, "pre": true,
	"search": true, "section": true, "summary": true, "ul": true, "xmp": true,
	// Parts of a table, where one stands outside any or is taken apart.
	"caption": true, "tr": true, "td": true, "th": true, "tbody": true, "thead": true, "tfoot": true}

// walk takes the text below a node into the flow, and tables into the grid.
func (b *builder) walk(n *html.Node, l look, out *flow) {
	if b.reason != nil {
		return
	}
	switch n.Type {
	case html.TextNode:
		if l.hidden() {
			b.hide(n.Data)
			return
		}
		if l.struck && strings.TrimSpace(n.Data) != "" {
			severity := ingest.Flag
			if strings.ContainsAny(n.Data, "0123456789") {
				severity = ingest.Hold // a number that was taken back must not pass for a result
			}
			b.notes.Add(&ingest.Reason{Code: CodeStruck, Severity: severity, What: "the web page holds text that is struck out",
				Found: clip(strings.TrimSpace(n.Data), 1), Next: "compare it with the printed report: a value that is struck out has usually been replaced"})
		}
		out.text(n.Data, l.pre)
		return
	case html.ElementNode:
	case html.DocumentNode:
		b.children(n, l, out)
		return
	default:
		return
	}
	if unread[n.Data] {
		if n.Data == "iframe" {
			b.frames = true
		}
		return
	}
	l = b.look(n, l)
	if l.gone {
		b.hide(textOf(n))
		return
	}
	switch n.Data {
	case "noscript":
		b.hide(textOf(n))
		return
	case "details":
		b.details(n, l, out)
		return
	case "br", "hr":
		out.end()
		return
	case "frameset", "frame":
		b.frames = true
	case "img":
		b.picture(n)
		out.seam = true
		return
	case "input":
		b.field(n, l, out)
		return
	case "select":
		b.choice(n, l, out)
		return
	case "table":
		out.end()
		b.table(n, l)
		return
	}
	if blocks[n.Data] || blockStyle(n) {
		out.end()
		b.children(n, l, out)
		out.end()
		return
	}
	// Any other element may be set apart from what is around it.
	out.seam = out.seam || setsApart(n)
	b.children(n, l, out)
	out.seam = out.seam || setsApart(n)
}

func (b *builder) children(n *html.Node, l look, out *flow) {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.walk(c, l, out)
	}
}

// details shows its summary, and the rest only when it is open.
func (b *builder) details(n *html.Node, l look, out *flow) {
	_, open := attr(n, "open")
	out.end()
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if open || c.Type == html.ElementNode && c.Data == "summary" {
			b.walk(c, l, out)
		} else {
			b.hide(textOf(c))
		}
	}
	out.end()
}

// setsApart reports whether an inline element may look apart from the text
// around it: raised, struck out, or with a style that may move it.
func setsApart(n *html.Node) bool {
	switch n.Data {
	case "sup", "sub", "s", "strike", "del", "ins", "a", "label", "button", "textarea", "ruby", "rt", "small", "big", "font":
		return true
	}
	_, styled := attr(n, "style")
	_, classed := attr(n, "class")
	return styled || classed
}

// blockStyle reports whether a style makes a block of an inline element.
func blockStyle(n *html.Node) bool {
	s, _ := attr(n, "style")
	s = strings.ReplaceAll(strings.ToLower(s), " ", "")
	return strings.Contains(s, "display:block") || strings.Contains(s, "display:flex") || strings.Contains(s, "display:grid") || strings.Contains(s, "display:table")
}

// textOf is all text below a node, but for scripts and styles.
func textOf(n *html.Node) string {
	var s strings.Builder
	var down func(n *html.Node)
	down = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			s.WriteString(n.Data)
			return
		case n.Type == html.ElementNode && unread[n.Data]:
			return
		case n.Type == html.ElementNode:
			s.WriteByte(' ')
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			down(c)
		}
	}
	down(n)
	return s.String()
}

// picture counts a picture, unless it is as small as a spacer.
func (b *builder) picture(n *html.Node) {
	for _, k := range []string{"width", "height"} {
		v, _ := attr(n, k)
		if px, err := strconv.Atoi(strings.TrimSuffix(v, "px")); err == nil && px < 40 {
			return
		}
	}
	b.shown++
}

// field is a field of a form: what is in it is to be seen.
func (b *builder) field(n *html.Node, l look, out *flow) {
	kind, _ := attr(n, "type")
	v, _ := attr(n, "value")
	switch strings.ToLower(kind) {
	case "hidden":
		b.hide(v)
		return
	case "password", "checkbox", "radio", "file", "image", "color":
		return
	}
	if l.hidden() {
		b.hide(v)
		return
	}
	out.seam = true
	out.text(v, false)
	out.seam = true
}

// choice is a list of which one entry is to be seen.
func (b *builder) choice(n *html.Node, l look, out *flow) {
	var first, chosen *html.Node
	for d := range n.Descendants() {
		if d.Type != html.ElementNode || d.Data != "option" {
			continue
		}
		if first == nil {
			first = d
		}
		if _, ok := attr(d, "selected"); ok {
			chosen = d
		}
	}
	if chosen == nil {
		chosen = first
	}
	for d := range n.Descendants() {
		if d.Type == html.ElementNode && d.Data == "option" && d != chosen {
			b.hide(textOf(d))
		}
	}
	if chosen == nil {
		return
	}
	if l.hidden() {
		b.hide(textOf(chosen))
		return
	}
	out.seam = true
	out.text(textOf(chosen), false)
	out.seam = true
}
