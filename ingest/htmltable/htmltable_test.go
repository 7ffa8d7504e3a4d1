package htmltable

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// grid reads a page and writes its cells in one line each: name, span, text
// and ! where it is hidden.
func grid(t testing.TB, page string) (string, *ingest.Document) {
	t.Helper()
	d, r := readertest.Read(t, New(), "p.html", []byte(page))
	if r != nil {
		t.Fatal(r)
	}
	var out []string
	for _, c := range d.Pages[0].Cells {
		s := ingest.CellName(c.Row, c.Col)
		if c.Across > 0 {
			s += fmt.Sprintf("(%dx%d)", c.Across, c.Down)
		}
		s += "=" + strings.ReplaceAll(c.Text, "\n", "/")
		if c.Hidden {
			s += "!"
		}
		out = append(out, s)
	}
	return strings.Join(out, " | "), d
}

func codes(d *ingest.Document) string {
	var out []string
	for _, n := range d.Notes {
		out = append(out, n.Code)
	}
	return strings.Join(out, " ")
}

func TestGrid(t *testing.T) {
	for name, c := range map[string]struct{ page, want string }{
		"paragraphs and a table": {`<p>Report no. <b>77</b><br>of May</p><table><tr><th>Lab<th>pH</tr><tr><td>A1<td>6.5</table>bye`,
			"A1=Report no. 77 | A2=of May | A3=Lab | B3=pH | A4=A1 | B4=6.5 | A5=bye"},
		"spans across": {`<table><tr><td colspan=3>T<tr><td>a<td>b<td>c</table>`, "A1(3x1)=T | A2=a | B2=b | C2=c"},
		"spans down":   {`<table><tr><td rowspan=2>a<td>b<tr><td>c<tr><td>d<td>e</table>`, "A1(1x2)=a | B1=b | B2=c | A3=d | B3=e"},
		"both":         {`<table><tr><td rowspan=2 colspan=2>a<td>b<tr><td>c<tr><td>d<td>e<td>f</table>`, "A1(2x2)=a | C1=b | C2=c | A3=d | B3=e | C3=f"},
		"to the end":   {`<table><tr><td rowspan=0>a<td>b<tr><td>c<tr><td>d</table>`, "A1(1x3)=a | B1=b | B2=c | B3=d"},
		"no further than its group": {`<table><thead><tr><th rowspan=9>h<th>i</thead><tbody><tr><td>a<td>b</table>`,
			"A1=h | B1=i | A2=a | B2=b"},
		"an empty cell keeps its place": {`<table><tr><td>a<td>&nbsp;<td>c</table>`, "A1=a | C1=c"},
		"foot before body":              {`<table><tfoot><tr><td>mean</tfoot><tbody><tr><td>1</tbody></table>`, "A1=1 | A2=mean"},
		"lines in a cell":               {`<table><tr><td>P<br>ppm<td><p>K</p><p>ppm</p></table>`, "A1=P/ppm | B1=K/ppm"},
		"caption":                       {`<table><caption>Soil</caption><tr><td>1</table>`, "A1=Soil | A2=1"},
		"layout":                        {`<table><tr><td><p>Head</p><table><tr><td>a<td>b<tr><td>1<td>2</table></td><td>side</td></tr></table>`, "A1=Head | A2=a | B2=b | A3=1 | B3=2 | A4=side"},
		"frame round one text":          {`<table><tr><td><table><tr><td>5.6</table></td><td>ppm</td></tr></table>`, "A1=5.6 | B1=ppm"},
		"preformatted":                  {"<pre>pH   6.5\nP    12</pre>", "A1=pH   6.5 | A2=P    12"},
		"entities":                      {`<p>&lt;0.5&nbsp;&micro;g&#47;g 5&shy;6</p>`, "A1=<0.5 µg/g 56"},
		"form":                          {`<p>pH <input value="6.5"> <input type=hidden value=9><select><option>a<option selected>b</select></p>`, "A1=pH 6.5 b | A2=9! | A3=a!"},
	} {
		if got, _ := grid(t, c.page); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", name, got, c.want)
		}
	}
}

func TestNobodySeesIt(t *testing.T) {
	for name, c := range map[string]struct{ page, want, codes string }{
		"display":         {`<p>a</p><p style="display: none">x</p><p>b</p>`, "A1=a | A2=b | A3=x!", CodeHidden},
		"in a cell":       {`<table><tr><td>5.61<span style="display:none">5.16</span><td>b</table>`, "A1=5.61 | B1=b | A2=5.16!", CodeHidden},
		"hidden cell":     {`<table><tr><td hidden>x<td>a<td>b</table>`, "A1=a | B1=b | A2=x!", CodeHidden},
		"hidden row":      {`<table><tr><td>a<tr style="display:none"><td>x<td>y<tr><td>b</table>`, "A1=a | A2=b | A3=x y!", CodeHidden},
		"keeps its room":  {`<table><tr><td style="visibility:hidden">x<td>a</table>`, "B1=a | A2=x!", CodeHidden},
		"shown within":    {`<div style="visibility:hidden">x<b style="visibility:visible">a</b></div>`, "A1=a | A2=x!", CodeHidden},
		"no size":         {`<p>a<span style="font-size:0px">x</span></p>`, "A1=a | A2=x!", CodeHidden},
		"white on white":  {`<p>a <font color=white>x</font></p>`, "A1=a | A2=x!", CodeHidden},
		"white on black":  {`<table><tr><td bgcolor="#000" style="color:#FFF">a</table>`, "A1=a", ""},
		"by class":        {`<style>/* n */ .q, td.z {display:none} .w{color:red}</style><table><tr><td class="w">a<td class="z">x<td class="w q">y</table>`, "A1=a | A2=x! | A3=y!", CodeHidden},
		"by a hard rule":  {`<style>div > p {display:none}</style><div><p>a</p></div>`, "A1=a", CodeStyle},
		"when printed":    {`<style>@media print { .q {display:none} }</style><p class=q>a</p>`, "A1=a", ""},
		"comments":        {`<p>a<!-- 5 --></p><script>var x = 7</script><style>p{width:3px}</style>`, "A1=a", ""},
		"closed details":  {`<details><summary>more</summary><p>x</p></details>`, "A1=more | A2=x!", CodeHidden},
		"struck out":      {`<p><s>5</s>6 ppm</p>`, "A1=5 6 ppm", CodeStruck},
		"a footnote mark": {`<table><tr><td>5.6<sup>1</sup><td><sup>2</sup>7.1<td>P<sub>2</sub>O<sub>5</sub></table>`, "A1=5.6 1 | B1=2 7.1 | C1=P2O5", ""},
		"boxes in line":   {`<p><span style="float:left">5</span><span style="float:left">6</span> <b>7</b>8</p>`, "A1=5 6 78", ""},
		"a picture":       {`<p>a</p><img src=x><img src=y width=1 height=1>`, "A1=a", CodePictures},
	} {
		got, d := grid(t, c.page)
		if got != c.want || codes(d) != c.codes {
			t.Errorf("%s:\ngot  %s  [%s]\nwant %s  [%s]", name, got, codes(d), c.want, c.codes)
		}
	}
}

// The x:num that spreadsheet programs write is the stored number, if it is
// the number shown.
func TestStoredNumber(t *testing.T) {
	_, d := grid(t, `<table><tr><td x:num="5.6123">5.61<td x:num="9.9">5.61<td x:num>7<td x:num="1878.4">1,878</table>`)
	want := []ingest.Cell{
		{Row: 1, Col: 1, Text: "5.61", Raw: "5.6123", Kind: ingest.NumberCell},
		{Row: 1, Col: 2, Text: "5.61", Kind: ingest.TextCell},
		{Row: 1, Col: 3, Text: "7", Kind: ingest.TextCell},
		{Row: 1, Col: 4, Text: "1,878", Raw: "1878.4", Kind: ingest.NumberCell},
	}
	for i, c := range d.Pages[0].Cells {
		if c != want[i] {
			t.Errorf("got %+v, want %+v", c, want[i])
		}
	}
}

func TestEncodings(t *testing.T) {
	text := "<p>Zoë Ångström – µg/g</p>"
	latin, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	wide, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ page, codes string }{
		"utf-8":                 {text, ""},
		"utf-8 with mark":       {"\xef\xbb\xbf" + text, ""},
		"mark against meta":     {"\xef\xbb\xbf<meta charset=windows-1252>" + text, ""},
		"utf-16 with mark":      {wide, ""},
		"windows-1252 declared": {`<meta charset="windows-1252">` + latin, ""},
		"in content-type":       {`<meta http-equiv="Content-Type" content="text/html; charset=iso-8859-1">` + latin, ""},
		"undeclared":            {latin, CodeEncoding},
	} {
		got, d := grid(t, c.page)
		if got != "A1=Zoë Ångström – µg/g" || codes(d) != c.codes {
			t.Errorf("%s: got %s [%s]", name, got, codes(d))
		}
	}
	if got, d := grid(t, `<meta charset="utf-8"><p>5 `+"\xb5"+`g</p>`); got != "A1=5 \uFFFDg" || codes(d) != CodeUndecodable {
		t.Errorf("wrong encoding: got %s [%s]", got, codes(d))
	}
}

// As README.md of the hostile files has it: found by its bytes to be HTML,
// and its table read.
func TestHTMLNamedXLS(t *testing.T) {
	b := load(t, "../../testdata/hostile/html-named.xls")
	if k := ingest.Sniff("html-named.xls", b); k != ingest.KindHTML {
		t.Errorf("taken for %s", k)
	}
	got, _ := grid(t, string(b))
	want := "A1(14x1)=GRAYLING STREET SOIL CHEMISTRY BUREAU | A2=Job | B2=J26-177 | C2=Client | D2=Euphemia Tollivant | E2=County | F2=Tamarack | G2=Rec'd | H2=46101 | I2=Reported | J2=46107 | " +
		"A3=Lab No | B3=Your ref | C3=Use | D3=Sampled | E3=Depth in | F3=pH CaCl2 | G3=O.M. W-B % | H3=P Morgan ppm | I3=Ca me/100 g | J3=Mg me/100 g | K3=K me/100 g | L3=Na me/100 g | M3=H + Al me/100 g | N3=C.E.C. me/100 g | " +
		"A4=5120/26 | B4=XF9 | C4=hay | E4=6 | F4=5.61 | G4=3.40 | H4=3.2 | I4=5.10 | J4=0.88 | K4=0.21 | L4=0.05 | M4=2.46 | N4=8.70"
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestReaderKeepsItsContract(t *testing.T) {
	readertest.Run(t, New(), []readertest.Sample{
		{Name: "html-named.xls", Bytes: load(t, "../../testdata/hostile/html-named.xls")},
		{Name: "report.html", Bytes: []byte(sample)},
		{Name: "empty.html", Code: "empty-file"},
		{Name: "nothing.html", Bytes: []byte("<html><body><script>1</script></body></html>"), Code: "empty-file"},
		{Name: "frames.xls", Bytes: []byte(`<html><frameset><frame src="a_files/sheet001.htm"></frameset></html>`), Code: "parts-missing"},
		{Name: "deep.html", Bytes: []byte(strings.Repeat("<div>", 4000) + "5"), Code: "damaged"},
		{Name: "wide.html", Bytes: []byte("<table><tr>" + strings.Repeat("<td colspan=1000>1</td>", 20) + "</table>"), Code: "too-large"},
	})
}

const sample = `<!DOCTYPE html><html><head><title>t</title><style>.q{display:none}</style></head><body>
<p>Finch Lane Laboratory</p><p>Report no. 12</p><p class="q">preheader 99</p>
<table><thead><tr><th rowspan=2>Lab<th colspan=2>ppm</tr><tr><th>P<th>K</tr></thead><tr><td>A1<td>5.6<sup>a</sup><td>&lt;0.5</tr></table>
<table><tr><td><table><tr><td>x<td>y</table></table><pre>1 2
3</pre></body></html>`

func TestReasonsInWords(t *testing.T) {
	_, r := readertest.Read(t, New(), "april.xls", []byte(`<frameset><frame src=a></frameset>`))
	want := `april.xls: not read [parts-missing] the file is only the frame of a web page; what it shows is in other files
    expected  a web page that holds its tables itself
    found     frames that name other files
    next      open the file in a spreadsheet program and save it as .xlsx, or ask the laboratory for one file that holds everything`
	if r == nil || r.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", r, want)
	}
	d, _ := readertest.Read(t, New(), "april.html", []byte(`<p>a</p><p hidden>nine ninety-nine</p>`))
	want = `april.html: note [hidden-text] the web page holds text that a browser doesn't show; it was kept apart and nothing was read from it
    found     nine ninety-nine`
	if len(d.Notes) != 1 || d.Notes[0].Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", d.Notes, want)
	}
}

// FuzzRead checks beside the contract that no visible digit of plain text is
// lost: every digit outside of tags stands in a cell, hidden or not.
func FuzzRead(f *testing.F) {
	f.Add([]byte(sample))
	f.Add(load(f, "../../testdata/hostile/html-named.xls"))
	f.Add([]byte(`<table><tr><td rowspan=2>a<td>b<tr><td colspan=2>c<table><tr><td>1</table></table>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, _ := readertest.Read(t, New(), "f.html", b)
		if d == nil || strings.ContainsAny(string(b), "<&") {
			return
		}
		if bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")) {
			return // in UTF-16 a byte alone is no digit
		}
		in, out := strings.Map(digits, string(b)), ""
		for _, c := range d.Pages[0].Cells {
			out += strings.Map(digits, c.Text)
		}
		if in != out {
			t.Errorf("digits %q went in and %q came out", in, out)
		}
	})
}

func digits(r rune) rune {
	if r >= '0' && r <= '9' {
		return r
	}
	return -1
}
