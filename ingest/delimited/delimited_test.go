package delimited

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/csv"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

var comma = ingest.Dialect{Encoding: "utf-8", Delimiter: ","}

func utf16Bytes(s string, order binary.AppendByteOrder) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return b
}

// marked reads inputs in which ‹n stands before each field that must be
// found, n being its column in the table; the marks are taken out before
// reading, and say at which line and column in characters the field begins.
func marked(s string) (text string, want []string) {
	var out strings.Builder
	line, col := 1, 1
	rs := []rune(s)
	for i := 0; i < len(rs); i++ {
		switch rs[i] {
		case '‹':
			i++
			want = append(want, fmt.Sprintf("%c@%d:%d", rs[i], line, col))
			continue
		case '\n':
			line, col = line+1, 1
		default:
			col++
		}
		out.WriteRune(rs[i])
	}
	return out.String(), want
}

func TestPlacesOfFields(t *testing.T) {
	for name, c := range map[string]struct {
		in    string
		texts []string
	}{
		"plain":            {"‹1a,‹2b\n‹1c,‹2d\n", []string{"a", "b", "c", "d"}},
		"no last line end": {"‹1a,‹2b", []string{"a", "b"}},
		"crlf":             {"‹1a,‹2b\r\n‹1c,‹2d\r\n", []string{"a", "b", "c", "d"}},
		"characters":       {"‹1Zoë Ångfeldt,‹2µg/g,,‹4cmol₍₊₎,‹5x\n", []string{"Zoë Ångfeldt", "µg/g", "cmol₍₊₎", "x"}},
		"quotes":           {"‹1\"Smithy, Jr. & Sons, \"\"The Patch\"\"\",‹26.7\n", []string{`Smithy, Jr. & Sons, "The Patch"`, "6.7"}},
		"over lines":       {"‹1\"über\nzwei\",‹26.4,‹3\"x\r\ny\"\n‹1b\n", []string{"über\nzwei", "6.4", "x\ny", "b"}},
		"blank lines":      {"\n\n‹1a,‹2b\n\n‹1c,‹2d\n\n\n", []string{"a", "b", "c", "d"}},
		"spaces kept":      {"‹1 a ,‹2b\n", []string{" a ", "b"}},
	} {
		text, want := marked(c.in)
		d, r := readertest.Read(t, New(comma), name+".csv", []byte(text))
		if r != nil {
			t.Errorf("%s: %v", name, r)
			continue
		}
		var got, texts []string
		for _, x := range d.Pages[0].Cells {
			got = append(got, fmt.Sprintf("%d@%d:%d", x.Col, x.Line, x.LineCol))
			texts = append(texts, x.Text)
		}
		if strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("%s: places %v, want %v", name, got, want)
		}
		if strings.Join(texts, "|") != strings.Join(c.texts, "|") {
			t.Errorf("%s: texts %q, want %q", name, texts, c.texts)
		}
	}
}

func TestEncodings(t *testing.T) {
	const text = "Unit;Größe\r\nµg/g;6,5 €\r\n"
	w1252, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	latin := strings.ReplaceAll(w1252, "\x80", "\xA4")
	for name, c := range map[string]struct {
		encoding string
		b        string
		last     string
	}{
		"utf-8":              {"utf-8", text, "6,5 €"},
		"utf-8 with mark":    {"utf-8", "\xEF\xBB\xBF" + text, "6,5 €"},
		"windows-1252":       {"windows-1252", w1252, "6,5 €"},
		"iso-8859-1":         {"iso-8859-1", latin, "6,5 ¤"},
		"utf-16le":           {"utf-16le", string(utf16Bytes(text, binary.LittleEndian)), "6,5 €"},
		"utf-16le with mark": {"utf-16le", "\xFF\xFE" + string(utf16Bytes(text, binary.LittleEndian)), "6,5 €"},
		"utf-16be with mark": {"utf-16be", "\xFE\xFF" + string(utf16Bytes(text, binary.BigEndian)), "6,5 €"},
	} {
		d, r := readertest.Read(t, New(ingest.Dialect{Encoding: c.encoding, Delimiter: ";"}), name, []byte(c.b))
		if r != nil {
			t.Errorf("%s: %v", name, r)
			continue
		}
		x := d.Pages[0].Cells
		if len(x) != 4 || x[0].Text != "Unit" || x[1].Text != "Größe" || x[2].Text != "µg/g" || x[3].Text != c.last || x[3].LineCol != 6 {
			t.Errorf("%s: %+v", name, x)
		}
	}
}

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares what is said to people with a file that is read in review.
func golden(t *testing.T, path string, said map[string]string) {
	t.Helper()
	var out strings.Builder
	for _, name := range slices.Sorted(maps.Keys(said)) {
		fmt.Fprintf(&out, "== %s\n%s\n\n", name, said[name])
	}
	if *update {
		if err := os.WriteFile(path, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if out.String() != string(want) {
		t.Errorf("%s differs; run with -update and read what changed. Now:\n%s", path, out.String())
	}
}

func TestReasons(t *testing.T) {
	said := map[string]string{}
	for name, c := range map[string]struct {
		encoding, in, code, place string
	}{
		"mark of another encoding":        {"windows-1252", "\xEF\xBB\xBFa,b\n", "encoding-differs", ""},
		"utf-16 mark":                     {"utf-8", "\xFF\xFEa\x00", "encoding-differs", ""},
		"utf-8 read as one byte a letter": {"windows-1252", "Zoë,1\n", "encoding-differs", ""},
		"windows letters as utf-8":        {"utf-8", "a,b\nZo\xEB,1\n", "encoding-invalid", "2:3"},
		"undefined in windows-1252":       {"windows-1252", "a\n\xE9\x81\n", "encoding-invalid", "2:2"},
		"control in latin 1":              {"iso-8859-1", "a\nb\x93\n", "encoding-invalid", "2:2"},
		"half a unit":                     {"utf-16le", "a\x00b", "encoding-invalid", "1:2"},
		"lone surrogate":                  {"utf-16be", "\x00a\xD8\x00\x00b", "encoding-invalid", "1:2"},
		"nul":                             {"utf-8", "a,b\nc,\x00\n", "nul-byte", "2:3"},
		"utf-16 without mark":             {"utf-8", "a\x00,\x00", "nul-byte", "1:2"},
		"empty":                           {"utf-8", "", "empty-file", ""},
		"only blank lines":                {"utf-8", "\r\n \n", "empty-file", ""},
		"carriage returns alone":          {"utf-8", "a,b\rc,d\r", "line-ends", ""},
		"quote never closed":              {"utf-8", "a,b\nc,\"d\ne,f\ng,h\n", "quote-unclosed", "2:3"},
		"quote closed too late":           {"utf-8", "a,b\nµ,\"d\ne,\"f\"\n", "quote-unclosed", "2:3"},
		"letter after quote":              {"utf-8", "a,b\n\"c\"x,d\n", "quote-unclosed", "2:1"},
		"quote in the middle":             {"utf-8", "a,b\nµ,5\" deep\n", "quote-stray", "2:4"},
		"no such encoding":                {"utf-7", "a,b\n", "dialect-not-possible", ""},
	} {
		_, r := readertest.Read(t, New(ingest.Dialect{Encoding: c.encoding, Delimiter: ","}), "x.csv", []byte(c.in))
		if r == nil || r.Code != c.code || r.Where.Inside() != c.place {
			t.Errorf("%s: want %s at %q, got %v", name, c.code, c.place, r)
			continue
		}
		said[name] = r.Error()
	}
	for name, lim := range map[string]ingest.Limits{"too many bytes": {Bytes: 3}, "too many fields": {Cells: 1}} {
		_, err := New(comma).Read(context.Background(), ingest.NewSource("x.csv", []byte("a,b\n")), lim)
		said[name] = err.Error()
	}
	d, r := readertest.Read(t, New(comma), "x.csv", []byte("a,b,c\n"+strings.Repeat("1,2,3\n", 9)+strings.Repeat("1,878,5,6\n", 6)+"1,2,3\n"))
	if r != nil {
		t.Fatal(r)
	}
	said["ragged"], said["ragged, the rest"] = d.Notes[0].Error(), d.Notes[5].Error()
	golden(t, "testdata/reasons.txt", said)
	for _, d := range []string{"", ",,", "\"", "\n", "\xff", "\x00"} {
		_, r := readertest.Read(t, New(ingest.Dialect{Encoding: "utf-8", Delimiter: d}), "x.csv", []byte("a,b\n"))
		if r == nil || r.Code != "dialect-not-possible" {
			t.Errorf("delimiter %q: got %v", d, r)
		}
	}
}

func TestReasonNamesLineAndByte(t *testing.T) {
	_, r := readertest.Read(t, New(comma), "x.csv", []byte("Größe,1\nZo\xEB,1\n"))
	if r == nil || r.Found != "EB at byte 3 of line 2" {
		t.Fatalf("got %v", r)
	}
	_, r = readertest.Read(t, New(comma), "x.csv", []byte("a,b\nc,\"d\ne,f\n"))
	if r == nil || !strings.Contains(r.Found, `c,"d`) || !strings.Contains(r.Found, "up to line 3") {
		t.Fatalf("got %v", r)
	}
}

func TestRaggedRows(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"sound":                         {"a,b,c\n1,2,3\n4,5,6\n", ""},
		"preamble":                      {"Marrow Brook\nReport,MB1\n\na,b,c\n1,2,3\n4,5,6\n", ""},
		"preamble that looks alike":     {"Report,MB1,x\nto you\na,b,c\n1,2,3\n4,5,6\n", ""},
		"notes after a blank line":      {"a,b,c\n1,2,3\n4,5,6\n\nresults, as received\n", ""},
		"note at once":                  {"a,b,c\n1,2,3\n4,5,6\nResults as received\nsecond\n", ""},
		"note without line end":         {"a,b,c\n1,2,3\n4,5,6\nResults as received", ""},
		"blank rows of delimiters":      {"a,b,c\n1,2,3\n4,5,6\n,\n,,,,\n", ""},
		"one column":                    {"a\nb\nc\n", ""},
		"one field lost":                {"a,b,c\n1,2,3\n4,6\n7,8,9\n", "3:2"},
		"comma in a number":             {"a,b,c\n1,2,3\n1,878,5,6\n7,8,9\n", "3:4"},
		"cut in the last row":           {"a,b,c\n1,2,3\n4,5,6\n7,8", "4:2"},
		"cut in the first field":        {"a,b,c\n1,2,3\n4,5,6\nMB7", "4:1"},
		"two fields after the table":    {"a,b,c\n1,2,3\n4,5,6\n7,8\n", "4:2"},
		"one field in the table":        {"a,b,c\n1,2,3\nsection\n4,5,6\n", "3:1"},
		"wider line before the table":   {"a,b,c,d\n1,2,3\n4,5,6\n7,8,9\n", "1:4"},
		"too wide even at the very end": {"a,b,c\n1,2,3\n4,5,6\n7,8,9,10\n", "4:4"},
	} {
		d, r := readertest.Read(t, New(comma), "x.csv", []byte(c.in))
		if r != nil {
			t.Errorf("%s: %v", name, r)
			continue
		}
		var got []string
		for _, n := range d.Notes {
			if n.Code != CodeRagged || n.Severity != ingest.Hold || n.Expected != "3 fields, as most lines of this file have" {
				t.Errorf("%s: note %v", name, n)
			}
			count, _, _ := strings.Cut(n.Found, " ")
			got = append(got, n.Where.Inside()+":"+count)
		}
		if g := strings.Join(got, " "); g != c.want {
			t.Errorf("%s: ragged %q, want %q", name, g, c.want)
		}
	}
}

// A report of few samples has more lines of labels and values than rows.
func TestTableAmongLabels(t *testing.T) {
	const head, foot = "Lab,Marrow Brook\nReport,MB1\nClient,Odo\nDate,2 May\nCounty,Wren\n\n", "\nM3,Mehlich-3\nOL,Olsen\nsee over\n"
	for name, c := range map[string]struct{ in, want string }{
		"one sample":              {head + "a,b,c,d,e\n1,2,3,4,5\n" + foot, ""},
		"two samples":             {head + "a,b,c,d,e\n1,2,3,4,5\n6,7,8,9,0\n" + foot, ""},
		"a field lost":            {head + "a,b,c,d,e\n1,2,3,4,5\n6,7,8,9\n1,2,3,4,5\n", "9:4"},
		"two blocks of one width": {head + "a,b,c,d,e\n1,2,3,4,5\n\na,b\n\na,b,c,d,e\n", "10:2"},
		"no table among them":     {"a,b\n1,2\n3,4\n5,6\n1,2,3,4,5\n", "5:5"},
	} {
		d, r := readertest.Read(t, New(comma), "x.csv", []byte(c.in))
		if r != nil {
			t.Errorf("%s: %v", name, r)
			continue
		}
		var got []string
		for _, n := range d.Notes {
			count, _, _ := strings.Cut(n.Found, " ")
			got = append(got, n.Where.Inside()+":"+count)
		}
		if g := strings.Join(got, " "); g != c.want {
			t.Errorf("%s: ragged %q, want %q", name, g, c.want)
		}
	}
}

func TestManyRaggedRowsAreCounted(t *testing.T) {
	in := "a,b,c\n" + strings.Repeat("1,2,3\n", 30) + strings.Repeat("1,2\n", 12) + "1,2,3\n"
	d, r := readertest.Read(t, New(comma), "x.csv", []byte(in))
	if r != nil {
		t.Fatal(r)
	}
	if len(d.Notes) != raggedShown+1 || !strings.HasPrefix(d.Notes[raggedShown].What, "7 more lines") {
		t.Errorf("notes: %v", d.Notes)
	}
	if n := len(d.Pages[0].Cells); n != 31*3+12*2+3 {
		t.Errorf("%d cells: ragged rows must be kept as they are", n)
	}
}

// labFiles are the laboratory's files in testdata, which must be there.
func labFiles(t testing.TB) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, pattern := range []string{"*.csv", "revised/*.csv"} {
		names, err := filepath.Glob(filepath.Join("../../testdata/labs/marrow-brook-land-water-testing", pattern))
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range names {
			b, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			out[filepath.Base(n)] = b
		}
	}
	if len(out) < 8 {
		t.Fatalf("found %d files", len(out))
	}
	return out
}

func dialectOf(name string) ingest.Dialect {
	if strings.Contains(name, "-export") {
		return ingest.Dialect{Encoding: "windows-1252", Delimiter: ";"}
	}
	return comma
}

// TestAgreesWithEncodingCSV cuts each laboratory file with encoding/csv and
// x/text alone, and compares field by field.
func TestAgreesWithEncodingCSV(t *testing.T) {
	compared := 0
	for name, b := range labFiles(t) {
		dialect := dialectOf(name)
		d, r := readertest.Read(t, New(dialect), name, b)
		if r != nil {
			t.Fatal(r)
		}
		if len(d.Notes) > 0 {
			t.Errorf("%s: %v", name, d.Notes)
		}
		text := strings.TrimPrefix(string(b), "\uFEFF")
		if dialect.Encoding == "windows-1252" {
			var err error
			if text, err = charmap.Windows1252.NewDecoder().String(string(b)); err != nil {
				t.Fatal(err)
			}
		}
		cr := csv.NewReader(strings.NewReader(text))
		cr.Comma = rune(dialect.Delimiter[0])
		cells := d.Pages[0].Cells
		for i := 1; ; i++ {
			rec, err := cr.Read()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			for k, f := range rec {
				if f == "" {
					continue
				}
				if len(cells) == 0 || cells[0].Text != f || cells[0].Row != i || cells[0].Col != k+1 {
					t.Fatalf("%s: record %d field %d %q: got %+v", name, i, k+1, f, cells[:min(1, len(cells))])
				}
				cells = cells[1:]
				compared++
			}
		}
		if len(cells) > 0 {
			t.Errorf("%s: %d cells too many", name, len(cells))
		}
	}
	if compared < 2000 {
		t.Errorf("only %d fields compared", compared)
	}
}

func TestContract(t *testing.T) {
	var list []readertest.Sample
	for n, b := range labFiles(t) {
		if dialectOf(n) == comma {
			list = append(list, readertest.Sample{Name: n, Bytes: b})
		}
	}
	list = append(list, readertest.Sample{Name: "nul.csv", Bytes: []byte("a,\x00\n"), Code: "nul-byte"},
		readertest.Sample{Name: "quote.csv", Bytes: []byte("a,\"b\n"), Code: "quote-unclosed"})
	readertest.Run(t, New(comma), list)
}

// FuzzFields: whatever can be read gives back what the file says. The text of
// each cell begins at its place in the decoded text, and the digits in the
// cells are the digits of the file.
func FuzzFields(f *testing.F) {
	f.Add("a,b\n1,2\n", ",")
	f.Add("Zoë;\"6,5\"\";x\"\r\n\r\n;;µ\n", ";")
	f.Add("\"over\nlines\",6.4\nx", ",")
	f.Add("a\tb\n\t\t1.25\n", "\t")
	f.Add("1×2\n3×\"4\n5\"×6", "×")
	f.Fuzz(func(t *testing.T, text, delim string) {
		if strings.HasPrefix(text, "\uFEFF") || strings.ContainsAny(delim, "0123456789") {
			return
		}
		d, r := readertest.Read(t, New(ingest.Dialect{Encoding: "utf-8", Delimiter: delim}), "f.csv", []byte(text))
		if r != nil {
			return
		}
		digits := func(s string) string {
			return strings.Map(func(r rune) rune {
				if r >= '0' && r <= '9' {
					return r
				}
				return -1
			}, s)
		}
		lines := strings.Split(text, "\n")
		var joined strings.Builder
		for _, c := range d.Pages[0].Cells {
			joined.WriteString(c.Text)
			at := string([]rune(lines[c.Line-1])[c.LineCol-1:])
			if rest := strings.Join(lines[c.Line:], "\n"); c.Line < len(lines) {
				at += "\n" + rest
			}
			if !strings.HasPrefix(unquote(strings.ReplaceAll(at, "\r\n", "\n")), c.Text) {
				t.Fatalf("at %d:%d stands %q, the cell says %q", c.Line, c.LineCol, at, c.Text)
			}
		}
		if digits(text) != digits(joined.String()) {
			t.Fatalf("digits of the file %s, of the cells %s", digits(text), digits(joined.String()))
		}
	})
}

// unquote takes the quotes off a field at the start of a text, by RFC 4180:
// the field ends at the first quote that is not doubled.
func unquote(s string) string {
	in, ok := strings.CutPrefix(s, `"`)
	if !ok {
		return s
	}
	var out strings.Builder
	for {
		part, rest, _ := strings.Cut(in, `"`)
		out.WriteString(part)
		if in, ok = strings.CutPrefix(rest, `"`); !ok {
			return out.String()
		}
		out.WriteByte('"')
	}
}

// BenchmarkDelimited reads 40,000 rows of 16 fields, and for comparison cuts
// the same bytes with encoding/csv alone.
func BenchmarkDelimited(b *testing.B) {
	lab := labFiles(b)["MB26-0711.csv"]
	lines := bytes.SplitAfter(bytes.TrimPrefix(lab, []byte("\xEF\xBB\xBF")), []byte("\n"))
	var raw []byte
	for i := 0; i < 40_000; i++ {
		raw = append(raw, lines[i%(len(lines)-1)]...)
	}
	b.Run("this reader", func(b *testing.B) {
		b.SetBytes(int64(len(raw)))
		b.ReportAllocs()
		src := ingest.NewSource("x.csv", raw)
		for b.Loop() {
			if _, err := New(comma).Read(context.Background(), src, ingest.Limits{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding-csv alone", func(b *testing.B) {
		b.SetBytes(int64(len(raw)))
		b.ReportAllocs()
		for b.Loop() {
			if _, err := csv.NewReader(bytes.NewReader(raw)).ReadAll(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
