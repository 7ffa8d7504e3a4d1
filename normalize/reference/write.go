package reference

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

// Markdown writes the page as Markdown with tables of bars. It gives the
// error of w.
func (p *Page) Markdown(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n", p.Title)
	for _, x := range p.Intro {
		fmt.Fprintf(&b, "\n%s\n", text(x))
	}
	for _, s := range p.Sections {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n|", s.Title, text(s.Intro))
		for _, h := range s.Head {
			fmt.Fprintf(&b, " %s |", text(h))
		}
		b.WriteString("\n|" + strings.Repeat("---|", len(s.Head)) + "\n")
		for _, r := range s.Rows {
			b.WriteByte('|')
			for _, c := range r {
				fmt.Fprintf(&b, " %s |", text(c))
			}
			b.WriteByte('\n')
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// What Markdown would take for its own.
var marks = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", `\<`, ">", `\>`, "`", "\\`", "\n", " ")

func text(s string) string { return marks.Replace(s) }

//go:embed page.html.tmpl
var pageHTML string

var pageTemplate = template.Must(template.New("page").Parse(pageHTML))

// HTML writes the page as one file that needs nothing else. It gives the error
// of w.
func (p *Page) HTML(w io.Writer) error { return pageTemplate.Execute(w, p) }

// ID is the section's name in links.
func (s Section) ID() string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s.Title), func(r rune) bool { return r < 'a' || r > 'z' }), "-")
}
