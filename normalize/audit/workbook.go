package audit

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/xuri/excelize/v2"
)

// A Binding is what goes onto the cover of a workbook or page beside the
// account.
type Binding struct {
	Office   string
	Software string
	Made     time.Time // when it was written
	Signed   []*SignOff
	Since    []SinceSigned
}

// A sheet is a table of the workbook. Cells are text, int or float64; text is
// text whatever it looks like.
type sheet struct {
	name, lead string // lead says in a sentence what the rows are
	cols       []column
	rows       [][]any
}

type column struct {
	head  string
	width float64 // in characters
}

// Workbook is the account as an XLSX workbook: a cover with figures and a
// place to sign, and a sheet for each kind of row. No cell holds a formula.
func Workbook(a *Account, b Binding) ([]byte, error) {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }() // only temporary files, of which it has none
	w := &binder{f: f, account: a, Binding: b}
	if err := w.styles(); err != nil {
		return nil, err
	}
	if err := w.cover(); err != nil {
		return nil, err
	}
	for _, s := range sheets(a) {
		if err := w.sheet(s); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	if err := f.SetDocProps(&excelize.DocProperties{Title: "Audit: " + a.Scope.String(), Creator: "Windrow " + b.Software, Created: b.Made.UTC().Format(time.RFC3339), Modified: b.Made.UTC().Format(time.RFC3339)}); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err := f.Write(&out)
	return out.Bytes(), err
}

// mostCell is how many characters a cell of a workbook may hold.
const mostCell = 32_000

// cellText is text that every program opens: without control characters, and
// not longer than a cell may be. What is cut off says so.
func cellText(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	if r := []rune(s); len(r) > mostCell {
		return string(r[:mostCell]) + " … (cut off here)"
	}
	return s
}

func join[T any](list []T, text func(T) string) string {
	var out []string
	for _, x := range list {
		out = append(out, text(x))
	}
	return strings.Join(out, "\n")
}

func (u Use) String() string { return fmt.Sprintf("%s: %d (%s)", u.LabName, u.Count, u.Mapping) }

// laboratories names who used something, each with how often in all.
func laboratories(uses []Use) string {
	var names []string
	counts := map[string]int{}
	for _, u := range uses {
		if counts[u.LabName] == 0 {
			names = append(names, u.LabName)
		}
		counts[u.LabName] += u.Count
	}
	for i, n := range names {
		names[i] = fmt.Sprintf("%s %d", n, counts[n])
	}
	return strings.Join(names, "; ")
}

// Ground is the entry of the account under a source key.
func (a *Account) Ground(key string) Ground {
	for _, g := range a.Grounds {
		if g.Key == key {
			return g
		}
	}
	return Ground{Key: key}
}

// Standing is how well a source is known, in words.
func (g Ground) Standing() string {
	if g.Provenance == "" {
		return "not in the bibliography"
	}
	return g.Provenance
}

func unverified(g Ground) string {
	if g.InPart() {
		return "in part"
	}
	return yes(g.Unverified())
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// Range is the factor of a conversion for people: one, or from the least to
// the greatest where it depends on inputs.
func (c Conversion) Range() string {
	switch {
	case c.Factor != "":
		return c.Factor
	case c.Least == "":
		return ""
	case c.Least == c.Most && strings.Contains(c.Least, "/"):
		return c.Least + " (" + decimal(c.Least) + ")"
	case c.Least == c.Most:
		return c.Least
	}
	return decimal(c.Least) + " to " + decimal(c.Most)
}

func sheets(a *Account) []sheet {
	differences := sheet{name: "Differences", lead: "What does not follow from what is stored beside it. Every row is to be looked at.",
		cols: []column{{"code", 18}, {"record", 22}, {"laboratory", 18}, {"result", 30}, {"step", 9}, {"what", 48}, {"expected", 30}, {"found", 30}, {"report", 20}, {"version", 8}}}
	for _, d := range a.Differences {
		differences.rows = append(differences.rows, []any{d.Code, d.Record, d.Lab, d.Result, d.Step, d.What, d.Expected, d.Found, d.Report, d.Version})
	}
	conversions := sheet{name: "Conversions", lead: "Every distinct conversion that was used, most of them by several laboratories; their mappings stand in the sheet Uses, a worked example in Examples.",
		cols: []column{{"rule", 26}, {"what", 36}, {"from", 15}, {"to", 15}, {"factor", 22}, {"factor, decimal", 15}, {"equation", 26}, {"inputs from", 11}, {"exact", 7}, {"used", 8},
			{"source key", 18}, {"provenance", 13}, {"source", 56}, {"laboratories", 46}}}
	examples := sheet{name: "Examples", lead: "One worked example of each conversion. Compare what is printed with the original, at the place given.",
		cols: []column{{"rule", 26}, {"label", 24}, {"printed", 18}, {"analyte", 11}, {"file", 26}, {"place", 24}, {"worked", 50}, {"value", 18}, {"laboratory", 24}, {"record", 22}, {"seen on the page", 12}}}
	uses := sheet{name: "Uses", lead: "Each conversion by laboratory and mapping.",
		cols: []column{{"rule", 26}, {"from", 15}, {"to", 15}, {"factor", 22}, {"laboratory", 34}, {"mapping", 34}, {"used", 8}, {"SHA-256 of the mapping", 36}}}
	for _, c := range a.Conversions {
		g, e := a.Ground(c.Source), c.Example
		conversions.rows = append(conversions.rows, []any{c.Rule, c.What, c.From, c.To, c.Range(), numberOr(c.Decimal), c.Equation, strings.Join(c.Origins, ", "), yes(c.Exact), c.Count,
			c.Source, g.Standing(), g.Text, laboratories(c.Uses)})
		examples.rows = append(examples.rows, []any{c.Rule, e.Label, e.Printed, e.Analyte, e.File, e.Place, e.Work, e.Value, e.Lab, e.Record, "☐"})
		for _, u := range c.Uses {
			uses.rows = append(uses.rows, []any{c.Rule, c.From, c.To, c.Range(), u.LabName, u.Mapping, u.Count, u.SHA256})
		}
	}
	checks := sheet{name: "Checks", lead: "Every check that found something, with one example each.",
		cols: []column{{"check", 24}, {"severity", 10}, {"found", 8}, {"by laboratory (mapping)", 44}, {"example: record", 22}, {"what", 50}, {"expected", 30}, {"found there", 30}, {"source key", 20}, {"provenance", 14}, {"source", 60}}}
	for _, c := range a.Checks {
		g := a.Ground(c.Source)
		checks.rows = append(checks.rows, []any{c.Check, string(c.Severity), c.Count, join(c.Uses, Use.String), c.Record, c.What, c.Expected, c.Found, c.Source, g.Standing(), g.Text})
	}
	outside := sheet{name: "Outside domain", lead: "Every estimate that an equation was asked for outside its domain. None of them has a number.",
		cols: []column{{"record", 22}, {"laboratory", 18}, {"result", 30}, {"estimate", 34}, {"why outside", 50}, {"source key", 20}}}
	for _, o := range a.Outside {
		outside.rows = append(outside.rows, []any{o.Record, o.Lab, o.Result, o.Estimate, o.Why, o.Source})
	}
	refused := sheet{name: "Not converted", lead: "Why printed numbers became no value.",
		cols: []column{{"why", 60}, {"results", 9}, {"by laboratory (mapping)", 44}, {"example: record", 22}, {"result", 34}}}
	for _, r := range a.Refused {
		refused.rows = append(refused.rows, []any{r.Why, r.Count, join(r.Uses, Use.String), r.Record, r.Result})
	}
	sources := sheet{name: "Sources", lead: "Everything that steps and findings rest on. Unverified is what nobody has seen: from memory, common practice, or not in the bibliography.",
		cols: []column{{"source key", 24}, {"provenance", 18}, {"unverified", 11}, {"steps", 9}, {"findings", 9}, {"source", 100}}}
	for _, g := range a.Grounds {
		sources.rows = append(sources.rows, []any{g.Key, g.Standing(), unverified(g), g.Steps, g.Findings, g.Text})
	}
	reports := sheet{name: "Reports", lead: "What was audited. The hash is that of the document in the archive.",
		cols: []column{{"report", 20}, {"version", 8}, {"arrived", 11}, {"laboratory", 20}, {"file", 44}, {"SHA-256 of the document", 74}}}
	for _, d := range a.Documents {
		reports.rows = append(reports.rows, []any{d.Report, d.Version, d.Arrived, d.Lab, d.File, d.SHA256})
	}
	return []sheet{differences, conversions, examples, uses, checks, outside, refused, sources, reports}
}

// numberOr is a number for a cell, text where it is none.
func numberOr(s string) any {
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return v
	}
	return s
}

// A binder writes the workbook.
type binder struct {
	Binding
	f       *excelize.File
	account *Account

	title, lead, head, text, count, factor, label, low, figure, line, alarm int // styles
}

func (w *binder) styles() (err error) {
	style := func(s excelize.Style) int {
		if err != nil {
			return 0
		}
		var id int
		id, err = w.f.NewStyle(&s)
		return id
	}
	top := &excelize.Alignment{Vertical: "top", WrapText: true}
	hair := func(sides ...string) (b []excelize.Border) {
		for _, s := range sides {
			b = append(b, excelize.Border{Type: s, Color: "8A8372", Style: 1})
		}
		return b
	}
	ink := func(size float64, bold bool) *excelize.Font {
		return &excelize.Font{Family: "Georgia", Size: size, Bold: bold, Color: "1C1C1C"}
	}
	const asText = 49 // the format @: what is in the cell is text, also when somebody edits it
	tenDigits := "0.##########"
	w.title = style(excelize.Style{Font: ink(16, true), NumFmt: asText})
	w.lead = style(excelize.Style{Font: &excelize.Font{Family: "Georgia", Size: 10, Italic: true, Color: "4A4A4A"}, NumFmt: asText, Alignment: &excelize.Alignment{Vertical: "top"}})
	w.head = style(excelize.Style{Font: ink(10, true), NumFmt: asText, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"EFE9D8"}}, Border: hair("bottom", "top"), Alignment: &excelize.Alignment{Vertical: "center", WrapText: true}})
	w.text = style(excelize.Style{Font: ink(10, false), NumFmt: asText, Alignment: top, Border: hair("bottom")})
	w.count = style(excelize.Style{Font: ink(10, false), NumFmt: 3, Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "right", Indent: 1}, Border: hair("bottom")})
	w.factor = style(excelize.Style{Font: ink(10, false), CustomNumFmt: &tenDigits, Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "right", Indent: 1}, Border: hair("bottom")})
	w.label = style(excelize.Style{Font: ink(10, true), NumFmt: asText, Alignment: top})
	w.low = style(excelize.Style{Font: ink(10, true), NumFmt: asText, Alignment: &excelize.Alignment{Vertical: "bottom"}})
	w.figure = style(excelize.Style{Font: ink(10, false), NumFmt: asText, Alignment: top})
	w.line = style(excelize.Style{Font: ink(10, false), NumFmt: asText, Border: hair("bottom"), Alignment: &excelize.Alignment{Vertical: "bottom", WrapText: true}})
	w.alarm = style(excelize.Style{Font: &excelize.Font{Family: "Georgia", Size: 11, Bold: true, Color: "8C1C13"}, NumFmt: asText, Alignment: top})
	return err
}

// sheet writes a table: what it is in row 1, headings in row 3, which stay in
// sight and are printed on every page.
func (w *binder) sheet(s sheet) error {
	if _, err := w.f.NewSheet(s.name); err != nil {
		return err
	}
	// Before the rows: a stream writes what stands before and behind them as it
	// finds it.
	wide := 0.0
	for _, c := range s.cols {
		wide += c.width
	}
	if last, err := excelize.CoordinatesToCellName(len(s.cols), len(s.rows)+3); err != nil {
		return err
	} else if len(s.rows) > 0 {
		if err := w.f.AutoFilter(s.name, "A3:"+last, nil); err != nil {
			return err
		}
	}
	if err := w.print(s.name, "landscape", 1+int(wide/250), true); err != nil { // behind the filter, which would take its settings away
		return err
	}
	sw, err := w.f.NewStreamWriter(s.name)
	if err != nil {
		return err
	}
	for i, c := range s.cols {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return err
		}
	}
	if err := sw.SetPanes(&excelize.Panes{Freeze: true, XSplit: 1, YSplit: 3, TopLeftCell: "B4", ActivePane: "bottomRight"}); err != nil {
		return err
	}
	put := func(row int, cells []any, opts ...excelize.RowOpts) error {
		at, err := excelize.CoordinatesToCellName(1, row)
		if err != nil {
			return err
		}
		return sw.SetRow(at, cells, opts...)
	}
	if err := put(1, []any{excelize.Cell{StyleID: w.title, Value: s.name}}, excelize.RowOpts{Height: 24}); err != nil {
		return err
	}
	lead := s.lead
	if len(s.rows) == 0 {
		lead += " There is none."
	}
	if err := put(2, []any{excelize.Cell{StyleID: w.lead, Value: lead}}); err != nil {
		return err
	}
	var heads []any
	for _, c := range s.cols {
		heads = append(heads, excelize.Cell{StyleID: w.head, Value: c.head})
	}
	if err := put(3, heads, excelize.RowOpts{Height: 30}); err != nil {
		return err
	}
	for i, r := range s.rows {
		cells := make([]any, len(r))
		lines := 1
		for j, v := range r {
			switch v := v.(type) {
			case string:
				lines = max(lines, linesOf(v, s.cols[j].width))
				cells[j] = excelize.Cell{StyleID: w.text, Value: cellText(v)}
			case int:
				cells[j] = excelize.Cell{StyleID: w.count, Value: v}
			default:
				cells[j] = excelize.Cell{StyleID: w.factor, Value: v}
			}
		}
		if err := put(i+4, cells, excelize.RowOpts{Height: lineHeight * float64(min(lines, mostLines))}); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// Not every program makes a row as high as its text. The height of a line is
// in points; a row can't be higher than 409 of them.
const (
	lineHeight = 14.5
	mostLines  = 28
)

// linesOf is how many lines a text takes in a column of a width. The widths
// are in characters of a narrower font than ours.
func linesOf(s string, width float64) int {
	n := 0
	for _, l := range strings.Split(s, "\n") {
		n += 1 + int(float64(len([]rune(l)))/(width*0.88))
	}
	return n
}

// print sets a sheet up for paper: the columns on so many pages side by side,
// headings and first column on every page, and at the foot which account it is.
func (w *binder) print(name, orientation string, across int, headed bool) error {
	hash, err := w.account.Hash()
	if err != nil {
		return err
	}
	letter, none, fit := 1, 0, true
	if err := w.f.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &letter, Orientation: &orientation, FitToWidth: &across, FitToHeight: &none}); err != nil {
		return err
	}
	if err := w.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	margin, foot := 0.5, 0.3 // inches
	if err := w.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &margin, Right: &margin, Top: &margin, Bottom: &margin, Header: &foot, Footer: &foot}); err != nil {
		return err
	}
	if err := w.f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddFooter: "&L&8account " + hash[:16] + "&C&8&A&R&8page &P of &N"}); err != nil || !headed {
		return err
	}
	return w.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: "'" + name + "'!$A:$A,'" + name + "'!$3:$3", Scope: name})
}
