package xls

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
)

// The size of a sheet is bounded by the format itself ([MS-XLS] 2.5.53 and
// Excel's published limits for 97 to 2003).
const (
	lastRow = 65_536
	lastCol = 256
)

// A grid reads the cells of one sheet from its records, from front to back.
type grid struct {
	book *book
	page *ingest.Page
	left int // cells that may still be stored

	hiddenCols  [lastCol + 1]bool
	rows        map[int]bool // rows that are described: hidden or not
	othersHide  bool         // rows that are not described are hidden
	merged      []area
	covered     int
	struck      []spot         // cells with something that is struck through
	notes       []comment      // on cells
	comments    map[int]string // texts of them, by their objects
	object      int            // the last one that is a comment's; -1 for none
	needsString *numfmt.Format // format of the last cell when the next record gives its formula's text
}

type area struct{ row, col, down, across int }

func (b *book) readSheet(ctx context.Context, i, left int) (*ingest.Page, *ingest.Reason) {
	s := b.sheets[i]
	page := &ingest.Page{Number: i + 1, Name: s.name, Hidden: s.hidden}
	if s.kind != 0 && s.kind != 1 {
		b.notes.Add(&ingest.Reason{Code: CodeNoCells, Severity: ingest.Note, Where: ingest.Place{Sheet: s.name},
			What: "the sheet holds a chart or something else without cells, so nothing was read from it"})
		return page, nil
	}
	g := &grid{book: b, page: page, left: left, rows: map[int]bool{}, object: -1}
	if r := g.read(ctx, s.at); r != nil {
		return nil, r
	}
	return page, g.finish(ctx)
}

func (g *grid) read(ctx context.Context, at int) *ingest.Reason {
	pos, r := g.book.begin(at, 0)
	if r != nil {
		return r
	}
	depth := 1
	for n := 0; depth > 0; n++ {
		if n%every == 0 {
			if r := g.book.lim.Over(ctx.Err(), "the workbook"); r != nil {
				return r
			}
		}
		rec, next, err := nextRecord(g.book.stream, pos)
		if err != nil {
			return g.broken("its cells have no end")
		}
		pos = next
		switch {
		case rec.id == recBOF: // a chart within the sheet
			depth++
		case rec.id == recEOF:
			depth--
		case depth == 1:
			if r := g.take(rec); r != nil {
				return r
			}
		}
	}
	return g.endString()
}

func (g *grid) broken(detail string) *ingest.Reason { return damagedAt(g.page.Name, "", detail) }

func (g *grid) brokenCell(row, col int, detail string) *ingest.Reason {
	return damagedAt(g.page.Name, ingest.CellName(row, col), detail)
}

// least is the shortest that a record of a kind may be.
var least = map[int]int{recFormula: 20, recColInfo: 10, recMulRK: 12, recRString: 8, recMergeCells: 2, recLabelSST: 10,
	recNumber: 14, recLabel: 8, recNote: 8, recObj: 0, recTxO: 0, recBoolErr: 8, recString: 3, recRow: 14, recDefaultRow: 2, recRK: 10}

func (g *grid) take(rec record) *ingest.Reason {
	d := rec.data
	n, ours := least[rec.id]
	if !ours {
		return nil
	}
	if len(d) < n {
		return g.broken("a record of its cells is cut short")
	}
	u := func(i int) int { return int(le.Uint16(d[i:])) }
	switch rec.id {
	case recNote, recObj, recTxO:
		g.comment(rec)
		return nil
	case recRow:
		// A height of nothing stands for the usual height; only the bit hides.
		g.rows[u(0)+1] = d[12]&0x20 != 0
		return nil
	case recDefaultRow:
		g.othersHide = d[0]&2 != 0
		return nil
	case recColInfo:
		if d[8]&1 != 0 || u(4) == 0 {
			for c := u(0); c <= min(u(2), lastCol-1); c++ {
				g.hiddenCols[c+1] = true
			}
		}
		return nil
	case recMergeCells:
		return g.merge(rec)
	case recString:
		return g.string(rec)
	}
	// All that are left are cells, which begin alike: row, column, style.
	if r := g.endString(); r != nil {
		return r
	}
	if rec.id == recMulRK {
		return g.manyNumbers(d)
	}
	c, f, r := g.cell(u(0), u(2), u(4))
	if r != nil {
		return r
	}
	switch rec.id {
	case recRK:
		return g.number(c, f, rk(le.Uint32(d[6:])))
	case recNumber:
		return g.number(c, f, math.Float64frombits(le.Uint64(d[6:])))
	case recLabelSST:
		i := le.Uint32(d[6:])
		if uint64(i) >= uint64(len(g.book.texts)) {
			return g.brokenCell(c.Row, c.Col, "the cell points to a text that the workbook lacks")
		}
		g.strike(c, g.book.runs[int(i)]...)
		return g.text(c, f, g.book.texts[i])
	case recLabel, recRString:
		s, err := rec.reader(8).text(u(6))
		if err != nil {
			return g.brokenCell(c.Row, c.Col, "the text of the cell is cut short")
		}
		return g.text(c, f, s)
	case recBoolErr:
		return g.boolOrError(c, d[6], d[7] != 0)
	}
	return g.formula(c, f, d)
}

// cell begins a cell and finds its format.
func (g *grid) cell(row, col, style int) (*ingest.Cell, *numfmt.Format, *ingest.Reason) {
	row, col = row+1, col+1
	if col > lastCol {
		return nil, nil, g.broken("a cell lies outside the sheet")
	}
	if style >= len(g.book.formats) {
		return nil, nil, g.brokenCell(row, col, "the cell has a style that the workbook lacks")
	}
	c := &ingest.Cell{Row: row, Col: col}
	g.strike(c, g.book.fonts[style])
	return c, g.book.formats[style], nil
}

func (g *grid) manyNumbers(d []byte) *ingest.Reason {
	first, last := int(le.Uint16(d[2:])), int(le.Uint16(d[len(d)-2:]))
	if (len(d)-6)%6 != 0 || last-first+1 != (len(d)-6)/6 {
		return g.broken("a row of numbers is cut short")
	}
	for i := 4; i+6 <= len(d)-2; i += 6 {
		c, f, r := g.cell(int(le.Uint16(d)), first+(i-4)/6, int(le.Uint16(d[i:])))
		if r != nil {
			return r
		}
		if r := g.number(c, f, rk(le.Uint32(d[i+2:]))); r != nil {
			return r
		}
	}
	return nil
}

func (g *grid) store(c *ingest.Cell) *ingest.Reason {
	if g.left == 0 {
		return ingest.TooLarge("the workbook has more filled cells than a file may have", fmt.Sprint(g.book.lim.Cells), "more than that", "cells")
	}
	g.left--
	g.page.Cells = append(g.page.Cells, *c)
	return nil
}

func (g *grid) number(c *ingest.Cell, f *numfmt.Format, v float64) *ingest.Reason {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return g.brokenCell(c.Row, c.Col, "the cell should hold a number and holds none")
	}
	n, ok := numfmt.ParseNumber(strconv.FormatFloat(v, 'g', -1, 64))
	if !ok {
		return g.brokenCell(c.Row, c.Col, "the cell should hold a number and holds none")
	}
	s := f.Show(n, g.book.epoch)
	c.Kind, c.Text, c.Raw, c.Format = ingest.NumberCell, s.Text, s.Raw, f.Code()
	if s.Date {
		c.Kind = ingest.DateCell
	}
	if c.Raw == c.Text {
		c.Raw = ""
	}
	switch s.Trouble {
	case numfmt.NotUnderstood:
		g.book.note(g.page, c, CodeFormat, ingest.Flag, "the cell has a number format that Windrow can't show, so the stored number stands in its place", f.Code(),
			"compare this cell with the printed report before you rely on it")
	case numfmt.NoDate:
		c.Kind = ingest.ErrorCell
		g.book.note(g.page, c, CodeDate, ingest.Flag, "the cell's number format shows a date, but its number is not one", s.Raw,
			"look the date up in the printed report, or ask the laboratory")
	}
	return g.store(c)
}

func (g *grid) setText(c *ingest.Cell, f *numfmt.Format, s string) {
	c.Kind, c.Text = ingest.TextCell, f.ShowText(s)
	if c.Text != s {
		c.Raw, c.Format = s, f.Code()
	}
}

func (g *grid) text(c *ingest.Cell, f *numfmt.Format, s string) *ingest.Reason {
	if s == "" {
		return nil
	}
	g.setText(c, f, s)
	return g.store(c)
}

func (g *grid) boolOrError(c *ingest.Cell, v byte, isError bool) *ingest.Reason {
	switch {
	case isError:
		t, ok := errorText[v]
		if !ok {
			return g.brokenCell(c.Row, c.Col, "the cell holds an error that doesn't exist")
		}
		c.Kind, c.Text = ingest.ErrorCell, t
	case v == 0:
		c.Kind, c.Text = ingest.BoolCell, "FALSE"
	case v == 1:
		c.Kind, c.Text = ingest.BoolCell, "TRUE"
	default:
		return g.brokenCell(c.Row, c.Col, "the cell should hold true or false and holds neither")
	}
	return g.store(c)
}

// formula takes the stored result of a formula ([MS-XLS] 2.4.127 Formula and
// 2.5.133 FormulaValue).
func (g *grid) formula(c *ingest.Cell, f *numfmt.Format, d []byte) *ingest.Reason {
	c.Formula = FormulaNotShown
	if le.Uint16(d[14:])&2 != 0 {
		// To be calculated when opened: whatever stands there is not the
		// result. ("Calculate on open" in the OpenOffice.org description of
		// the format, 5.50.)
		return g.withoutValue(c)
	}
	if d[12] != 0xFF || d[13] != 0xFF {
		g.book.results++
		return g.number(c, f, math.Float64frombits(le.Uint64(d[6:])))
	}
	switch d[6] {
	case 0: // a text, which a STRING record gives
		g.needsString = f
		c.Kind = ingest.TextCell
		return g.store(c)
	case 1:
		g.book.results++
		return g.boolOrError(c, d[8], false)
	case 2:
		g.book.results++
		return g.boolOrError(c, d[8], true)
	case 3: // an empty text
		c.Kind = ingest.TextCell
		if g.book.empties == nil {
			g.book.empties = map[emptyRef]bool{}
		}
		g.book.empties[emptyRef{g.page.Number, c.Row, c.Col}] = true
		return g.store(c)
	}
	return g.brokenCell(c.Row, c.Col, "the result of the cell's formula is of an unknown type")
}

func (g *grid) withoutValue(c *ingest.Cell) *ingest.Reason {
	c.Kind = ingest.ErrorCell
	g.book.noValue(g.page, c)
	return g.store(c)
}

// string gives the last cell's formula its text.
func (g *grid) string(rec record) *ingest.Reason {
	if g.needsString == nil {
		return g.broken("a formula's text has no formula")
	}
	f := g.needsString
	g.needsString = nil
	c := &g.page.Cells[len(g.page.Cells)-1]
	rd := rec.reader(0)
	n, err := rd.u16()
	s := ""
	if err == nil {
		s, err = rd.text(n)
	}
	if err != nil {
		return g.brokenCell(c.Row, c.Col, "the text of the cell is cut short")
	}
	if s != "" {
		g.setText(c, f, s)
	}
	g.book.results++
	return nil
}

// endString makes sure that a formula with a text got it.
func (g *grid) endString() *ingest.Reason {
	if g.needsString == nil {
		return nil
	}
	c := &g.page.Cells[len(g.page.Cells)-1]
	return g.brokenCell(c.Row, c.Col, "the text of the cell's formula is missing")
}

func (g *grid) merge(rec record) *ingest.Reason {
	d := rec.data
	n := int(le.Uint16(d))
	if len(d) < 2+8*n {
		return g.broken("its merged cells can't be read")
	}
	for i := 2; i < 2+8*n; i += 8 {
		r0, r1, c0, c1 := int(le.Uint16(d[i:])), int(le.Uint16(d[i+2:])), int(le.Uint16(d[i+4:])), int(le.Uint16(d[i+6:]))
		if r1 < r0 || c1 < c0 || c1 >= lastCol {
			return g.broken("its merged cells can't be read")
		}
		a := area{r0 + 1, c0 + 1, r1 - r0 + 1, c1 - c0 + 1}
		if g.covered += a.down * a.across; g.covered > lastRow*lastCol {
			return g.broken("its merged cells cover one another")
		}
		g.merged = append(g.merged, a)
	}
	return nil
}

// finish puts the cells in order, marks those that are hidden or merged, and
// measures the page.
func (g *grid) finish(ctx context.Context) *ingest.Reason {
	cells := g.page.Cells
	order := func(a, b ingest.Cell) int { return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Col, b.Col)) }
	if !slices.IsSortedFunc(cells, order) {
		slices.SortStableFunc(cells, order)
	}
	starts := map[int]int{} // of a row, its first cell
	for i := range cells {
		c := &cells[i]
		if i > 0 && cells[i-1].Row == c.Row && cells[i-1].Col == c.Col {
			return g.brokenCell(c.Row, c.Col, "the cell is there twice")
		}
		if i == 0 || cells[i-1].Row != c.Row {
			starts[c.Row] = i
		}
		hidden, described := g.rows[c.Row]
		c.Hidden = g.hiddenCols[c.Col] || hidden || !described && g.othersHide
		g.page.Rows = max(g.page.Rows, c.Row)
		g.page.Cols = max(g.page.Cols, c.Col)
	}
	for n, m := range g.merged {
		if n%every == 0 {
			if r := g.book.lim.Over(ctx.Err(), "the workbook"); r != nil {
				return r
			}
		}
		for row := m.row; row < m.row+m.down; row++ {
			k, ok := starts[row]
			if !ok {
				continue
			}
			for ; k < len(cells) && cells[k].Row == row && cells[k].Col < m.col+m.across; k++ {
				switch c := &cells[k]; {
				case c.Col < m.col:
				case row == m.row && c.Col == m.col:
					c.Across, c.Down = m.across, m.down
				default:
					c.Hidden = true
					g.book.note(g.page, c, CodeCovered, ingest.Note, "the cell lies under a merged cell, so nobody sees what it holds", c.Text, "")
				}
			}
		}
	}
	g.markup()
	return nil
}
