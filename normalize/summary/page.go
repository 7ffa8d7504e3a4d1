package summary

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"example.org/windrow/normalize/chart"
)

// A Picture is a drawing with the name of its file, without an ending.
type Picture struct {
	Name string
	*chart.Drawing
}

// mostRows is how many groups one drawing is of; those behind the first so many
// are drawn in further ones.
const mostRows = 24

// Pictures are the drawings of a test, the n-th of the summary from 0: boxes and
// curves of its groups, or of all samples where they are not grouped.
func (s *Summary) Pictures(n int) (out []Picture) {
	t := s.Tests[n]
	groups := t.rows()
	for part := 0; part*mostRows < len(groups); part++ {
		var rows []chart.Row
		for _, g := range groups[part*mostRows : min(len(groups), (part+1)*mostRows)] {
			rows = append(rows, chart.Row{Label: g.Label(), Description: g.Description, Whole: s.Options.Office})
		}
		name := fmt.Sprintf("%02d-%s", n+1, fileName(t.Analyte))
		if t.Method != "" {
			name += "-" + fileName(t.Method)
		}
		if part > 0 {
			name += fmt.Sprintf("-part%d", part+1)
		}
		if d := chart.Boxes(t.Called(), t.axis(), rows); d != nil {
			out = append(out, Picture{name + "-boxes", d})
		}
		if d := chart.Curves(t.Called(), t.axis(), rows); d != nil {
			out = append(out, Picture{name + "-curves", d})
		}
	}
	return out
}

// axis is what stands on an axis of the test's values.
func (t *Test) axis() string {
	if t.Unit == "" || t.Unit == "index" {
		return t.Name
	}
	if t.Unit == t.Name {
		return t.Unit
	}
	return t.Name + ", " + t.Unit
}

// fileName is an id as a part of a file's name.
func fileName(id string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-':
			return r
		}
		return '_'
	}, id)
}

//go:embed page.html.tmpl
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"figure": Shown, "interval": ShownInterval, "mean": ShownMean,
	"join":    func(list []string) string { return strings.Join(list, "; ") },
	"percent": func(x float64) string { return plain(round(x, 2)) + " %" },
}).Parse(pageText))

// A part is a test of the page, with its drawings.
type part struct {
	*Test
	Rows     []*Group
	Whys     []string // for the figures that are not given
	Pictures []template.HTML
}

// HTML writes the summary as a page that needs nothing besides, with the
// drawings in it.
func (s *Summary) HTML(w io.Writer) error {
	v := struct {
		*Summary
		Heads []string
		Parts []part
	}{Summary: s}
	for _, b := range s.Options.By {
		v.Heads = append(v.Heads, b.Words())
	}
	for n, t := range s.Tests {
		p := part{Test: t, Rows: t.rows(), Whys: t.Reasons((*Group).Why)}
		for _, d := range s.Pictures(n) {
			p.Pictures = append(p.Pictures, template.HTML(d.SVG())) // of the package chart, which lets no text be markup
		}
		v.Parts = append(v.Parts, p)
	}
	return page.Execute(w, v)
}
