package register

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"net/mail"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// A Register is what an office has written down of the samples it sent out. It
// is not changed once it is read, and safe for concurrent use.
type Register struct {
	File   string           // as reasons name it
	SHA256 string           // of its bytes
	Rows   []*Row           // in the order of the file, which decides nothing
	Notes  []*ingest.Reason // what is worth knowing; nothing that stands in the way

	byLabel map[string][]*Row
}

// A Row is one sample of the register. Texts are as written but for spaces at
// their ends.
type Row struct {
	// ID is "G" and ten hex digits of a hash of label, laboratory and date of
	// sending. It depends neither on where the row stands nor on what else is
	// corrected in it, and nothing personal is in it. Rows that agree in all
	// three have -2, -3 and so on behind it.
	ID       string       `json:"row"`
	Place    ingest.Place `json:"place"` // of the label
	Label    string       `json:"label"`
	LandUse  string       `json:"land_use,omitempty"` // an id of the tables, or the text where they don't know it
	AreaSqFt string       `json:"area_sq_ft,omitempty"`
	County   string       `json:"county,omitempty"`
	Lab      string       `json:"lab,omitempty"`
	Sent     string       `json:"date_sent,omitempty"` // YYYY-MM-DD
	Language string       `json:"language,omitempty"`  // en or es
	Client   string       `json:"-"`                   // personal
	Email    string       `json:"-"`                   // personal

	label, client, lab string // folded
}

// languages are those that letters may be written in.
var languages = map[string]string{"english": "en", "en": "en", "eng": "en", "ingles": "en", "spanish": "es", "es": "es", "spa": "es", "espanol": "es", "castellano": "es"}

// Read reads a register from its document. It gives a register, whose Notes
// may hold flags and notes, or every reason of severity fail why there is
// none, with what else is flagged, never both.
func Read(doc *ingest.Document) (*Register, []*ingest.Reason) {
	r := &Register{File: doc.Source.Title(), SHA256: doc.Source.SHA256}
	g, at, reasons := table(doc, r.File)
	if at < 0 {
		return nil, reasons
	}
	r.Notes = reasons
	cols, found := g.columns(g.rows[at])
	for _, n := range doc.Notes {
		if n.Code == "ragged-row" {
			x := *n
			x.Code, x.Severity, x.What = CodeRagged, ingest.Fail, "a line of the register has another number of fields than the others, so that its values may stand under the wrong headings"
			x.Found, _, _ = strings.Cut(n.Found, ":") // what stands in the line is personal
			x.Next = "write a text that holds the separator in quotes, and add or remove separators until each line has as many as the headings"
			found = append(found, &x)
		}
	}
	for _, x := range found {
		r.note(x)
	}
	if failed(r.Notes) == nil {
		for _, row := range g.rows[at+1:] {
			r.row(g, cols, row)
		}
	}
	if bad := failed(r.Notes); bad != nil {
		r.index() // what else is amiss is told in one go
		return nil, append(bad, flagged(r.Notes)...)
	}
	r.index()
	return r, nil
}

func (r *Register) note(x *ingest.Reason) { r.Notes = append(r.Notes, x) }

func flagged(list []*ingest.Reason) (out []*ingest.Reason) {
	for _, x := range list {
		if x.Severity == ingest.Flag {
			out = append(out, x)
		}
	}
	return out
}

func failed(list []*ingest.Reason) (out []*ingest.Reason) {
	for _, x := range list {
		if x.Severity == ingest.Fail || x.Severity == ingest.Hold {
			out = append(out, x)
		}
	}
	return out
}

// table finds the sheet that holds the register, and the row of its headings.
func table(doc *ingest.Document, file string) (g grid, at int, reasons []*ingest.Reason) {
	at = -1
	first := ""
	for _, p := range doc.Pages {
		x := gridOf(p, file)
		i := x.header()
		switch {
		case i < 0:
			if first == "" && len(x.rows) > 0 {
				var cells []string
				for _, c := range x.rows[0][:min(len(x.rows[0]), 12)] {
					cells = append(cells, quoted(c.Text))
				}
				first = "the first line is " + strings.Join(cells, ", ")
			}
			if len(x.rows) > 0 && len(doc.Pages) > 1 {
				reasons = append(reasons, &ingest.Reason{Code: CodeOtherSheet, Severity: ingest.Note, Where: ingest.Place{File: file, Sheet: p.Name}, What: "this sheet has no headings of a register and is not read"})
			}
		case at >= 0:
			return g, -1, []*ingest.Reason{{Code: CodeNoHeader, Severity: ingest.Fail, Where: ingest.Place{File: file}, What: "two sheets of the workbook look like the register", Expected: "one sheet with its headings",
				Found: quoted(g.page.Name) + " and " + quoted(p.Name), Next: "keep the register on one sheet, and move the other to a workbook of its own"}}
		default:
			g, at = x, i
		}
	}
	if at < 0 {
		if first == "" {
			first = "no cell that holds anything"
		}
		return g, -1, []*ingest.Reason{{Code: CodeNoHeader, Severity: ingest.Fail, Where: ingest.Place{File: file}, What: "no line with the headings of a register was found",
			Expected: "within the first " + strconv.Itoa(headerRows) + " lines, headings such as label, client, land use, area (sq ft), county, lab, date sent, e-mail, language", Found: first,
			Next: "write the headings above the table; label, client and date sent must be among them"}}
	}
	return g, at, reasons
}

// row reads one line of the table.
func (r *Register) row(g grid, cols []column, cells []ingest.Cell) {
	row := &Row{}
	in := map[int]*ingest.Cell{}
	some := false
	for i := range cells {
		in[cells[i].Col] = &cells[i]
	}
	for _, col := range cols {
		c := in[col.col]
		if c == nil {
			continue
		}
		if c.Down > 1 || c.Across > 1 {
			r.note(&ingest.Reason{Code: CodeCell, Severity: ingest.Fail, Where: g.place(c), What: "a cell of the register is merged with others, so that it is not sure which samples it is for", Expected: "a cell for each sample",
				Found: "a merged cell under " + string(col.field), Next: "split the cell, and write its value on each line that it is for"})
			continue
		}
		if c.Kind == ingest.ErrorCell {
			r.note(&ingest.Reason{Code: CodeCell, Severity: ingest.Fail, Where: g.place(c), What: "a cell of the register has no value", Expected: "the " + string(col.field), Found: quoted(c.Text),
				Next: "correct the formula and save the workbook in a program that computes it, or write the value itself"})
			continue
		}
		if strings.TrimSpace(c.Text) == "" && c.Raw == "" {
			continue
		}
		some = true
		r.cell(g, row, col, c)
	}
	if !some {
		return // what stands in other columns is the office's own
	}
	if row.Label == "" {
		at := g.place(&cells[0])
		at.Col = 0
		if at.Cell != "" {
			at.Cell = ingest.CellName(cells[0].Row, colOf(cols, label))
		}
		r.note(&ingest.Reason{Code: CodeNoLabel, Severity: ingest.Fail, Where: at, What: "a line of the register has no label of a sample", Expected: "the label that the sample was sent with", Found: "an empty field",
			Next: "write the label, or empty the line"})
		return
	}
	if row.Client == "" {
		r.note(&ingest.Reason{Code: CodeNoClient, Severity: ingest.Flag, Where: row.Place, What: "a line of the register does not say whose sample it is, so that only its label and its dates can speak for a report", Expected: "the client's name", Found: "an empty field",
			Next: "write the client's name"})
	}
	row.label, row.client, row.lab = fold(row.Label), nameKey(row.Client), fold(row.Lab)
	r.Rows = append(r.Rows, row)
}

func colOf(cols []column, f field) int {
	for _, c := range cols {
		if c.field == f {
			return c.col
		}
	}
	return 1
}

// cell reads one cell into a row, or says why it can't.
func (r *Register) cell(g grid, row *Row, col column, c *ingest.Cell) {
	text := strings.Join(strings.Fields(c.Text), " ")
	bad := func(code, what, expected, found, next string) {
		r.note(&ingest.Reason{Code: code, Severity: ingest.Fail, Where: g.place(c), What: what, Expected: expected, Found: found, Next: next})
	}
	switch col.field {
	case label:
		row.Label, row.Place = text, g.place(c)
		if fold(text) == "" {
			bad(CodeNoLabel, "the label of a sample has no letter and no digit in it", "the label that the sample was sent with", quoted(text), "write the label as it stands on the bag")
		}
	case client:
		row.Client = text
	case county:
		row.County = text
	case lab:
		row.Lab = text
	case landUse:
		id, ok := normalize.Vocabulary().Resolve(mappings.LandUseWord, text)
		if row.LandUse = id; !ok {
			row.LandUse = text
			next := "write one of: " + strings.Join(normalize.LandUses(), ", ")
			if near := normalize.Vocabulary().Near(mappings.LandUseWord, text); len(near) > 0 {
				next = "did you mean " + quoted(near[0]) + "?"
			}
			r.note(&ingest.Reason{Code: CodeLandUse, Severity: ingest.Flag, Where: g.place(c), What: "the tables don't know this use of the land, so that advice on the sample will only ask about it", Expected: "a use of the land", Found: quotedUse(text), Next: next})
		}
	case area:
		s, wrong := text, ""
		if c.Kind == ingest.NumberCell && c.Raw != "" {
			// What is shown may be rounded, or carry a unit that is only a format.
			if s = c.Raw; strings.ContainsFunc(text, isLetter) {
				wrong = "a number that is shown with a unit by the format of the cell alone"
			}
		}
		if wrong == "" {
			row.AreaSqFt, wrong = parseArea(s, col.unit)
		}
		if wrong != "" {
			bad(CodeArea, "an area of the register can't be read exactly", howArea, shown(text)+": "+wrong, "write it in one of these forms, or name the unit in the heading: area (sq ft)")
		}
	case sent:
		s := text
		if c.Kind == ingest.DateCell && c.Raw != "" {
			s = c.Raw
		}
		var wrong string
		if row.Sent, wrong = parseDate(s, col.order); wrong != "" {
			bad(CodeDate, "a date of the register can't be read", howDate, shown(text)+": "+wrong, "write the date in one of these forms")
		}
	case email:
		a, err := mail.ParseAddress(text)
		if err != nil || a.Address != text || !strings.Contains(text[strings.LastIndexByte(text, '@')+1:], ".") {
			// The text is personal and is not repeated.
			bad(CodeEmail, "this is no e-mail address", "one address, such as name@example.org, and nothing beside it", "a text that is none", "correct it, or leave the field empty")
			return
		}
		row.Email = text
	case language:
		l, ok := languages[fold(text)]
		if !ok {
			bad(CodeLanguage, "letters are not written in this language", "English or Spanish, or nothing", "another text", "write one of them, or leave the field empty for English")
			return
		}
		row.Language = l
	}
}

// quotedUse is a text of the column of uses, unless an address slipped into it.
func quotedUse(text string) string {
	if strings.ContainsRune(text, '@') {
		return shown(text)
	}
	return quoted(text)
}

// shown is a text of a column of areas or dates as a reason tells it: not,
// where it may be a name or an address that slipped into the wrong column.
func shown(text string) string {
	if strings.ContainsRune(text, '@') || !strings.ContainsAny(text, "0123456789") {
		return "a text that is not repeated here"
	}
	return quoted(text)
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

// key is what is in a row, whatever its place.
func (x *Row) key() string {
	return strings.Join([]string{x.client, x.Email, x.LandUse, x.AreaSqFt, x.County, x.Language, x.Label, x.Client, x.Lab}, "\x00")
}

// index gives each row its id and makes it findable by its label.
func (r *Register) index() {
	same := map[string][]*Row{}
	for _, x := range r.Rows {
		h := sha256.Sum256([]byte(strings.Join([]string{x.label, x.lab, x.Sent}, "\x00")))
		x.ID = "G" + hex.EncodeToString(h[:5])
		same[x.ID] = append(same[x.ID], x)
	}
	r.byLabel = make(map[string][]*Row, len(r.Rows))
	for _, list := range same {
		slices.SortStableFunc(list, func(a, b *Row) int {
			return cmp.Compare(a.key(), b.key())
		})
		for i, x := range list[1:] {
			x.ID += "-" + strconv.Itoa(i+2)
		}
	}
	for _, x := range r.Rows {
		for _, y := range r.byLabel[x.label] {
			if y.client == x.client && y.Sent == x.Sent && y.lab == x.lab {
				r.note(&ingest.Reason{Code: CodeSame, Severity: ingest.Flag, Where: x.Place, What: "two lines of the register are the same sample: label, client, laboratory and date are the same", Expected: "one line a sample",
					Found: quoted(x.Label) + " here and at " + y.Place.Inside(), Next: "remove one; until then neither is taken for a report"})
				break
			}
		}
		r.byLabel[x.label] = append(r.byLabel[x.label], x)
	}
}
