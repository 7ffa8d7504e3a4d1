package register

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// A field is what a column of the register holds.
type field string

const (
	label    field = "label"
	client   field = "client"
	landUse  field = "land use"
	area     field = "area"
	county   field = "county"
	lab      field = "lab"
	sent     field = "date sent"
	email    field = "e-mail"
	language field = "language"
)

// required are the columns without which a register is of no use: a sample is
// found by its label and its client, and waits since it was sent.
var required = []field{label, client, sent}

// headings are the spellings by which a column is known, folded. A register is
// the office's own, so the list is generous, but nothing else is guessed.
var headings = map[field][]string{
	label: {"label", "labels", "sample", "sample label", "sample id", "sample name", "sample no", "sample number", "client sample id", "client label", "label on the bag", "bag", "bag label",
		"etiqueta", "muestra"},
	client:   {"client", "client name", "name", "name of client", "customer", "customer name", "grower", "grower name", "owner", "cliente", "nombre"},
	landUse:  {"land use", "landuse", "use", "use of land", "use of the land", "crop", "crop or use", "what is grown", "grown", "planting", "uso", "uso del suelo", "cultivo"},
	area:     {"area", "size", "size of area", "area size", "plot size", "garden size", "superficie"},
	county:   {"county", "condado"},
	lab:      {"lab", "laboratory", "lab name", "sent to", "sent to lab", "laboratorio"},
	sent:     {"date sent", "sent", "sent on", "sent date", "date of sending", "date mailed", "mailed", "mailed on", "date shipped", "shipped", "date sent to lab", "fecha de envio", "enviado"},
	email:    {"email", "e mail", "email address", "e mail address", "client email", "client e mail", "mail", "correo", "correo electronico"},
	language: {"language", "language of letter", "letter language", "lang", "idioma"},
}

// units are what the heading of the column of areas may say of a bare number.
var units = map[string]string{
	"sq ft": sqFt, "sqft": sqFt, "square feet": sqFt, "in sq ft": sqFt, "in sqft": sqFt, "in square feet": sqFt, "ft2": sqFt, "in ft2": sqFt,
	"acre": acre, "acres": acre, "in acres": acre, "ac": acre,
}

// orders are what the heading of the column of dates may say of dates in
// numbers.
var orders = map[string]order{"m d y": monthFirst, "mm dd yyyy": monthFirst, "m d yyyy": monthFirst, "month day year": monthFirst,
	"d m y": dayFirst, "dd mm yyyy": dayFirst, "d m yyyy": dayFirst, "day month year": dayFirst, "y m d": "", "yyyy mm dd": ""}

// fold is a text without what writers vary: letter case, accents, punctuation,
// spaces, and whether a number is set off from a word.
func fold(s string) string {
	var b strings.Builder
	var last rune
	for _, r := range norm.NFKD.String(s) {
		r = unicode.ToLower(r)
		switch {
		case unicode.Is(unicode.Mn, r), r == '\'', r == '’':
			continue // O'Dowd and ODowd are one
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			r = ' '
		case last != ' ' && last != 0 && unicode.IsDigit(r) != unicode.IsDigit(last):
			b.WriteByte(' ')
		}
		if r == ' ' && (last == ' ' || last == 0) {
			continue
		}
		b.WriteRune(r)
		last = r
	}
	return strings.TrimRight(b.String(), " ")
}

// foldHeading is a heading folded; unlike a label it may hold ft2.
func foldHeading(s string) string { return strings.ReplaceAll(fold(s), "ft 2", "ft2") }

// A column is one of the register that is read.
type column struct {
	field field
	col   int
	unit  string // of bare areas, "" when the heading says none
	order order  // of dates in numbers, "" when the heading says none
}

// columnOf knows a column by its heading.
func columnOf(heading string) (column, bool) {
	h := foldHeading(heading)
	for f, names := range headings {
		for _, n := range names {
			if h == n {
				return column{field: f}, true
			}
			rest, ok := strings.CutPrefix(h, n+" ")
			if !ok {
				continue
			}
			if u, ok := units[rest]; ok && f == area {
				return column{field: f, unit: u}, true
			}
			if o, ok := orders[rest]; ok && f == sent {
				return column{field: f, order: o}, true
			}
		}
	}
	if u, ok := units[h]; ok && h != "ac" {
		return column{field: area, unit: u}, true
	}
	return column{}, false
}

// A grid is the cells of one sheet by row.
type grid struct {
	page *ingest.Page
	file string
	rows [][]ingest.Cell // those that hold anything
}

func gridOf(p *ingest.Page, file string) grid {
	g := grid{page: p, file: file}
	for _, c := range p.Cells {
		if strings.TrimSpace(c.Text) == "" && c.Kind == ingest.TextCell {
			continue
		}
		if n := len(g.rows); n == 0 || g.rows[n-1][0].Row != c.Row {
			g.rows = append(g.rows, nil)
		}
		g.rows[len(g.rows)-1] = append(g.rows[len(g.rows)-1], c)
	}
	return g
}

func (g grid) place(c *ingest.Cell) ingest.Place { return g.page.PlaceOfCell(c).In(g.file) }

// headerRows is how far down the headings may stand, below a title.
const headerRows = 10

// header finds the row of headings: the first that has the label's and one
// other. It gives its index, -1 for none.
func (g grid) header() int {
	for i, row := range g.rows[:min(len(g.rows), headerRows)] {
		known, labelled := 0, false
		for _, c := range row {
			if col, ok := columnOf(c.Text); ok {
				known++
				labelled = labelled || col.field == label
			}
		}
		if labelled && known >= 2 {
			return i
		}
	}
	// A register that lacks the label is told so, and not that it has none.
	for i, row := range g.rows[:min(len(g.rows), headerRows)] {
		known := 0
		for _, c := range row {
			if _, ok := columnOf(c.Text); ok {
				known++
			}
		}
		if known >= 2 {
			return i
		}
	}
	return -1
}

// columns reads the row of headings.
func (g grid) columns(row []ingest.Cell) (cols []column, reasons []*ingest.Reason) {
	have := map[field]string{}
	for i := range row {
		c := &row[i]
		col, ok := columnOf(c.Text)
		if !ok {
			next := "nothing, if it is for the office alone"
			if near := nearest(c.Text); near != "" {
				next = fmt.Sprintf("if it is meant to be read, did you mean %q?", near)
			}
			reasons = append(reasons, &ingest.Reason{Code: CodeUnknown, Severity: ingest.Note, Where: g.place(c), What: "this column of the register is not one that is read",
				Expected: "one of " + fieldNames(), Found: quoted(c.Text), Next: next})
			continue
		}
		if first, twice := have[col.field]; twice {
			reasons = append(reasons, &ingest.Reason{Code: CodeTwice, Severity: ingest.Fail, Where: g.place(c), What: "two columns of the register are the " + string(col.field),
				Expected: "one", Found: quoted(first) + " and " + quoted(c.Text), Next: "rename or remove one of them"})
			continue
		}
		have[col.field] = c.Text
		col.col = c.Col
		cols = append(cols, col)
	}
	for _, f := range required {
		if _, ok := have[f]; !ok {
			var found []string
			for _, c := range row {
				found = append(found, quoted(c.Text))
			}
			at := g.place(&row[0])
			at.Col = 0
			reasons = append(reasons, &ingest.Reason{Code: CodeMissing, Severity: ingest.Fail, Where: at, What: "the register has no column for the " + string(f),
				Expected: "a heading such as " + quoted(headings[f][0]) + " or " + quoted(headings[f][1]), Found: "the headings " + strings.Join(found, ", "), Next: "add the column, or rename the one that holds it"})
		}
	}
	return cols, reasons
}

func fieldNames() string {
	var out []string
	for _, f := range []field{label, client, landUse, area, county, lab, sent, email, language} {
		out = append(out, string(f))
	}
	return strings.Join(out, ", ")
}

// nearest is the spelling that a heading was most likely meant for.
func nearest(heading string) string {
	var all []string
	for _, names := range headings {
		all = append(all, names...)
	}
	slices.Sort(all)
	if near := strict.Nearest(foldHeading(heading), all, 1); len(near) > 0 {
		return near[0]
	}
	return ""
}

// quoted is a text of the register as a reason shows it.
func quoted(s string) string {
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) > 60 {
		r = append(r[:60], '…')
	}
	return fmt.Sprintf("%q", string(r))
}
