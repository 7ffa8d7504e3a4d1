package web

import (
	"fmt"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// mostRows is how many rows of a sheet or list a page shows.
const mostRows = 400

// A Leaf is one page, sheet or list of a report with a mark on each number.
type Leaf struct {
	Title         string
	Number        int     // of the page, from 1
	Width, Height float64 // of a page, in points; 0 for a grid
	Boxes         []Mark  // on a page
	Rows          []GridRow
	More          int // rows that are not shown
}

// A Mark says what a number was taken for: on a page it is a box in points.
type Mark struct {
	X, Y, W, H float64
	As         string // result, field, heading, declared or unaccounted; "" for none
	Title      string // in words
	Place      string // as [ingest.Place.Inside] has it
	Text, Note string
}

// A GridRow is a row of a sheet or a list.
type GridRow struct {
	Number int
	Cells  []GridCell
}

// A GridCell is a cell with its mark, if it has one.
type GridCell struct {
	Text string
	Mark
}

// Leaves are the pages of a reading with the marks that its mapping made. A
// report that no mapping recognised has none; hidden sheets are left out.
func Leaves(rd *pipeline.Reading) []Leaf {
	if len(rd.Docs) == 0 {
		return nil
	}
	doc := rd.Docs[0]
	var marks []mappings.Mark
	if rd.Match != nil && rd.Extract != nil {
		doc, marks = rd.Match.Doc, rd.Extract.Marks
	}
	var out []Leaf
	for _, p := range doc.Pages {
		switch {
		case p.Hidden:
		case len(p.Cells) > 0:
			out = append(out, grid(p, marks))
		default:
			l := Leaf{Title: fmt.Sprintf("Page %d", p.Number), Number: p.Number, Width: p.Width, Height: p.Height}
			for _, m := range marks {
				if m.Place.Page == p.Number && m.Place.Box != nil && p.Width > 0 && p.Height > 0 {
					l.Boxes = append(l.Boxes, boxed(p, m))
				}
			}
			out = append(out, l)
		}
	}
	return out
}

func boxed(p *ingest.Page, m mappings.Mark) Mark {
	b := p.AsScanned(*m.Place.Box)
	x := markOf(m)
	x.X, x.Y, x.W, x.H = b.X0, b.Y0, b.Width(), b.Height()
	return x
}

func markOf(m mappings.Mark) Mark {
	s := m.Text + ": " + m.As
	if m.Note != "" {
		s += ", " + m.Note
	}
	if !m.Rule.IsZero() {
		s += " (" + m.Rule.String() + ")"
	}
	return Mark{As: m.As, Title: s, Place: m.Place.Inside(), Text: m.Text, Note: m.Note}
}

// grid is a sheet or list as a table.
func grid(p *ingest.Page, marks []mappings.Mark) Leaf {
	l := Leaf{Title: p.Name, Number: p.Number}
	if l.Title == "" {
		l.Title = "The list"
	}
	at := map[string]mappings.Mark{}
	for _, m := range marks {
		at[m.Place.Inside()] = m
	}
	row := 0
	for i := range p.Cells {
		c := &p.Cells[i]
		if c.Hidden {
			continue
		}
		if c.Row != row {
			row = c.Row
			if len(l.Rows) == mostRows {
				l.More = p.Rows - row + 1
				break
			}
			l.Rows = append(l.Rows, GridRow{Number: row})
		}
		r := &l.Rows[len(l.Rows)-1]
		for len(r.Cells) < c.Col-1 {
			r.Cells = append(r.Cells, GridCell{})
		}
		cell := GridCell{Text: c.Text, Mark: Mark{Place: p.PlaceOfCell(c).Inside()}}
		if m, ok := at[cell.Place]; ok {
			cell.Mark = markOf(m)
		}
		r.Cells = append(r.Cells, cell)
	}
	return l
}
