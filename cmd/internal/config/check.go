package config

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// A Row is one setting as config check shows it.
type Row struct {
	Key    string `json:"setting"`
	Value  string `json:"value"` // as written; never a secret
	From   string `json:"from"`  // default, windrow.yaml:12, WINDROW_WORKERS or --workers
	Env    string `json:"env,omitempty"`
	Doc    string `json:"doc"`
	Hidden bool   `json:"hidden,omitempty"` // set, and not shown
}

// Rows is every setting with its effective value, in the order of Spec.
func (c *Config) Rows() []Row {
	var out []Row
	for _, f := range Spec() {
		r := Row{Key: f.Key, Value: f.show(c.written[f.Key]), From: c.from[f.Key].String(), Env: f.Env(), Doc: f.Doc}
		if f.Secret && r.Value != "" {
			r.Value, r.Hidden = "", true
		}
		out = append(out, r)
	}
	return out
}

// Check writes each effective value and where it came from, as a table.
func (c *Config) Check(w io.Writer) error {
	lines := [][3]string{{"setting", "value", "from"}}
	for _, r := range c.Rows() {
		v := strings.ReplaceAll(r.Value, "\n", " / ")
		switch {
		case r.Hidden:
			v = "(set, not shown)"
		case v == "":
			v = "(none)"
		}
		lines = append(lines, [3]string{r.Key, v, r.From})
	}
	// A very long value pushes only its own line, not the whole column.
	const widest = 48
	var wide [2]int
	for _, l := range lines {
		for i := range wide {
			if n := utf8.RuneCountInString(l[i]); n <= widest {
				wide[i] = max(wide[i], n)
			}
		}
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "office folder  %s\n\n", c.Dir)
	for _, l := range lines {
		for i, n := range wide {
			b.WriteString(l[i] + strings.Repeat(" ", 2+max(0, n-utf8.RuneCountInString(l[i]))))
		}
		b.WriteString(l[2] + "\n")
	}
	_, err := w.Write(b.Bytes())
	return err
}

// CheckJSON writes what Check writes, for a program to read.
func (c *Config) CheckJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(struct {
		Dir      string `json:"office_folder"`
		Settings []Row  `json:"settings"`
	}{c.Dir, c.Rows()})
}
