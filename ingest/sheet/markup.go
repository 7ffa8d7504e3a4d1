package sheet

import (
	"cmp"
	"encoding/xml"
	"path"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// struckStyles says of every cell style whether its font strikes its text out.
func (b *book) struckStyles() []bool {
	st := b.file.Styles
	if st == nil || st.CellXfs == nil || st.Fonts == nil {
		return nil
	}
	out := make([]bool, len(st.CellXfs.Xf))
	for i, xf := range st.CellXfs.Xf {
		if xf.FontID == nil || *xf.FontID < 0 || *xf.FontID >= len(st.Fonts.Font) || st.Fonts.Font[*xf.FontID] == nil {
			continue
		}
		s := st.Fonts.Font[*xf.FontID].Strike
		out[i] = s != nil && (s.Val == nil || *s.Val) // the element alone means yes (ECMA-376 part 1, 18.8.29 CT_BooleanProperty)
	}
	return out
}

// seen reports whether a person who opens the workbook sees a number in the
// cell.
func (g *grid) seen(c *ingest.Cell) bool {
	return !g.page.Hidden && !c.Hidden && strings.ContainsAny(c.Text, "0123456789")
}

// noteStruck notes a number that is struck out: whoever did so took it back,
// and it must not pass for a result.
func (g *grid) noteStruck(c *ingest.Cell) {
	if g.seen(c) {
		g.note(c, CodeStruck, ingest.Hold, "the cell is struck through", c.Text, "ask the laboratory whether the number holds: a value that is struck through has usually been replaced")
	}
}

// noteComments notes the comments on numbers of a sheet. What they say is
// about the value ("diluted twice", "should be 14") and read by nobody.
func (g *grid) noteComments(part string) *ingest.Reason {
	dir, base := path.Split(part)
	if g.book.parts[dir+"_rels/"+base+".rels"] == nil {
		return nil
	}
	rels, r := g.book.relations(part)
	if r != nil {
		return r
	}
	target, r := only(rels, "comments", "")
	if r != nil || target == "" || g.book.parts[target] == nil {
		return r
	}
	type run struct {
		Text string `xml:"t"`
	}
	var list struct {
		Comments []struct {
			Ref  string `xml:"ref,attr"`
			Text struct {
				Plain []string `xml:"t"`
				Runs  []run    `xml:"r"`
			} `xml:"text"`
		} `xml:"commentList>comment"`
	}
	if err := xml.Unmarshal(g.book.parts[target], &list); err != nil {
		return damagedAt(g.page.Name, "", "the comments on its cells can't be read")
	}
	for _, c := range list.Comments {
		row, col, ok := parseCellName(c.Ref)
		if !ok {
			continue
		}
		i, there := slices.BinarySearchFunc(g.page.Cells, row, func(x ingest.Cell, row int) int {
			return cmp.Or(cmp.Compare(x.Row, row), cmp.Compare(x.Col, col))
		})
		text := strings.Join(c.Text.Plain, "")
		for _, r := range c.Text.Runs {
			text += r.Text
		}
		if text = strings.Join(strings.Fields(text), " "); text == "" || !there || !g.seen(&g.page.Cells[i]) {
			continue
		}
		if rs := []rune(text); len(rs) > 160 {
			text = string(rs[:160]) + "..."
		}
		g.note(&g.page.Cells[i], CodeComment, ingest.Flag, "the cell has a comment, which was not read", text, "read the comment: it may correct the number or say how it was found")
	}
	return nil
}
