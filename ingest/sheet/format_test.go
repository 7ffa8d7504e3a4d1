package sheet

import (
	"testing"

	"example.org/windrow/ingest"
)

// The cases come from three places. "ms": the examples of Microsoft's page
// "Number format codes" and of ECMA-376 part 1, 18.8.31, from memory. "ssf":
// how the open-source formatter of SheetJS shows them, from memory. "trade":
// what soil laboratories' workbooks use; common practice, no source.
var formatCases = []struct {
	code, stored, text, raw string
	kind                    ingest.CellKind
	source                  string
}{
	{"0", "6.47", "6", "6.47", ingest.NumberCell, "trade"},
	{"0.0", "6.47", "6.5", "6.47", ingest.NumberCell, "trade"},
	{"0.0", "0", "0.0", "0", ingest.NumberCell, "trade"},
	{"0.0", "0.0", "0.0", "0.0", ingest.NumberCell, "trade"},
	{"#,##0", "1878", "1,878", "1878", ingest.NumberCell, "trade"},
	{"#,##0", "878", "878", "878", ingest.NumberCell, "trade"},
	{"#,##0", "1234567.5", "1,234,568", "1234567.5", ingest.NumberCell, "trade"},
	{"#,##0.00", "0.5", "0.50", "0.5", ingest.NumberCell, "trade"},
	{`0.0" ppm"`, "17.25", "17.3 ppm", "17.25", ingest.NumberCell, "trade"},
	{`0.0\ \p\p\m`, "17.25", "17.3 ppm", "17.25", ingest.NumberCell, "trade"},
	{`[<0.5]"<0.50";0.00`, "0.3", "<0.50", "0.3", ingest.NumberCell, "trade"},
	{`[<0.5]"<0.50";0.00`, "0.73", "0.73", "0.73", ingest.NumberCell, "trade"},
	{";;;", "5.1", "", "5.1", ingest.NumberCell, "ms"},
	{"####.#", "1234.59", "1234.6", "1234.59", ingest.NumberCell, "ms"},
	{"#.000", "8.9", "8.900", "8.9", ingest.NumberCell, "ms"},
	{"0.#", "0.631", "0.6", "0.631", ingest.NumberCell, "ms"},
	{"#.0#", "12", "12.0", "12", ingest.NumberCell, "ms"},
	{"#.0#", "1234.568", "1234.57", "1234.568", ingest.NumberCell, "ms"},
	{"#,###", "12000", "12,000", "12000", ingest.NumberCell, "ms"},
	{"#,", "12000", "12", "12000", ingest.NumberCell, "ms"},
	{"0.0,,", "12200000", "12.2", "12200000", ingest.NumberCell, "ms"},
	{"0%", "0.0895", "9%", "0.0895", ingest.NumberCell, "ms"},
	{"0.0%", "0.0895", "9.0%", "0.0895", ingest.NumberCell, "ms"},
	{"0.00E+00", "12345678", "1.23E+07", "12345678", ingest.NumberCell, "ms"},
	{"##0.0E+0", "12345678", "12.3E+6", "12345678", ingest.NumberCell, "ms"},
	{"##0.0E+0", "0.00012", "120.0E-6", "0.00012", ingest.NumberCell, "ms"},
	{"00000", "12", "00012", "12", ingest.NumberCell, "ms"},
	{"000-00-0000", "123456789", "123-45-6789", "123456789", ingest.NumberCell, "ms"},
	{"0.00;(0.00)", "-3.14159", "(3.14)", "-3.14159", ingest.NumberCell, "ms"},
	{`0.00_);[Red]\(0.00\)`, "-3.14159", "(3.14)", "-3.14159", ingest.NumberCell, "ms"},
	{`0.00_);[Red]\(0.00\)`, "3.14159", "3.14", "3.14159", ingest.NumberCell, "ms"},
	{`0.0;-0.0;"nil"`, "0", "nil", "0", ingest.NumberCell, "ms"},
	{`"$"#,##0.00`, "1234.5", "$1,234.50", "1234.5", ingest.NumberCell, "ms"},
	{"[$€-2] #,##0.00", "1234.5", "€ 1,234.50", "1234.5", ingest.NumberCell, "ms"},
	{"0", "-0.4", "-0", "-0.4", ingest.NumberCell, "ssf"},
	// Half goes away from zero on the 15 digits that Excel works with, not
	// on the binary number, which lies below 2.675.
	{"0.00", "2.6749999999999998", "2.68", "2.6749999999999998", ingest.NumberCell, "ms"},
	{"0.0", "0.25", "0.3", "0.25", ingest.NumberCell, "ms"},
	{"0.0", "-0.25", "-0.3", "-0.25", ingest.NumberCell, "ms"},
	{"0.0", "9.96", "10.0", "9.96", ingest.NumberCell, "ms"},
	{"General", "6.4700000000000006", "6.47", "6.4700000000000006", ingest.NumberCell, "ssf"},
	{"General", "0.30000000000000004", "0.3", "0.30000000000000004", ingest.NumberCell, "ssf"},
	{"General", "1234567.891234", "1234567.891", "1234567.891234", ingest.NumberCell, "ssf"},
	{"General", "0.123456789012", "0.123456789", "0.123456789012", ingest.NumberCell, "ssf"},
	{"General", "123456789012", "1.23457E+11", "123456789012", ingest.NumberCell, "ssf"},
	{"General", "12345678901", "12345678901", "12345678901", ingest.NumberCell, "ssf"},
	{"General", "1E-2", "0.01", "0.01", ingest.NumberCell, "ssf"},
	{"General", "1.2345678E-6", "1.23457E-06", "0.0000012345678", ingest.NumberCell, "ssf"},
	{"General", "-4.5", "-4.5", "-4.5", ingest.NumberCell, "ssf"},
	{`General" mg/kg"`, "12.5", "12.5 mg/kg", "12.5", ingest.NumberCell, "ms"},
	{"@", "12.5", "12.5", "12.5", ingest.NumberCell, "ms"},
	{"# ?/?", "0.5", "0.5", "0.5", ingest.NumberCell, "ms"}, // fractions: not shown, and said so

	{"d-mmm-yy", "46085", "4-Mar-26", "2026-03-04", ingest.DateCell, "trade"},
	{`d\-mmm\-yy`, "46085", "4-Mar-26", "2026-03-04", ingest.DateCell, "trade"},
	{"[$-409]d-mmm-yy;@", "46085", "4-Mar-26", "2026-03-04", ingest.DateCell, "trade"},
	{"m/d/yyyy", "46085", "3/4/2026", "2026-03-04", ingest.DateCell, "ms"},
	{"yyyy-mm-dd hh:mm", "46085.59375", "2026-03-04 14:15", "2026-03-04T14:15:00", ingest.DateCell, "ms"},
	{"h:mm AM/PM", "46085.59375", "2:15 PM", "2026-03-04T14:15:00", ingest.DateCell, "ms"},
	{"dddd, mmmm d, yyyy", "46085", "Wednesday, March 4, 2026", "2026-03-04", ingest.DateCell, "ms"},
	{"mm:ss.0", "0.0007083449", "01:01.2", "0.0007083449", ingest.DateCell, "ms"},
	{"[h]:mm", "1.5", "36:00", "1.5", ingest.DateCell, "ms"},
	{"h:mm", "0.25", "6:00", "0.25", ingest.DateCell, "ms"},
	{"yyyy-mm-dd", "1", "1900-01-01", "1900-01-01", ingest.DateCell, "ms"},
	{"yyyy-mm-dd", "59", "1900-02-28", "1900-02-28", ingest.DateCell, "ms"},
	{"yyyy-mm-dd", "61", "1900-03-01", "1900-03-01", ingest.DateCell, "ms"},
	{"yyyy-mm-dd", "2958465", "9999-12-31", "9999-12-31", ingest.DateCell, "ms"},
	{"yyyy-mm-dd", "60", "", "60", ingest.ErrorCell, "ms"}, // 29 February 1900 never was
	{"yyyy-mm-dd", "-1", "", "-1", ingest.ErrorCell, "ms"},
	{"yyyy-mm-dd", "2958466", "", "2958466", ingest.ErrorCell, "ms"},
}

func TestFormatShowsWhatExcelShows(t *testing.T) {
	for _, c := range formatCases {
		n, ok := parseNumber(c.stored)
		if !ok {
			t.Fatalf("%q is no number", c.stored)
		}
		got := parseFormat(c.code).show(n, from1900)
		if got.text != c.text || got.raw != c.raw || got.kind != c.kind {
			t.Errorf("%s under %s: got %s %q raw %q, want %s %q raw %q (%s)", c.stored, c.code, got.kind, got.text, got.raw, c.kind, c.text, c.raw, c.source)
		}
	}
}

func TestDatesFrom1904(t *testing.T) {
	// The same day is 1462 less in the later system (Microsoft, "Differences
	// between the 1900 and the 1904 date system in Excel").
	n, _ := parseNumber("44623")
	got := parseFormat("d-mmm-yy").show(n, from1904)
	if got.text != "4-Mar-26" || got.raw != "2026-03-04" {
		t.Errorf("got %+v", got)
	}
	zero, _ := parseNumber("0")
	if got := parseFormat("yyyy-mm-dd").show(zero, from1904); got.raw != "1904-01-01" {
		t.Errorf("day 0: got %+v", got)
	}
}

func TestFormatsThatAreNotUnderstoodAreSaid(t *testing.T) {
	n, _ := parseNumber("45.5")
	for _, code := range []string{"# ?/?", "# ??/16", "ge.m.d", "[$-411]ggge", "0 ppm", "0.00 x", "[Unknown]0", `0"open`, "0;0;0;@;0", "yyyy 0.0"} {
		f := parseFormat(code)
		got := f.show(n, from1900)
		if got.trouble != CodeFormat || got.text != "45.5" {
			t.Errorf("%s: got %+v, want the plain number and a note", code, got)
		}
	}
}

func TestTextSection(t *testing.T) {
	for code, want := range map[string]string{
		"General": "17.2*", "0.00": "17.2*", `0.00;-0.00;0;@" ppm"`: "17.2* ppm", "@": "17.2*", `@"!"`: "17.2*!", ";;;": "",
	} {
		if got := parseFormat(code).showText("17.2*"); got != want {
			t.Errorf("%s: got %q, want %q", code, got, want)
		}
	}
}

func TestParseNumberRefusesWhatIsNone(t *testing.T) {
	for _, s := range []string{"", "-", ".", "1.2.3", "nan", "INF", "0x1p4", "1_000", "1,5", " 1", "1e", "1e999", "--1", "1e+-2"} {
		if n, ok := parseNumber(s); ok {
			t.Errorf("%q was read as %+v", s, n)
		}
	}
	for s, plain := range map[string]string{"5": "5", "-0.50": "-0.50", "1E3": "1000", "1.25e-3": "0.00125", "+4": "4", "7.": "7.", "-2E1": "-20", "0E5": "0"} {
		n, ok := parseNumber(s)
		if !ok || n.plain() != plain {
			t.Errorf("%q: got %q %v, want %q", s, n.plain(), ok, plain)
		}
	}
}

func TestCompareNumbers(t *testing.T) {
	order := []string{"-100", "-2.5", "-0.3", "0", "0.04", "0.3", "0.35", "2", "10"}
	for i, a := range order {
		for j, b := range order {
			x, _ := parseNumber(a)
			y, _ := parseNumber(b)
			got, want := x.cmp(y), 0
			if i < j {
				want = -1
			} else if i > j {
				want = 1
			}
			if got != want {
				t.Errorf("%s against %s: got %d, want %d", a, b, got, want)
			}
		}
	}
}

func TestMoveFormula(t *testing.T) {
	for in, want := range map[string]string{
		"A1+B2":             "B3+C4",
		"$A1+B$2+$C$3":      "$A3+C$2+$C$3",
		`SUM(A1:A9)&"A1"`:   `SUM(B3:B11)&"A1"`,
		"'A1 b'!C1+Data!D1": "'A1 b'!D3+Data!E3",
		"LOG10(A1)":         "LOG10(B3)",
		"TRUE+A1B+1E5":      "TRUE+A1B+1E5",
		"XFD1":              "#REF!",
	} {
		if got := moveFormula(in, 2, 1); got != want {
			t.Errorf("%s: got %s, want %s", in, got, want)
		}
	}
}
