package numfmt

import "testing"

// The cases come from three places. "ms": the examples of Microsoft's page
// "Number format codes" and of ECMA-376 part 1, 18.8.31, from memory. "ssf":
// how the open-source formatter of SheetJS shows them, from memory. "trade":
// what soil laboratories' workbooks use; common practice, no source.
var formatCases = []struct {
	code, stored, text, raw string
	kind                    kind
	source                  string
}{
	{"0", "6.47", "6", "6.47", plain, "trade"},
	{"0.0", "6.47", "6.5", "6.47", plain, "trade"},
	{"0.0", "0", "0.0", "0", plain, "trade"},
	{"0.0", "0.0", "0.0", "0.0", plain, "trade"},
	{"#,##0", "1878", "1,878", "1878", plain, "trade"},
	{"#,##0", "878", "878", "878", plain, "trade"},
	{"#,##0", "1234567.5", "1,234,568", "1234567.5", plain, "trade"},
	{"#,##0.00", "0.5", "0.50", "0.5", plain, "trade"},
	{`0.0" ppm"`, "17.25", "17.3 ppm", "17.25", plain, "trade"},
	{`0.0\ \p\p\m`, "17.25", "17.3 ppm", "17.25", plain, "trade"},
	{`[<0.5]"<0.50";0.00`, "0.3", "<0.50", "0.3", plain, "trade"},
	{`[<0.5]"<0.50";0.00`, "0.73", "0.73", "0.73", plain, "trade"},
	{";;;", "5.1", "", "5.1", plain, "ms"},
	{"####.#", "1234.59", "1234.6", "1234.59", plain, "ms"},
	{"#.000", "8.9", "8.900", "8.9", plain, "ms"},
	{"0.#", "0.631", "0.6", "0.631", plain, "ms"},
	{"#.0#", "12", "12.0", "12", plain, "ms"},
	{"#.0#", "1234.568", "1234.57", "1234.568", plain, "ms"},
	{"#,###", "12000", "12,000", "12000", plain, "ms"},
	{"#,", "12000", "12", "12000", plain, "ms"},
	{"0.0,,", "12200000", "12.2", "12200000", plain, "ms"},
	{"0%", "0.0895", "9%", "0.0895", plain, "ms"},
	{"0.0%", "0.0895", "9.0%", "0.0895", plain, "ms"},
	{"0.00E+00", "12345678", "1.23E+07", "12345678", plain, "ms"},
	{"##0.0E+0", "12345678", "12.3E+6", "12345678", plain, "ms"},
	{"##0.0E+0", "0.00012", "120.0E-6", "0.00012", plain, "ms"},
	{"00000", "12", "00012", "12", plain, "ms"},
	{"000-00-0000", "123456789", "123-45-6789", "123456789", plain, "ms"},
	{"0.00;(0.00)", "-3.14159", "(3.14)", "-3.14159", plain, "ms"},
	{`0.00_);[Red]\(0.00\)`, "-3.14159", "(3.14)", "-3.14159", plain, "ms"},
	{`0.00_);[Red]\(0.00\)`, "3.14159", "3.14", "3.14159", plain, "ms"},
	{`0.0;-0.0;"nil"`, "0", "nil", "0", plain, "ms"},
	{`"$"#,##0.00`, "1234.5", "$1,234.50", "1234.5", plain, "ms"},
	{"[$€-2] #,##0.00", "1234.5", "€ 1,234.50", "1234.5", plain, "ms"},
	{"0", "-0.4", "-0", "-0.4", plain, "ssf"},
	// Half goes away from zero on the 15 digits that Excel works with, not
	// on the binary number, which lies below 2.675.
	{"0.00", "2.6749999999999998", "2.68", "2.6749999999999998", plain, "ms"},
	{"0.0", "0.25", "0.3", "0.25", plain, "ms"},
	{"0.0", "-0.25", "-0.3", "-0.25", plain, "ms"},
	{"0.0", "9.96", "10.0", "9.96", plain, "ms"},
	{"General", "6.4700000000000006", "6.47", "6.4700000000000006", plain, "ssf"},
	{"General", "0.30000000000000004", "0.3", "0.30000000000000004", plain, "ssf"},
	{"General", "1234567.891234", "1234567.891", "1234567.891234", plain, "ssf"},
	{"General", "0.123456789012", "0.123456789", "0.123456789012", plain, "ssf"},
	{"General", "123456789012", "1.23457E+11", "123456789012", plain, "ssf"},
	{"General", "12345678901", "12345678901", "12345678901", plain, "ssf"},
	{"General", "1E-2", "0.01", "0.01", plain, "ssf"},
	{"General", "1.2345678E-6", "1.23457E-06", "0.0000012345678", plain, "ssf"},
	{"General", "-4.5", "-4.5", "-4.5", plain, "ssf"},
	{`General" mg/kg"`, "12.5", "12.5 mg/kg", "12.5", plain, "ms"},
	{"@", "12.5", "12.5", "12.5", plain, "ms"},
	{"# ?/?", "0.5", "0.5", "0.5", plain, "ms"}, // fractions: not shown, and said so

	{"d-mmm-yy", "46085", "4-Mar-26", "2026-03-04", date, "trade"},
	{`d\-mmm\-yy`, "46085", "4-Mar-26", "2026-03-04", date, "trade"},
	{"[$-409]d-mmm-yy;@", "46085", "4-Mar-26", "2026-03-04", date, "trade"},
	{"m/d/yyyy", "46085", "3/4/2026", "2026-03-04", date, "ms"},
	{"yyyy-mm-dd hh:mm", "46085.59375", "2026-03-04 14:15", "2026-03-04T14:15:00", date, "ms"},
	{"h:mm AM/PM", "46085.59375", "2:15 PM", "2026-03-04T14:15:00", date, "ms"},
	{"dddd, mmmm d, yyyy", "46085", "Wednesday, March 4, 2026", "2026-03-04", date, "ms"},
	{"mm:ss.0", "0.0007083449", "01:01.2", "0.0007083449", date, "ms"},
	{"[h]:mm", "1.5", "36:00", "1.5", date, "ms"},
	{"h:mm", "0.25", "6:00", "0.25", date, "ms"},
	{"yyyy-mm-dd", "1", "1900-01-01", "1900-01-01", date, "ms"},
	{"yyyy-mm-dd", "59", "1900-02-28", "1900-02-28", date, "ms"},
	{"yyyy-mm-dd", "61", "1900-03-01", "1900-03-01", date, "ms"},
	{"yyyy-mm-dd", "2958465", "9999-12-31", "9999-12-31", date, "ms"},
	{"yyyy-mm-dd", "60", "", "60", none, "ms"}, // 29 February 1900 never was
	{"yyyy-mm-dd", "-1", "", "-1", none, "ms"},
	{"yyyy-mm-dd", "2958466", "", "2958466", none, "ms"},
}

func TestFormatShowsWhatExcelShows(t *testing.T) {
	for _, c := range formatCases {
		n, ok := ParseNumber(c.stored)
		if !ok {
			t.Fatalf("%q is no number", c.stored)
		}
		got := Parse(c.code).Show(n, From1900)
		if got.Text != c.text || got.Raw != c.raw || kindOf(got) != c.kind {
			t.Errorf("%s under %s: got %s %q raw %q, want %s %q raw %q (%s)", c.stored, c.code, kindOf(got), got.Text, got.Raw, c.kind, c.text, c.raw, c.source)
		}
	}
}

func TestDatesFrom1904(t *testing.T) {
	// The same day is 1462 less in the later system (Microsoft, "Differences
	// between the 1900 and the 1904 date system in Excel").
	n, _ := ParseNumber("44623")
	got := Parse("d-mmm-yy").Show(n, From1904)
	if got.Text != "4-Mar-26" || got.Raw != "2026-03-04" {
		t.Errorf("got %+v", got)
	}
	zero, _ := ParseNumber("0")
	if got := Parse("yyyy-mm-dd").Show(zero, From1904); got.Raw != "1904-01-01" {
		t.Errorf("day 0: got %+v", got)
	}
}

func TestFormatsThatAreNotUnderstoodAreSaid(t *testing.T) {
	n, _ := ParseNumber("45.5")
	for _, code := range []string{"# ?/?", "# ??/16", "ge.m.d", "[$-411]ggge", "0 ppm", "0.00 x", "[Unknown]0", `0"open`, "0;0;0;@;0", "yyyy 0.0", "[h] mmm", "[ss] ddd d"} {
		f := Parse(code)
		got := f.Show(n, From1900)
		if got.Trouble != NotUnderstood || got.Text != "45.5" {
			t.Errorf("%s: got %+v, want the plain number and a note", code, got)
		}
	}
}

func TestTextSection(t *testing.T) {
	for code, want := range map[string]string{
		"General": "17.2*", "0.00": "17.2*", `0.00;-0.00;0;@" ppm"`: "17.2* ppm", "@": "17.2*", `@"!"`: "17.2*!", ";;;": "",
	} {
		if got := Parse(code).ShowText("17.2*"); got != want {
			t.Errorf("%s: got %q, want %q", code, got, want)
		}
	}
}

func TestParseNumberRefusesWhatIsNone(t *testing.T) {
	for _, s := range []string{"", "-", ".", "1.2.3", "nan", "INF", "0x1p4", "1_000", "1,5", " 1", "1e", "1e999", "8E400", "5e-400", "--1", "1e+-2"} {
		if n, ok := ParseNumber(s); ok {
			t.Errorf("%q was read as %+v", s, n)
		}
	}
	for s, full := range map[string]string{"5": "5", "-0.50": "-0.50", "1E3": "1000", "1.25e-3": "0.00125", "+4": "4", "7.": "7.", "-2E1": "-20", "0E5": "0"} {
		n, ok := ParseNumber(s)
		if !ok || n.Plain() != full {
			t.Errorf("%q: got %q %v, want %q", s, n.Plain(), ok, full)
		}
	}
}

func TestCompareNumbers(t *testing.T) {
	order := []string{"-100", "-2.5", "-0.3", "0", "0.04", "0.3", "0.35", "2", "10"}
	for i, a := range order {
		for j, b := range order {
			x, _ := ParseNumber(a)
			y, _ := ParseNumber(b)
			got, want := x.Cmp(y), 0
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

// A kind is what a number is shown as.
type kind string

const (
	plain kind = "number"
	date  kind = "date"
	none  kind = "no date"
)

func kindOf(s Shown) kind {
	switch {
	case s.Trouble == NoDate:
		return none
	case s.Date:
		return date
	}
	return plain
}

func FuzzFormat(f *testing.F) {
	for _, c := range formatCases {
		f.Add(c.code, c.stored)
	}
	f.Fuzz(func(t *testing.T, code, stored string) {
		n, ok := ParseNumber(stored)
		if !ok || len(code) > 255 {
			return
		}
		got := Parse(code).Show(n, From1900)
		if back, ok := ParseNumber(got.Raw); kindOf(got) == plain && (!ok || back.Cmp(n) != 0) {
			t.Errorf("%s under %q: raw %q is another number", stored, code, got.Raw)
		}
	})
}
