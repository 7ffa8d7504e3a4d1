package pdf

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// withFont is a file with one page, a font F3, and that content.
func withFont(make func(b *builder) string, content string) []byte {
	b := newBuilder()
	ref := make(b)
	b.page(content, "/Resources << /Font << /F3 "+ref+" >> >>")
	return b.bytes()
}

func TestFonts(t *testing.T) {
	const show = "BT /F3 10 Tf 20 200 Td "
	composite := func(enc, extra, toUnicode string) func(b *builder) string {
		return func(b *builder) string {
			d := b.add("<< /Type /Font /Subtype /CIDFontType2 /BaseFont /Odd /DW 500 /W [3 [250 600] 10 12 800] >>")
			if toUnicode != "" {
				extra += " /ToUnicode " + b.packed("", toUnicode)
			}
			return b.add("<< /Type /Font /Subtype /Type0 /BaseFont /Odd /Encoding " + enc + " /DescendantFonts [" + d + "] " + extra + " >>")
		}
	}
	simple := func(entries string) func(b *builder) string {
		return func(b *builder) string { return b.add("<< /Type /Font " + entries + " >>") }
	}
	const maps = `/CIDInit /ProcSet findresource begin 12 dict begin begincmap
/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def
1 begincodespacerange <0000> <FFFF> endcodespacerange
2 beginbfchar <0003> <0020> <0004> <0070> endbfchar
3 beginbfrange <000A> <000B> <0048> <000C> <000C> [<00660069>] <0010> <0019> <0030> endbfrange
endcmap CMapName currentdict /CMap defineresource pop end end`
	for name, c := range map[string]struct {
		font    func(b *builder) string
		content string
		want    string
		x1      float64 // of the last word, 0 for any
	}{
		"composite": {composite("/Identity-H", "", maps), "<0004000A0003000C0010> Tj ET", "pH | fi0", 20 + 6 + 8 + 2.5 + 8 + 5},
		"composite, word spacing is for one-byte codes": {composite("/Identity-H", "", maps), "50 Tw <0004000A0003000A> Tj ET", "pH | H", 44.5},
		"UTF-16 codes": {composite("/UniGB-UCS2-H", "", ""), "<00700048> Tj ET", "pH", 30},
		"WinAnsi":      {simple("/Subtype /TrueType /BaseFont /X /Encoding /WinAnsiEncoding /FirstChar 65 /Widths [700 600]"), "(AB\\265g\\226\\200) Tj ET", "ABµg–€", 33},
		"MacRoman":     {simple("/Subtype /TrueType /BaseFont /X /Encoding /MacRomanEncoding"), "(\\265\\212) Tj ET", "µä", 0},
		"Standard":     {simple("/Subtype /Type1 /BaseFont /Times-Roman"), "(a\\256b\\267) Tj ET", "afib•", 0},
		"differences": {simple("/Subtype /Type1 /BaseFont /X /Encoding << /BaseEncoding /WinAnsiEncoding /Differences [1 /a /fi /uni00B5 /u2264 40 /one.taboldstyle /f_f_i] >>"),
			"<01020304> Tj <2829> Tj (z) Tj ET", "afiµ≤1ffiz", 0},
		"Symbol":           {simple("/Subtype /Type1 /BaseFont /Symbol"), "(m\\243) Tj ET", "µ≤", 20 + 5.76 + 5.49},
		"Zapf Dingbats":    {simple("/Subtype /Type1 /BaseFont /ZapfDingbats"), "(4) Tj ET", "✔", 20 + 8.46},
		"names of Windows": {simple("/Subtype /TrueType /BaseFont /ABCDEF+Arial,Bold /Encoding /WinAnsiEncoding"), "(pH) Tj ET", "pH", 20 + 6.11 + 7.22},
		"the map outranks the encoding": {func(b *builder) string {
			u := b.stream("", "1 beginbfchar <41> <0070> endbfchar")
			return b.add("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding /ToUnicode " + u + " >>")
		}, "(AB) Tj ET", "pB", 0},
		"Type 3": {func(b *builder) string {
			g := b.stream("", "500 0 0 0 500 700 d1 0 0 500 700 re f")
			return b.add("<< /Type /Font /Subtype /Type3 /FontMatrix [0.002 0 0 0.002 0 0] /FontBBox [0 -100 500 400] /FirstChar 65 /LastChar 66 /Widths [250 350]" +
				" /Encoding << /Differences [65 /p /H] >> /CharProcs << /p " + g + " /H " + g + " >> >>")
		}, "(AB) Tj ET", "pH", 20 + 5 + 7},
		"encoding in the font program": {func(b *builder) string {
			f := b.stream("/Length1 120", "%!PS-AdobeFont-1.0: Odd\n/Encoding 256 array 0 1 255 {1 index exch /.notdef put} for\ndup 65 /p put\ndup 66 /H put\nreadonly def\ncurrentfile eexec xyz")
			d := b.add("<< /Type /FontDescriptor /FontName /ABCDEF+Odd /Flags 4 /FontFile " + f + " /Ascent 700 /Descent -200 >>")
			return b.add("<< /Type /Font /Subtype /Type1 /BaseFont /ABCDEF+Odd /FirstChar 65 /Widths [500 700] /FontDescriptor " + d + " >>")
		}, "(AB) Tj ET", "pH", 32},
	} {
		t.Run(name, func(t *testing.T) {
			data := withFont(c.font, show+c.content)
			expect(t, data, c.want)
			words := mustRead(t, data).Pages[0].Words
			if x1 := words[len(words)-1].Box.X1; c.x1 != 0 && math.Abs(x1-c.x1) > 0.01 {
				t.Errorf("it ends at %v, want %v", x1, c.x1)
			}
		})
	}
}

// TestUnreadable has text whose characters the file doesn't name refused,
// rather than read as the plausible nonsense of another encoding.
func TestUnreadable(t *testing.T) {
	subset := func(file string) func(b *builder) string {
		return func(b *builder) string {
			d := b.add("<< /Type /FontDescriptor /FontName /ABCDEF+Odd /Flags 4 " + file + " " + b.stream("", "xyz") + " >>")
			return b.add("<< /Type /Font /Subtype /TrueType /BaseFont /ABCDEF+Odd /FirstChar 33 /Widths [500 500 500 500] /FontDescriptor " + d + " >>")
		}
	}
	for name, data := range map[string][]byte{
		"composite without a map": withFont(func(b *builder) string {
			d := b.add("<< /Type /Font /Subtype /CIDFontType2 /BaseFont /Odd >>")
			return b.add("<< /Type /Font /Subtype /Type0 /BaseFont /Odd /Encoding /Identity-H /DescendantFonts [" + d + "] >>")
		}, "BT /F3 10 Tf 20 200 Td <002100220023> Tj ET"),
		"a numbered subset": withFont(subset("/FontFile2"), "BT /F3 10 Tf 20 200 Td (!\"#$) Tj ET"),
		"glyph names without meaning": withFont(func(b *builder) string {
			return b.add("<< /Type /Font /Subtype /Type1 /BaseFont /Odd /Encoding << /Differences [65 /g1 /g2 /c3] >> >>")
		}, "BT /F3 10 Tf 20 200 Td (ABC) Tj ET"),
		"control characters": withFont(func(b *builder) string {
			u := b.stream("", "1 beginbfrange <41> <5A> <0001> endbfrange")
			return b.add("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /ToUnicode " + u + " >>")
		}, "BT /F3 10 Tf 20 200 Td (ABC) Tj ET"),
		"a font that isn't there": onePage("BT /F9 10 Tf 20 200 Td (ABC) Tj ET"),
		"no font chosen":          onePage("BT 20 200 Td (ABC) Tj ET /F1 0 Tf"),
	} {
		t.Run(name, func(t *testing.T) {
			if name == "no font chosen" {
				refused(t, data, "no-text") // at no size there is nothing to see
				return
			}
			refused(t, data, "text-unreadable")
		})
	}
	// One in ten is noted, and the rest of the page stands.
	doc := mustRead(t, onePage("BT /F1 10 Tf 20 200 Td (nine charac) Tj /F9 10 Tf (x) Tj ET"))
	if len(doc.Notes) != 1 || doc.Notes[0].Code != "characters-unknown" || !strings.Contains(doc.Notes[0].Found, "1 of 11") {
		t.Errorf("got: %v", doc.Notes)
	}
}

// TestWidthTable spot-checks the widths of the standard fonts and the glyph
// list against figures that Adobe publishes: Core 14 AFM files (Helvetica
// one 556, A 667; Times-Roman A 722; Times-BoldItalic ampersand 778; Courier
// 600; Symbol mu 576) and the Adobe Glyph List.
func TestWidthTable(t *testing.T) {
	for _, c := range []struct {
		font, glyph string
		want        float64
	}{
		{"Helvetica", "one", 556}, {"Helvetica", "A", 667}, {"Helvetica-Bold", "mu", 611}, {"Times-Roman", "A", 722},
		{"Times-BoldItalic", "ampersand", 778}, {"Courier", "W", 600}, {"Symbol", "mu", 576}, {"Times-Bold", "percent", 1000},
	} {
		m := standardFonts()[c.font]
		if m == nil || m.of(c.glyph) != c.want {
			t.Errorf("%s of %s: want %v", c.glyph, c.font, c.want)
		}
	}
	for n, want := range map[string]string{"mu": "µ", "lessequal": "≤", "fi": "ﬁ", "Euro": "€", "degree": "°", "onehalf": "½", "uni2082": "₂"} {
		if got := glyphText(n); got != want {
			t.Errorf("%s is %q, want %q", n, got, want)
		}
	}
	if n := len(glyphList()); n != 4281 { // the entries of AGL 2.0
		t.Errorf("the glyph list has %d entries", n)
	}
}

func TestFormsAndImages(t *testing.T) {
	b := newBuilder()
	inner := b.stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Matrix [1 0 0 1 0 20] /Resources << "+standardResources+" >>",
		"BT /F1 10 Tf 5 5 Td (inner) Tj ET BT /F1 10 Tf 5 200 Td (outside) Tj ET")
	outer := b.stream("/Type /XObject /Subtype /Form /BBox [0 0 400 300] /Resources << /XObject << /In "+inner+" >> >>", "q 2 0 0 2 100 0 cm /In Do Q")
	b.page("/Out Do", "/Resources << /XObject << /Out "+outer+" >> >>")
	data := b.bytes()
	expect(t, data, "inner | outside (clipped)")
	w := mustRead(t, data).Pages[0].Words[0]
	// 5 along in a form drawn at twice the size from 100; up 5+20, twice, from the foot of 300.
	if math.Abs(w.Box.X0-110) > 0.01 || math.Abs(w.Base-250) > 0.01 || w.Size != 20 {
		t.Errorf("got %+v", w)
	}

	for name, inline := range map[string]string{
		"packed":            "BI /W 4 /H 4 /BPC 8 /CS /G /F /Fl ID ab EI xx(\n) EI Q\xff\xfe EI\n",
		"plain":             "BI /W 6 /H 2 /BPC 8 /CS /G ID  EI EI (((((\nEI\n",
		"a mask":            "BI /IM true /W 8 /H 3 /D [1 0] ID (<[\nEI\n",
		"nothing behind it": "BI /W 1 /H 1 /BPC 8 /CS /G ID x\nEI",
	} {
		t.Run("inline picture, "+name, func(t *testing.T) {
			tail := " BT /F1 10 Tf 20 180 Td (after) Tj ET"
			want := "before | after"
			if name == "nothing behind it" {
				tail, want = "", "before"
			}
			expect(t, onePage("BT /F1 10 Tf 20 200 Td (before) Tj ET "+inline+tail), want)
		})
	}

	picture := func(content string) []byte {
		b := newBuilder()
		im := b.stream("/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "x")
		b.page(content, "/Resources << "+standardResources+" /XObject << /Im "+im+" >> >>")
		return b.bytes()
	}
	refused(t, picture("q 400 0 0 300 0 0 cm /Im Do Q"), "scan")
	refused(t, picture("BT /F1 10 Tf 20 200 Td (read by a machine, lies beneath) Tj ET q 400 0 0 300 0 0 cm /Im Do Q"), "scan")
	refused(t, picture("q 400 0 0 300 0 0 cm /Im Do Q BT 3 Tr /F1 10 Tf 20 200 Td (read by a machine) Tj ET"), "scan")
	refused(t, picture("q 400 0 0 300 0 0 cm /Im Do Q BT /F1 6 Tf 20 10 Td (scanned by a machine) Tj ET"), "scan")
	expect(t, picture("q 40 0 0 30 0 270 cm /Im Do Q BT /F1 10 Tf 20 200 Td (a logo) Tj ET"), "a | logo")
	refused(t, onePage("0 0 m 100 100 l S"), "no-text")

	b = newBuilder()
	im := b.stream("/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "x")
	b.page("BT /F1 10 Tf 20 200 Td (text) Tj ET", "")
	b.page("q 400 0 0 300 0 0 cm /Im Do Q", "/Resources << /XObject << /Im "+im+" >> >>")
	doc := mustRead(t, b.bytes())
	if len(doc.Notes) != 1 || doc.Notes[0].Code != "picture-page" || doc.Notes[0].Where.Page != 2 {
		t.Errorf("a page that is a picture, among others: %v", doc.Notes)
	}
}

func TestLayersAndAnnotations(t *testing.T) {
	b := newBuilder()
	off, on := b.add("<< /Type /OCG /Name (draft) >>"), b.add("<< /Type /OCG /Name (final) >>")
	b.objects[0] = fmt.Sprintf("<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [%s %s] /D << /OFF [%s] >> >> >>", off, on, off)
	b.page("/OC /A BDC /Span << /X (y) >> BDC BT /F1 10 Tf 20 200 Td (draft) Tj ET EMC EMC /OC /B BDC BT /F1 10 Tf 20 180 Td (final) Tj ET EMC",
		"/Resources << "+standardResources+" /Properties << /A "+off+" /B "+on+" >> >>"+
			" /Annots [ << /Type /Annot /Subtype /FreeText /Rect [10 10 60 30] /Contents (pH is 6.9\nnot 5.9) >>"+
			" << /Subtype /Widget /FT /Tx /V (typed) /Rect [100 100 150 120] >> << /Subtype /Widget /FT /Btn /V /Off >>"+
			" << /Subtype /Link /Rect [0 0 5 5] /Contents (a link) >> << /Subtype /FreeText /F 2 /Contents (hidden) >> ]")
	data := b.bytes()
	expect(t, data, "draft (invisible) | final")
	var got []string
	for _, n := range mustRead(t, data).Notes {
		got = append(got, n.Code+" "+n.Found+" "+n.Where.String())
	}
	want := "annotations pH is 6.9 not 5.9 test.pdf: page 1 box 10,270-60,290; annotations typed test.pdf: page 1 box 100,180-150,200"
	if strings.Join(got, "; ") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "; "), want)
	}
}
