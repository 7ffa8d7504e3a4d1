package xls

import (
	"math"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

func number(row, col int, v float64) []byte {
	return rec(recNumber, join(u16(row, col, 0), f64(v))...)
}

func label(row, col int, s string) []byte {
	return rec(recLabel, join(u16(row, col, 0), narrow(s))...)
}

// formula is a formula with the eight bytes of its result.
func formula(row, col int, flags int, result ...byte) []byte {
	return rec(recFormula, join(u16(row, col, 0), result, u16(flags), u32(0), u16(0))...)
}

var (
	textFollows = []byte{0, 0, 0, 0, 0, 0, 0xFF, 0xFF}
	emptyText   = []byte{3, 0, 0, 0, 0, 0, 0xFF, 0xFF}
)

// The worked examples of RK numbers are from the OpenOffice.org description
// of the format, 2.5.5.
func TestRK(t *testing.T) {
	for v, want := range map[uint32]float64{0x3FF00000: 1, 0x3FF00001: 0.01, 0x004B5646: 1234321, 0x004B5647: 12343.21, 0xFFFFFFFE: -1, 0xFFFFFFFF: -0.01} {
		if got := rk(v); got != want {
			t.Errorf("%08X: got %v, want %v", v, got, want)
		}
	}
}

func TestEveryKindOfCell(t *testing.T) {
	sst := rec(recSST, join(u32(3), u32(3), narrow("one"), wide("zwei µ"), narrow(""))...)
	d := mustRead(t, "k.xls", part{shared: [][]byte{sst}, cells: [][]byte{
		number(0, 0, 5.5), label(0, 1, "<0.5"),
		rec(recLabelSST, join(u16(1, 0, 0), u32(1))...), rec(recLabelSST, join(u16(1, 1, 0), u32(2))...),
		rec(recRK, join(u16(2, 0, 0), u32(0x004B5647))...),
		rec(recMulRK, join(u16(3, 1, 0), u32(0x3FF00000), u16(10), u32(46085<<2|2), u16(2))...),
		rec(recBoolErr, join(u16(4, 0, 0), []byte{1, 0})...), rec(recBoolErr, join(u16(4, 1, 0), []byte{0x2A, 1})...),
		formula(5, 0, 0, f64(2.5)...), formula(5, 1, 0, textFollows...), rec(recString, wide("Ωhoch")...),
		formula(5, 2, 0, 1, 0, 1, 0, 0, 0, 0xFF, 0xFF), formula(5, 3, 0, 2, 0, 7, 0, 0, 0, 0xFF, 0xFF), formula(5, 4, 0, emptyText...),
		formula(5, 5, 2, f64(0)...),
		rec(recMergeCells, u16(1, 6, 7, 0, 2)...), label(6, 0, "title"), label(7, 1, "under"),
		rec(recRString, join(u16(8, 0, 0), narrow("rich"), u16(0))...),
	}}.file(t))
	want := map[string]ingest.Cell{
		"A1": {Text: "5.5", Kind: ingest.NumberCell, Format: "General"},
		"B1": {Text: "<0.5", Kind: ingest.TextCell},
		"A2": {Text: "zwei µ", Kind: ingest.TextCell},
		"A3": {Text: "12343.21", Kind: ingest.NumberCell, Format: "General"},
		"B4": {Text: "1", Kind: ingest.NumberCell, Format: "General"},
		"C4": {Text: "3/4/2026", Raw: "2026-03-04", Kind: ingest.DateCell, Format: "m/d/yyyy"},
		"A5": {Text: "TRUE", Kind: ingest.BoolCell},
		"B5": {Text: "#N/A", Kind: ingest.ErrorCell},
		"A6": {Text: "2.5", Kind: ingest.NumberCell, Format: "General", Formula: FormulaNotShown},
		"B6": {Text: "Ωhoch", Kind: ingest.TextCell, Formula: FormulaNotShown},
		"C6": {Text: "TRUE", Kind: ingest.BoolCell, Formula: FormulaNotShown},
		"D6": {Text: "#DIV/0!", Kind: ingest.ErrorCell, Formula: FormulaNotShown},
		"E6": {Kind: ingest.TextCell, Formula: FormulaNotShown},
		"F6": {Kind: ingest.ErrorCell, Formula: FormulaNotShown},
		"A7": {Text: "title", Kind: ingest.TextCell, Across: 3, Down: 2},
		"B8": {Text: "under", Kind: ingest.TextCell, Hidden: true},
		"A9": {Text: "rich", Kind: ingest.TextCell},
	}
	for _, c := range d.Pages[0].Cells {
		at := ingest.CellName(c.Row, c.Col)
		w, ok := want[at]
		c.Row, c.Col = 0, 0
		if !ok || c != w {
			t.Errorf("%s: got %+v, want %+v", at, c, w)
		}
		delete(want, at)
	}
	for at := range want {
		t.Errorf("%s was not read", at)
	}
	var codes []string
	for _, n := range d.Notes {
		codes = append(codes, n.Code+" "+n.Where.Cell)
	}
	if got := strings.Join(codes, ", "); got != CodeNoValue+" F6, "+CodeCovered+" B8" {
		t.Errorf("notes: %s", got)
	}
}

// A workbook whose formulas all have an empty text was perhaps never
// calculated, so that nothing may be taken for empty.
func TestEmptyResultsOfAWorkbookNeverCalculated(t *testing.T) {
	d := mustRead(t, "x.xls", load(t, "testdata/xlwt-formula.xls"))
	if c := cellAt(d, 0, "B1"); c.Kind != ingest.ErrorCell || c.Text != "" {
		t.Errorf("got %+v, want an error cell", c)
	}
	if len(d.Notes) != 1 || d.Notes[0].Code != CodeNoValue || d.Notes[0].Where.String() != "x.xls: Sums!B1" {
		t.Errorf("notes: %v", d.Notes)
	}
}

// Texts that break off in the middle go on in the next record, where the
// width of their characters may be another.
func TestTextsThatContinue(t *testing.T) {
	half := join(u32(3), u32(3), u16(6), []byte{0}, []byte("abc"))
	// The rest of the first as two-byte characters, then a text that begins
	// exactly where the third piece does, and one with runs of fonts.
	second := join([]byte{1}, u16('d', 0x3BC, 'f'))
	third := join(narrow("next"), u16(2), []byte{8}, u16(1), []byte("xy"))
	fourth := []byte{1, 2, 3, 4}
	sst := join(rec(recSST, half...), rec(recContinue, second...), rec(recContinue, third...), rec(recContinue, fourth...))
	d := mustRead(t, "c.xls", part{shared: [][]byte{sst}, cells: [][]byte{
		rec(recLabelSST, join(u16(0, 0, 0), u32(0))...), rec(recLabelSST, join(u16(0, 1, 0), u32(1))...), rec(recLabelSST, join(u16(0, 2, 0), u32(2))...),
	}}.file(t))
	for name, want := range map[string]string{"A1": "abcdμf", "B1": "next", "C1": "xy"} {
		if got := cellAt(d, 0, name).Text; got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
	}
}

// Each of these would give a wrong or missing number if it were read as far
// as it goes.
func TestRefusals(t *testing.T) {
	cells := func(c ...[]byte) []byte { return part{cells: c}.file(t) }
	whole := part{cells: [][]byte{number(0, 0, 1)}}.stream()
	for name, c := range map[string]struct {
		b          []byte
		code, says string
	}{
		"encrypted":            {part{shared: [][]byte{rec(recFilePass, make([]byte, 54)...)}}.file(t), "locked", "password"},
		"Excel 95":             {compound(t, "Book", whole), "old-workbook", "Excel 5 or 95"},
		"Excel 95 inside":      {compound(t, "Workbook", join(bof(0x0500, 5), eof)), "old-workbook", "Excel 5 or 95"},
		"Excel 4":              {join(rec(0x0409, 0, 0, 0x10, 0, 0, 0), eof), "old-workbook", "before 1995"},
		"no workbook":          {compound(t, "WordDocument", whole), "damaged", "another kind of office file"},
		"password package":     {compound(t, "EncryptedPackage", whole), "locked", "password"},
		"xlsx":                 {[]byte("PK\x03\x04rest"), "damaged", "zip"},
		"text":                 {[]byte("Lab No;pH"), "damaged", "does not begin"},
		"no end":               {compound(t, "Workbook", whole[:len(whole)-4]), "damaged", "no end"},
		"no text":              {cells(rec(recLabelSST, join(u16(0, 0, 0), u32(0))...)), "damaged", "lacks"},
		"no style":             {cells(rec(recNumber, join(u16(0, 0, 99), f64(1))...)), "damaged", "style"},
		"twice":                {cells(number(0, 0, 1), number(0, 0, 2)), "damaged", "twice"},
		"no number":            {cells(number(0, 0, math.NaN())), "damaged", "number"},
		"outside":              {cells(number(0, 300, 1)), "damaged", "outside"},
		"short cell":           {cells(rec(recNumber, 0, 0, 0, 0)), "damaged", "cut short"},
		"numbers that miss":    {cells(rec(recMulRK, join(u16(0, 0, 0), u32(4), u16(5))...)), "damaged", "cut short"},
		"formula without text": {cells(formula(0, 0, 0, textFollows...), number(0, 1, 1)), "damaged", "missing"},
		"last without text":    {cells(formula(0, 0, 0, textFollows...)), "damaged", "missing"},
		"text without formula": {cells(rec(recString, narrow("x")...)), "damaged", "no formula"},
		"texts cut short":      {part{shared: [][]byte{rec(recSST, join(u32(9), u32(9), narrow("a"))...)}}.file(t), "damaged", "texts"},
		"merged inside out":    {cells(rec(recMergeCells, u16(1, 5, 2, 0, 1)...)), "damaged", "merged"},
	} {
		_, r := readertest.Read(t, New(), "r.xls", c.b)
		switch {
		case r == nil:
			t.Errorf("%s: was read", name)
		case r.Code != c.code || !strings.Contains(r.Error(), c.says):
			t.Errorf("%s: want %s that says %q, got %v", name, c.code, c.says, r)
		}
	}
}

func TestReasonsInWords(t *testing.T) {
	_, r := readertest.Read(t, New(), "april.xls", part{cells: [][]byte{number(0, 0, 1), number(0, 0, 2)}}.file(t))
	want := `april.xls: S!A1: not read [damaged] the workbook is damaged, so nothing was taken from it
    expected  a workbook that a spreadsheet program opens without repairing it
    found     the cell is there twice
    next      ask for the file again, or open it in a spreadsheet program, compare it with the printed report and save it under a new name`
	if r == nil || r.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", r, want)
	}
	_, r = readertest.Read(t, New(), "april.xls", part{shared: [][]byte{rec(recFilePass, 0, 0)}}.file(t))
	want = `april.xls: held [locked] the workbook can be opened only with a password
    expected  a workbook that opens without a password
    found     an encrypted workbook
    next      open it with the password that the laboratory gave you, save a copy without one, and drop that copy in instead`
	if r == nil || r.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", r, want)
	}
}
