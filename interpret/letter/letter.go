package letter

import (
	_ "embed"
	"html/template"
	"io"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// An Office is whoever sends the letter. Name may not be empty; the rest is
// left out where it is.
type Office struct {
	Name      string
	Address   string // lines separated by newlines
	Phone     string
	Email     string
	Web       string
	Signature string // who signs, with a title on a second line
}

//go:embed letter.html.tmpl
var page string

var tmpl = template.Must(template.New("letter").Parse(page))

// HTML writes the letter. The only errors are those of the writer. The same
// arguments give the same bytes. Everything that came from a report or from
// the office's settings is escaped.
func HTML(w io.Writer, a *interpret.Advice, rec *normalize.Record, rep *normalize.Report, office Office) error {
	return tmpl.Execute(w, newView(a, rec, rep, office))
}
