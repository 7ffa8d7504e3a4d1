package letter

import (
	_ "embed"
	"html/template"
	"io"
	"regexp"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// An Office is whoever sends the letter. What is empty is left out; for a name
// that is, the letter has its title.
type Office struct {
	Name      string
	Address   string // lines separated by newlines
	Phone     string
	Email     string
	Web       string
	Signature string // who signs, with a title on a second line
}

// A Letter is what goes into one letter: the advice on a record, the record
// and its report, who sends it, and the language. None of it is changed. The
// same letter gives the same bytes in each of its shapes.
type Letter struct {
	Advice   *interpret.Advice
	Record   *normalize.Record
	Report   *normalize.Report
	Office   Office
	Language Language // "" for English
}

//go:embed letter.html.tmpl
var page string

var tmpl = template.Must(template.New("letter").Funcs(template.FuncMap{"text": textHTML}).Parse(page))

// HTML writes the letter as a page. The only errors are those of the writer.
// Everything that came from a report or from the office's settings is
// escaped.
func (l *Letter) HTML(w io.Writer) error { return tmpl.Execute(w, newView(l)) }

var foreign = regexp.MustCompile(string(foreignFrom) + `([^` + string(foreignFrom) + string(foreignTo) + `]*)` + string(foreignTo))

// textHTML escapes a text and gives what is left in English its language.
func textHTML(s string) template.HTML {
	s = template.HTMLEscapeString(s)
	if !strings.ContainsRune(s, foreignFrom) {
		return template.HTML(s) //nolint:gosec // escaped above
	}
	s = foreign.ReplaceAllString(s, `<span lang="en">$1</span>`)
	return template.HTML(strings.Map(notMark, s)) //nolint:gosec // escaped above
}
