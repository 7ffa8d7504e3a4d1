package audit

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strings"
)

//go:embed page.html.tmpl
var pageHTML string

var pageTemplate = template.Must(template.New("account").Funcs(template.FuncMap{
	"decimal": decimal,
	"short": func(s string) string {
		if len(s) > 12 {
			return s[:12]
		}
		return s
	},
	"slash": func(s string) bool { return strings.Contains(s, "/") },
	"lines": SinceSigned.Lines,
	"anchor": func(i int) string {
		return fmt.Sprintf("c%d", i+1)
	},
}).Parse(pageHTML))

// Page is the account as one HTML page, for a screen and for paper. It needs
// nothing from elsewhere and runs no script.
func Page(a *Account, b Binding) ([]byte, error) {
	hash, err := a.Hash()
	if err != nil {
		return nil, err
	}
	steps, findings := a.Unverified()
	var weak []Ground
	for _, g := range a.Grounds {
		if g.Unverified() {
			weak = append(weak, g)
		}
	}
	data := struct {
		*Account
		Binding
		Hash           string
		Weak           []Ground
		Steps          int
		Findings       int
		Blanks         []Figure
		HowToRead      []string
		MoreDocuments  int
		FirstDocuments []Document
		Notes          map[string]string
	}{a, b, hash, weak, steps, findings, Blanks(), HowToRead(), 0, a.Documents, map[string]string{}}
	// A page is to be read; the workbook has all of them.
	const most = 400
	if n := len(a.Documents); n > most {
		data.FirstDocuments, data.MoreDocuments = a.Documents[:most], n-most
	}
	for _, s := range b.Signed {
		data.Notes[s.ID] = s.Note
	}
	var out bytes.Buffer
	err = pageTemplate.Execute(&out, data)
	return out.Bytes(), err
}
