package xls

import (
	"cmp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A spot is where a cell stands.
type spot struct{ row, col int }

// A comment is one on a cell, whose text another object has.
type comment struct {
	at     spot
	object int
}

// strikes reports whether a font strikes its text out. There is no font of the
// number 4: those behind it are counted one too high ([MS-XLS] 2.5.129
// FontIndex).
func (b *book) strikes(font int) bool {
	if font > 4 {
		font--
	}
	return font < len(b.struck) && b.struck[font]
}

// strike keeps in mind a cell of which a font strikes something through.
func (g *grid) strike(c *ingest.Cell, fonts ...int) {
	if slices.ContainsFunc(fonts, g.book.strikes) {
		g.struck = append(g.struck, spot{c.Row, c.Col})
	}
}

// comment takes what the records of objects say of comments on cells ([MS-XLS]
// 2.4.179 Note, 2.4.181 Obj, 2.4.329 TxO). One that can't be read is no
// damage to the cells: the comment is told without its text.
func (g *grid) comment(rec record) {
	d := rec.data
	switch rec.id {
	case recNote:
		g.notes = append(g.notes, comment{spot{int(le.Uint16(d)) + 1, int(le.Uint16(d[2:])) + 1}, int(le.Uint16(d[6:]))})
	case recObj:
		const isNote = 0x19
		g.object = -1
		if len(d) >= 8 && le.Uint16(d) == 0x15 && le.Uint16(d[4:]) == isNote {
			g.object = int(le.Uint16(d[6:]))
		}
	case recTxO:
		if g.object < 0 || len(d) < 12 || len(rec.more) == 0 {
			return
		}
		rd := &reader{piece: rec.more[0], more: rec.more[1:]}
		if text, err := rd.text(int(le.Uint16(d[10:]))); err == nil {
			if g.comments == nil {
				g.comments = map[int]string{}
			}
			g.comments[g.object] = strings.Join(strings.Fields(text), " ")
		}
		g.object = -1
	}
}

// markup notes the numbers that are struck out, and the comments on numbers,
// as package sheet does.
func (g *grid) markup() {
	cell := func(at spot) *ingest.Cell {
		i, there := slices.BinarySearchFunc(g.page.Cells, at, func(x ingest.Cell, at spot) int {
			return cmp.Or(cmp.Compare(x.Row, at.row), cmp.Compare(x.Col, at.col))
		})
		if !there || g.page.Hidden || g.page.Cells[i].Hidden || !strings.ContainsAny(g.page.Cells[i].Text, "0123456789") {
			return nil // nobody sees a number there
		}
		return &g.page.Cells[i]
	}
	told := map[spot]bool{}
	for _, at := range g.struck {
		if c := cell(at); c != nil && !told[at] {
			told[at] = true
			g.book.note(g.page, c, CodeStruck, ingest.Hold, "the cell is struck through", c.Text, "ask the laboratory whether the number holds: a value that is struck through has usually been replaced")
		}
	}
	for _, n := range g.notes {
		c := cell(n.at)
		if c == nil {
			continue
		}
		text, known := g.comments[n.object]
		if known && text == "" {
			continue
		}
		if !known {
			text = "a comment whose text can't be read"
		}
		if rs := []rune(text); len(rs) > 160 {
			text = string(rs[:160]) + "..."
		}
		g.book.note(g.page, c, CodeComment, ingest.Flag, "the cell has a comment, which was not read", text, "read the comment: it may correct the number or say how it was found")
	}
}
