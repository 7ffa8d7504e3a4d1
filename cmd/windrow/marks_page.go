package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/base64"
	"html/template"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/web"
	"example.org/windrow/ingest"
)

//go:embed marks.html.tmpl
var marksHTML string

var marksTemplate = template.Must(template.New("marks").Parse(marksHTML))

// A markedPage is one page, sheet or list with its marks, which are in percent
// of the page.
type markedPage struct {
	web.Leaf
	Picture template.URL // of a page; "" for a grid
	Marks   []web.Mark
}

// marksPage shows a report as it looks, with every number marked as what it
// was taken for.
func marksPage(ctx context.Context, st *pipeline.Stages, rd *pipeline.Reading) ([]byte, error) {
	data := struct {
		Title   string
		Reasons []*ingest.Reason
		Pages   []markedPage
	}{Title: rd.Source.Title(), Reasons: rd.Report.Reasons}
	for _, l := range web.Leaves(rd) {
		mp := markedPage{Leaf: l}
		if len(l.Rows) == 0 {
			if png, err := st.Picture(ctx, rd.Source, l.Number, 110); err == nil {
				mp.Picture = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(png)) //nolint:gosec // our own picture
			}
		}
		for _, m := range l.Boxes {
			m.X, m.W, m.Y, m.H = 100*m.X/l.Width, 100*m.W/l.Width, 100*m.Y/l.Height, 100*m.H/l.Height
			mp.Marks = append(mp.Marks, m)
		}
		data.Pages = append(data.Pages, mp)
	}
	var b bytes.Buffer
	if err := marksTemplate.Execute(&b, data); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
