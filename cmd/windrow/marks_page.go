package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

//go:embed marks.html.tmpl
var marksHTML string

var marksTemplate = template.Must(template.New("marks").Parse(marksHTML))

// mostMarkedRows is how many rows of a sheet or list a page shows.
const mostMarkedRows = 400

// A markedPage is one page, sheet or list with its marks.
type markedPage struct {
	Title   string
	Picture template.URL // of a page; "" for a grid
	Marks   []markedBox
	Rows    []markedRow
	More    int // rows that are not shown
}

// A markedBox is a mark on a picture, in percent of the page.
type markedBox struct {
	X, Y, W, H float64
	As, Title  string
}

type markedRow struct {
	Number int
	Cells  []markedCell
}

type markedCell struct{ Text, As, Title string }

// marksPage shows a report as it looks, with every number marked as what it
// was taken for.
func marksPage(ctx context.Context, st *pipeline.Stages, rd *pipeline.Reading) ([]byte, error) {
	doc := rd.Docs[0]
	var marks []mappings.Mark
	if rd.Match != nil {
		doc, marks = rd.Match.Doc, rd.Extract.Marks
	}
	data := struct {
		Title   string
		Reasons []*ingest.Reason
		Pages   []markedPage
	}{Title: rd.Source.Title(), Reasons: rd.Report.Reasons}
	for _, p := range doc.Pages {
		if p.Hidden {
			continue
		}
		if len(p.Cells) > 0 {
			data.Pages = append(data.Pages, markedGrid(p, marks))
			continue
		}
		mp := markedPage{Title: fmt.Sprintf("Page %d", p.Number)}
		if png, err := st.Picture(ctx, rd.Source, p.Number, 110); err == nil {
			mp.Picture = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(png)) //nolint:gosec // our own picture
		}
		for _, m := range marks {
			if m.Place.Page != p.Number || m.Place.Box == nil || p.Width <= 0 || p.Height <= 0 {
				continue
			}
			b := p.AsScanned(*m.Place.Box)
			mp.Marks = append(mp.Marks, markedBox{100 * b.X0 / p.Width, 100 * b.Y0 / p.Height, 100 * b.Width() / p.Width, 100 * b.Height() / p.Height, m.As, markTitle(m)})
		}
		data.Pages = append(data.Pages, mp)
	}
	var b bytes.Buffer
	if err := marksTemplate.Execute(&b, data); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func markTitle(m mappings.Mark) string {
	s := m.Text + ": " + m.As
	if m.Note != "" {
		s += ", " + m.Note
	}
	if !m.Rule.IsZero() {
		s += " (" + m.Rule.String() + ")"
	}
	return s
}

// markedGrid is a sheet or list as a table.
func markedGrid(p *ingest.Page, marks []mappings.Mark) markedPage {
	mp := markedPage{Title: p.Name}
	if mp.Title == "" {
		mp.Title = "The list"
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
			if len(mp.Rows) == mostMarkedRows {
				mp.More = p.Rows - row + 1
				break
			}
			mp.Rows = append(mp.Rows, markedRow{Number: row})
		}
		r := &mp.Rows[len(mp.Rows)-1]
		for len(r.Cells) < c.Col-1 {
			r.Cells = append(r.Cells, markedCell{})
		}
		cell := markedCell{Text: c.Text}
		if m, ok := at[p.PlaceOfCell(c).Inside()]; ok {
			cell.As, cell.Title = m.As, markTitle(m)
		}
		r.Cells = append(r.Cells, cell)
	}
	return mp
}
