package sheet

import (
	"bytes"
	"cmp"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
)

// The size of a sheet is bounded by the format itself (ECMA-376 part 1,
// 18.3.1.73 and Excel's published limits).
const (
	lastRow = 1_048_576
	lastCol = 16_384
)

// A grid reads the cells of one sheet from its XML, from front to back.
type grid struct {
	book *book
	page *ingest.Page
	lim  ingest.Limits
	left int // cells that may still be stored

	hiddenCols []span
	merged     []area
	shared     map[string]sharedFormula // by si
	row        int
	rowHidden  bool
	col        int
	ended      bool // the cell data came to its proper end
}

type span struct{ from, to int }

type area struct{ row, col, down, across int }

type sharedFormula struct {
	text     string
	row, col int // of the cell that carries the text
}

// raw is a cell as the XML has it.
type raw struct {
	typ, value string
	style      int
	inline     string
	struck     bool // a part of the text that stands in the cell itself
	hasValue   bool
	formula    string
	hasFormula bool
	shared     string // si of a shared formula
}

func (g *grid) read(ctx context.Context, part []byte) *ingest.Reason {
	if n := bytes.Count(part, []byte("<v>")); n > 0 {
		g.page.Cells = make([]ingest.Cell, 0, min(n, g.left))
	}
	d := newTokens(bytes.NewReader(part))
	rows := 0
	for {
		tok, err := d.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return g.broken("its cells can't be read to the end")
		}
		se, ok := tok.(xml.StartElement)
		if !ok {
			if ee, ok := tok.(xml.EndElement); ok && ee.Name.Local == "sheetData" {
				g.ended = true
			}
			continue
		}
		var r *ingest.Reason
		switch se.Name.Local {
		case "row":
			if rows++; rows%every == 0 {
				if r := g.lim.Over(ctx.Err(), "the workbook"); r != nil {
					return r
				}
			}
			r = g.startRow(se.Attr)
		case "c":
			r = g.cell(d, se.Attr)
		case "col":
			r = g.column(se.Attr)
		case "mergeCell":
			r = g.merge(se.Attr)
		}
		if r != nil {
			return r
		}
	}
	if !g.ended {
		return g.broken("its cells have no end")
	}
	return g.finish()
}

func (g *grid) broken(detail string) *ingest.Reason { return damagedAt(g.page.Name, "", detail) }

func (g *grid) brokenCell(row, col int, detail string) *ingest.Reason {
	return damagedAt(g.page.Name, ingest.CellName(row, col), detail)
}

func attr(attrs []xml.Attr, name string) string {
	for i := range attrs {
		if attrs[i].Name.Local == name && attrs[i].Name.Space == "" {
			return attrs[i].Value
		}
	}
	return ""
}

// yes reads an XML Schema boolean.
func yes(s string) bool { return s == "1" || s == "true" }

func (g *grid) column(attrs []xml.Attr) *ingest.Reason {
	from, err1 := strconv.Atoi(attr(attrs, "min"))
	to, err2 := strconv.Atoi(attr(attrs, "max"))
	if err1 != nil || err2 != nil || from < 1 || to < from {
		return g.broken("the widths of its columns can't be read")
	}
	width, err := strconv.ParseFloat(attr(attrs, "width"), 64)
	if yes(attr(attrs, "hidden")) || err == nil && width == 0 {
		g.hiddenCols = append(g.hiddenCols, span{from, to})
	}
	return nil
}

func (g *grid) startRow(attrs []xml.Attr) *ingest.Reason {
	row := g.row + 1
	if s := attr(attrs, "r"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > lastRow {
			return g.broken("a row has no proper number")
		}
		row = n
	}
	height, err := strconv.ParseFloat(attr(attrs, "ht"), 64)
	g.row, g.col, g.rowHidden = row, 0, yes(attr(attrs, "hidden")) || err == nil && height == 0
	return nil
}

// cell reads one c element to its end and stores what it holds.
func (g *grid) cell(d *tokens, attrs []xml.Attr) *ingest.Reason {
	col := g.col + 1
	c := raw{}
	for i := range attrs {
		if attrs[i].Name.Space != "" {
			continue
		}
		switch v := attrs[i].Value; attrs[i].Name.Local {
		case "r":
			row, n, ok := parseCellName(v)
			if !ok || row != g.row {
				return g.broken(fmt.Sprintf("row %d holds a cell that calls itself %q", g.row, v))
			}
			col = n
		case "t":
			c.typ = v
		case "s":
			n, err := strconv.Atoi(v)
			if err != nil || n < 0 || n >= len(g.book.formats) {
				return g.brokenCell(g.row, max(col, 1), "the cell has a style that the workbook lacks")
			}
			c.style = n
		}
	}
	g.col = col
	if g.row < 1 || col > lastCol {
		return g.broken("a cell lies outside the sheet")
	}
	if err := c.body(d); err != nil {
		return g.broken("its cells can't be read to the end")
	}
	return g.store(&c)
}

// body reads what stands between <c> and </c>.
func (c *raw) body(d *tokens) error {
	in := ""
	for depth := 1; depth > 0; {
		tok, err := d.next()
		if err != nil {
			return err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			depth++
			in = ""
			if depth != 2 {
				continue
			}
			switch t.Name.Local {
			case "v":
				in, c.hasValue = "v", true
			case "f":
				in, c.hasFormula = "f", true
				if attr(t.Attr, "t") == "shared" {
					c.shared = attr(t.Attr, "si")
				}
			case "is":
				if c.inline, c.struck, err = readText(d); err != nil {
					return err
				}
				depth--
				c.hasValue = true
			}
		case xml.EndElement:
			depth--
			in = ""
		case xml.CharData:
			switch in {
			case "v":
				c.value += string(t)
			case "f":
				c.formula += string(t)
			}
		}
	}
	return nil
}

// store turns a cell of the XML into a cell of the page, unless it is empty.
func (g *grid) store(c *raw) *ingest.Reason {
	cell := ingest.Cell{Row: g.row, Col: g.col, Hidden: g.rowHidden || g.colHidden(g.col)}
	if c.hasFormula {
		f, r := g.formulaOf(c)
		if r != nil {
			return r
		}
		cell.Formula = f
	}
	filled, r := g.value(c, &cell)
	if r != nil {
		return r
	}
	if !filled {
		if cell.Formula == "" {
			return nil
		}
		cell.Kind, cell.Text, cell.Raw = ingest.ErrorCell, "", ""
		g.note(&cell, CodeNoValue, ingest.Flag, "the cell holds a formula that was saved without its result, so there is nothing to read", "="+cell.Formula,
			"open the workbook in a spreadsheet program, let it calculate, save it, and drop it in again")
	}
	if c.struck || c.style < len(g.book.struck) && g.book.struck[c.style] {
		g.noteStruck(&cell)
	}
	if g.left == 0 {
		return ingest.TooLarge("the workbook has more filled cells than a file may have", fmt.Sprint(g.lim.Cells), "more than that", "cells")
	}
	g.left--
	g.page.Cells = append(g.page.Cells, cell)
	return nil
}

// value sets kind, text and raw value; false when the cell holds none.
func (g *grid) value(c *raw, cell *ingest.Cell) (bool, *ingest.Reason) {
	f := g.book.formats[c.style]
	switch c.typ {
	case "s":
		v := strings.TrimSpace(c.value)
		if v == "" {
			return false, nil
		}
		i, err := strconv.Atoi(v)
		if err != nil || i < 0 || i >= len(g.book.strings) {
			return false, g.brokenCell(g.row, g.col, "the cell points to a text that the workbook lacks")
		}
		c.struck = g.book.redone[i]
		return g.text(f, g.book.strings[i], cell), nil
	case "inlineStr":
		return g.text(f, c.inline, cell), nil
	case "str":
		// A formula whose result is a text. An empty text is a result too.
		return g.text(f, unescape(c.value), cell) || c.hasValue && cell.Formula != "", nil
	}
	v := strings.TrimSpace(c.value)
	if v == "" {
		return false, nil
	}
	switch c.typ {
	case "b":
		cell.Kind = ingest.BoolCell
		switch v {
		case "1", "true":
			cell.Text = "TRUE"
		case "0", "false":
			cell.Text = "FALSE"
		default:
			return false, g.brokenCell(g.row, g.col, "the cell should hold true or false and holds "+strconv.Quote(v))
		}
		return true, nil
	case "e":
		cell.Kind, cell.Text = ingest.ErrorCell, v
		return true, nil
	case "d":
		n, ok := numfmt.SerialOf(v, g.book.epoch)
		if !ok {
			return false, g.brokenCell(g.row, g.col, "the cell should hold a date and holds "+strconv.Quote(v))
		}
		v = n
	case "", "n":
	default:
		return false, g.brokenCell(g.row, g.col, "the cell is of an unknown type "+strconv.Quote(c.typ))
	}
	n, ok := numfmt.ParseNumber(v)
	if !ok {
		return false, g.brokenCell(g.row, g.col, "the cell should hold a number and holds "+strconv.Quote(v))
	}
	g.number(f, n, cell)
	return true, nil
}

func (g *grid) text(f *numfmt.Format, s string, cell *ingest.Cell) bool {
	if s == "" {
		cell.Kind = ingest.TextCell
		return false
	}
	cell.Kind, cell.Text = ingest.TextCell, f.ShowText(s)
	if cell.Text != s {
		cell.Raw, cell.Format = s, f.Code()
	}
	return true
}

func (g *grid) number(f *numfmt.Format, n numfmt.Number, cell *ingest.Cell) {
	s := f.Show(n, g.book.epoch)
	cell.Kind, cell.Text, cell.Raw, cell.Format = ingest.NumberCell, s.Text, s.Raw, f.Code()
	if s.Date {
		cell.Kind = ingest.DateCell
	}
	if cell.Raw == cell.Text {
		cell.Raw = ""
	}
	switch s.Trouble {
	case numfmt.NotUnderstood:
		g.note(cell, CodeFormat, ingest.Flag, "the cell has a number format that Windrow can't show, so the stored number stands in its place", f.Code(),
			"compare this cell with the printed report before you rely on it")
	case numfmt.NoDate:
		cell.Kind = ingest.ErrorCell
		g.note(cell, CodeDate, ingest.Flag, "the cell's number format shows a date, but its number is not one", s.Raw,
			"look the date up in the printed report, or ask the laboratory")
	}
}

func (g *grid) note(c *ingest.Cell, code string, sev ingest.Severity, what, found, next string) {
	g.book.notes.Add(&ingest.Reason{Code: code, Severity: sev, Where: ingest.Place{Sheet: g.page.Name, Cell: ingest.CellName(c.Row, c.Col)},
		What: what, Found: found, Next: next})
}

func (g *grid) colHidden(col int) bool {
	for _, s := range g.hiddenCols {
		if s.from <= col && col <= s.to {
			return true
		}
	}
	return false
}

// formulaOf is the text of a cell's formula. One that several cells share is
// written out once, for its first cell, and moved to the others.
func (g *grid) formulaOf(c *raw) (string, *ingest.Reason) {
	if c.shared == "" {
		return c.formula, nil
	}
	if c.formula != "" {
		if g.shared == nil {
			g.shared = map[string]sharedFormula{}
		}
		g.shared[c.shared] = sharedFormula{c.formula, g.row, g.col}
		return c.formula, nil
	}
	m, ok := g.shared[c.shared]
	if !ok {
		return "", g.brokenCell(g.row, g.col, "the cell shares a formula that the sheet lacks")
	}
	return moveFormula(m.text, g.row-m.row, g.col-m.col), nil
}

func (g *grid) merge(attrs []xml.Attr) *ingest.Reason {
	from, to, ok := strings.Cut(attr(attrs, "ref"), ":")
	if !ok {
		to = from
	}
	r0, c0, ok0 := parseCellName(from)
	r1, c1, ok1 := parseCellName(to)
	if !ok0 || !ok1 || r1 < r0 || c1 < c0 {
		return g.broken("its merged cells can't be read")
	}
	g.merged = append(g.merged, area{r0, c0, r1 - r0 + 1, c1 - c0 + 1})
	return nil
}

// finish puts the cells in order, marks the merged ones, and measures the page.
func (g *grid) finish() *ingest.Reason {
	cells := g.page.Cells
	order := func(a, b ingest.Cell) int { return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Col, b.Col)) }
	if !slices.IsSortedFunc(cells, order) {
		slices.SortStableFunc(cells, order)
	}
	for i := range cells {
		if i > 0 && cells[i-1].Row == cells[i].Row && cells[i-1].Col == cells[i].Col {
			return g.brokenCell(cells[i].Row, cells[i].Col, "the cell is there twice")
		}
		g.page.Rows = max(g.page.Rows, cells[i].Row)
		g.page.Cols = max(g.page.Cols, cells[i].Col)
	}
	g.markMerged()
	return nil
}

// markMerged looks at the cells of each merged area. Areas don't overlap in a
// sound workbook; where they do, the later one wins, as nothing depends on it.
func (g *grid) markMerged() {
	cells := g.page.Cells
	for _, m := range g.merged {
		i, _ := slices.BinarySearchFunc(cells, m, func(c ingest.Cell, m area) int {
			return cmp.Or(cmp.Compare(c.Row, m.row), cmp.Compare(c.Col, m.col))
		})
		for ; i < len(cells) && cells[i].Row < m.row+m.down; i++ {
			c := &cells[i]
			switch {
			case c.Row == m.row && c.Col == m.col:
				c.Across, c.Down = m.across, m.down
			case c.Col >= m.col && c.Col < m.col+m.across:
				c.Hidden = true
				g.note(c, CodeCovered, ingest.Note, "the cell lies under a merged cell, so nobody sees what it holds", c.Text, "")
			}
		}
	}
}

// parseCellName is the row and column of a name such as C14.
func parseCellName(s string) (row, col int, ok bool) {
	i := 0
	for ; i < len(s) && i < 4; i++ {
		switch c := s[i]; {
		case c >= 'A' && c <= 'Z':
			col = col*26 + int(c-'A') + 1
			continue
		case c >= 'a' && c <= 'z':
			col = col*26 + int(c-'a') + 1
			continue
		}
		break
	}
	if i == 0 || i == len(s) || len(s)-i > 7 {
		return 0, 0, false
	}
	for ; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 0, 0, false
		}
		row = row*10 + int(s[i]-'0')
	}
	return row, col, row >= 1 && row <= lastRow && col <= lastCol
}
