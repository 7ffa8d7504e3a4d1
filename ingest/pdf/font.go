package pdf

import (
	"bytes"
	"strings"
	"unicode/utf16"

	"github.com/ledongthuc/pdf"
)

// A font turns the codes of shown strings into text and widths (9.5 to
// 9.10).
type font struct {
	simple  bool
	chars   [256]string  // of a simple font
	widths  [256]float64 // of a simple font, in units of the font size
	codes   *cmap        // of a composite font: how codes are cut and which glyphs they select; nil for two bytes and the same number
	utf16   bool         // of a composite font: codes are UTF-16
	text    map[uint32]string
	cidW    map[int]float64
	defW    float64
	ascent  float64 // in units of the font size
	descent float64 // negative
	em      float64 // height of an em in units of the font size; 1 but for Type 3
}

// A shown is one code of a string.
type shown struct {
	text  string
	width float64 // in units of the font size
	blank bool    // the one-byte code 32, which word spacing widens (9.3.3)
}

// next cuts the first code off a string, which isn't empty.
func (f *font) next(b []byte) (shown, []byte) {
	if f.simple {
		c := b[0]
		return shown{f.chars[c], f.widths[c], c == ' '}, b[1:]
	}
	code, n := uint32(0), min(2, len(b))
	if f.codes != nil {
		code, n = f.codes.next(b)
	} else {
		code = codeOf(b[:n])
	}
	cid := int(code)
	if f.codes != nil {
		if c, ok := f.codes.cid[code]; ok {
			cid = c
		}
	}
	w, ok := f.cidW[cid]
	if !ok {
		w = f.defW
	}
	t, ok := f.text[code]
	if !ok {
		t = unknown
		if f.utf16 {
			t = readable(string(utf16.Decode(utf16Units(b[:n]))))
		}
	}
	return shown{t, w, n == 1 && code == ' '}, b[n:]
}

// fontCache keeps the fonts of one file by the object they are.
type fontCache struct {
	guard *guard
	byRef map[string]*font
}

// of is the font of that name in a resource dictionary. A font that isn't
// there shows unknown characters: the text must not vanish.
func (c *fontCache) of(fonts pdf.Value, dict, name string) *font {
	ref := reference(dict, name)
	if f := c.byRef[ref]; f != nil && ref != "" {
		return f
	}
	v := fonts.Key(name)
	if v.Kind() != pdf.Dict {
		return noFont
	}
	f := c.guard.loadFont(v)
	if ref != "" {
		c.byRef[ref] = f
	}
	return f
}

// mostMapBytes bounds a character map; the largest have some 100 kB.
const mostMapBytes = 4 << 20

func (g *guard) loadFont(v pdf.Value) *font {
	f := &font{em: 1}
	var toUnicode *cmap
	if tu := v.Key("ToUnicode"); tu.Kind() == pdf.Stream {
		toUnicode = parseCMap(g.decode(tu, mostMapBytes))
	}
	if v.Key("Subtype").Name() == "Type0" {
		g.loadComposite(f, v, toUnicode)
	} else {
		g.loadSimple(f, v, toUnicode)
	}
	return f
}

// heights sets ascent and descent from the descriptor where it is sane, as
// many writers leave zeros or signs wrong.
func (f *font) heights(fd pdf.Value, m *metrics) {
	f.ascent, f.descent = 0.75, -0.25
	if m != nil {
		f.ascent, f.descent = m.ascent/1000, m.descent/1000
	}
	if a := fd.Key("Ascent").Float64() / 1000; a > 0.3 && a < 1.6 {
		f.ascent = a
	}
	if d := fd.Key("Descent").Float64() / 1000; d != 0 && d > -0.8 && d < 0.8 {
		f.descent = min(d, -d)
	}
}

func (g *guard) loadComposite(f *font, v pdf.Value, toUnicode *cmap) {
	df := v.Key("DescendantFonts").Index(0)
	f.heights(df.Key("FontDescriptor"), nil)
	switch enc := v.Key("Encoding"); enc.Kind() {
	case pdf.Stream:
		f.codes = parseCMap(g.decode(enc, mostMapBytes))
	case pdf.Name:
		f.utf16 = strings.Contains(enc.Name(), "UCS2") || strings.Contains(enc.Name(), "UTF16")
	}
	f.text = map[uint32]string{}
	if toUnicode != nil {
		for code, s := range toUnicode.text {
			f.text[code] = readable(s)
		}
	}
	f.defW = 1
	if dw := df.Key("DW"); dw.Kind() == pdf.Integer || dw.Kind() == pdf.Real {
		f.defW = dw.Float64() / 1000
	}
	f.cidW = map[int]float64{}
	w := df.Key("W")
	for i := 0; i+1 < w.Len() && len(f.cidW) < mostMapped; {
		first, second := int(w.Index(i).Float64()), w.Index(i+1)
		if second.Kind() == pdf.Array { // c [w1 w2 …]
			for j := range second.Len() {
				f.cidW[first+j] = second.Index(j).Float64() / 1000
			}
			i += 2
			continue
		}
		last, width := int(second.Float64()), w.Index(i+2).Float64()/1000 // first last w
		for c := first; c <= last && c-first < 1<<16; c++ {
			f.cidW[c] = width
		}
		i += 3
	}
}

func (g *guard) loadSimple(f *font, v pdf.Value, toUnicode *cmap) {
	f.simple = true
	fd := v.Key("FontDescriptor")
	base := v.Key("BaseFont").Name()
	subset := len(base) > 7 && base[6] == '+' && strings.ToUpper(base[:6]) == base[:6]
	if subset {
		base = base[7:]
	}
	standard, known := standardFont(base)
	m := standardFonts()[standard]
	names, sure := g.simpleEncoding(v, fd, standard, known, subset)
	for code := range 256 {
		if toUnicode != nil {
			if s, ok := toUnicode.text[uint32(code)]; ok {
				f.chars[code] = readable(s)
				continue
			}
		}
		f.chars[code] = unknown
		if n := names[code]; n != "" && sure[code] {
			f.chars[code] = readable(glyphText(n))
		}
	}
	scale := 0.001
	if v.Key("Subtype").Name() == "Type3" {
		scale = f.type3(v)
	} else if known {
		f.heights(fd, m)
	} else {
		f.heights(fd, nil)
	}
	widths := v.Key("Widths")
	missing := fd.Key("MissingWidth").Float64() * scale
	first := int(v.Key("FirstChar").Float64())
	for code := range 256 {
		switch i := code - first; {
		case widths.Kind() != pdf.Array:
			f.widths[code] = m.of(names[code]) / 1000
		case i >= 0 && i < widths.Len():
			f.widths[code] = widths.Index(i).Float64() * scale
		default:
			f.widths[code] = missing
		}
	}
}

// type3 sets the heights of a font whose glyphs are drawings in units of
// their own, and returns what its widths are multiplied with (9.6.5).
func (f *font) type3(v pdf.Value) float64 {
	fm := v.Key("FontMatrix")
	scale, up := fm.Index(0).Float64(), fm.Index(3).Float64()
	if scale == 0 {
		scale = fm.Index(1).Float64()
	}
	if scale == 0 {
		scale = 0.001
	}
	if up == 0 {
		up = scale
	}
	_, y0, _, y1, ok := rectangle(v.Key("FontBBox"))
	lo, hi := min(y0*up, y1*up), max(y0*up, y1*up)
	if !ok || hi-lo <= 0 {
		// An empty box is allowed: take the mean width for half an em.
		w, sum := v.Key("Widths"), 0.0
		for i := range w.Len() {
			sum += w.Index(i).Float64()
		}
		em := 1.0
		if w.Len() > 0 && sum > 0 {
			em = 2 * sum / float64(w.Len()) * max(scale, -scale)
		}
		lo, hi = -0.25*em, 0.75*em
	}
	f.ascent, f.descent = hi, lo
	if h := hi - lo; h < 0.5 || h > 2 {
		f.em = h
	}
	return scale
}

// simpleEncoding is the glyph name of each code and whether it can be relied
// on (9.6.6). A subset may number its glyphs as it likes; unless the file or
// the font says what the numbers mean, the standard encoding would make
// plausible nonsense of them.
func (g *guard) simpleEncoding(v, fd pdf.Value, standard string, known, subset bool) (names encoding, sure [256]bool) {
	enc := v.Key("Encoding")
	baseName := enc.Name()
	if enc.Kind() == pdf.Dict {
		baseName = enc.Key("BaseEncoding").Name()
	}
	set := func(e *encoding, reliable bool) {
		names = *e
		for i := range sure {
			sure[i] = reliable
		}
	}
	symbolic := fd.Key("Flags").Int64()&4 != 0
	embedded := fd.Key("FontFile").Kind() == pdf.Stream || fd.Key("FontFile2").Kind() == pdf.Stream || fd.Key("FontFile3").Kind() == pdf.Stream
	switch e := encodings()[baseName]; {
	case e != nil && baseName != "SymbolEncoding" && baseName != "ZapfDingbatsEncoding":
		set(e, true)
	case standard == "Symbol" && known:
		set(encodings()["SymbolEncoding"], !embedded || !subset)
	case standard == "ZapfDingbats" && known:
		set(encodings()["ZapfDingbatsEncoding"], !embedded || !subset)
	case v.Key("Subtype").Name() == "Type3":
		// Differences name every glyph.
	case fd.Key("FontFile").Kind() == pdf.Stream:
		if e, ok := type1Encoding(g.decode(fd.Key("FontFile"), g.budget)); ok {
			set(e, true)
		} else {
			set(encodings()["StandardEncoding"], !symbolic)
		}
	default:
		set(encodings()["StandardEncoding"], !(embedded && subset && symbolic))
	}
	diffs := enc.Key("Differences")
	code := 0
	for i := range diffs.Len() {
		switch d := diffs.Index(i); d.Kind() {
		case pdf.Integer, pdf.Real:
			code = int(d.Float64())
		case pdf.Name:
			if code >= 0 && code < 256 {
				names[code], sure[code] = d.Name(), true
			}
			code++
		}
	}
	return names, sure
}

// type1Encoding reads the encoding that a Type 1 font program states in its
// clear part: "dup 65 /A put" for each code, or the standard one.
func type1Encoding(b []byte) (*encoding, bool) {
	if i := bytes.Index(b, []byte("eexec")); i >= 0 {
		b = b[:i]
	}
	i := bytes.Index(b, []byte("/Encoding"))
	if i < 0 {
		return nil, false
	}
	l := &lexer{b: b[i+len("/Encoding"):], most: mostOperands}
	var e encoding
	found := false
	for op := l.next(); op != ""; op = l.next() {
		switch op {
		case "StandardEncoding":
			return encodings()["StandardEncoding"], true
		case "put":
			if n := len(l.args); n >= 2 && l.args[n-2].kind == number && l.args[n-1].kind == name {
				if c := int(l.args[n-2].num); c >= 0 && c < 256 && string(l.args[n-1].bytes) != ".notdef" {
					e[c], found = string(l.args[n-1].bytes), true
				}
			}
		case "def", "readonly":
			return &e, found
		}
	}
	return &e, found
}
