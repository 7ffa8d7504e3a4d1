package pdf

import (
	_ "embed"
	"strconv"
	"strings"
	"sync"
)

// The tables lie beside the code as text, with their sources at their heads.
var (
	//go:embed data/glyphlist.txt
	glyphListText string
	//go:embed data/encodings.txt
	encodingsText string
	//go:embed data/widths.txt
	widthsText string
)

func tableLines(s string) []string {
	var lines []string
	for l := range strings.Lines(s) {
		if l = strings.TrimSpace(l); l != "" && l[0] != '#' {
			lines = append(lines, l)
		}
	}
	return lines
}

// glyphList is the characters that glyph names stand for.
var glyphList = sync.OnceValue(func() map[string]string {
	m := map[string]string{}
	for _, l := range tableLines(glyphListText) {
		name, codes, _ := strings.Cut(l, ";")
		var r []rune
		for f := range strings.FieldsSeq(codes) {
			if v, err := strconv.ParseUint(f, 16, 32); err == nil {
				r = append(r, rune(v))
			}
		}
		m[name] = string(r)
	}
	return m
})

// An encoding is the glyph name of each code, "" for none.
type encoding [256]string

var encodings = sync.OnceValue(func() map[string]*encoding {
	m := map[string]*encoding{}
	for _, l := range tableLines(encodingsText) {
		f := strings.Fields(l)
		var e encoding
		for i, n := range f[1:] {
			if n != "." && i < 256 {
				e[i] = n
			}
		}
		m[f[0]] = &e
	}
	return m
})

// dingbats is the characters of the Zapf Dingbats font by code (Unicode
// block 2700; Annex D.6). The names a1, a2, … carry no meaning.
var dingbats = sync.OnceValue(func() map[string]string {
	apart := map[int]rune{0x25: 0x260E, 0x2A: 0x261B, 0x2B: 0x261E, 0x48: 0x2605, 0x6C: 0x25CF, 0x6E: 0x25A0, 0x73: 0x25B2,
		0x74: 0x25BC, 0x75: 0x25C6, 0x77: 0x25D7, 0xA8: 0x2663, 0xA9: 0x2666, 0xAA: 0x2665, 0xAB: 0x2660, 0xD5: 0x2192, 0xD6: 0x2194, 0xD7: 0x2195}
	m := map[string]string{}
	for code, n := range encodings()["ZapfDingbatsEncoding"] {
		r, ok := apart[code]
		switch {
		case n == "" || code <= 0x20:
			continue
		case ok:
		case code <= 0x7E:
			r = rune(0x2700 + code - 0x20)
		case code >= 0xA1 && code <= 0xA7:
			r = rune(0x2761 + code - 0xA1)
		case code >= 0xAC && code <= 0xB5:
			r = rune(0x2460 + code - 0xAC)
		case code >= 0xB6 && code <= 0xD4:
			r = rune(0x2776 + code - 0xB6)
		case code >= 0xD8:
			r = rune(0x2798 + code - 0xD8)
		default:
			continue
		}
		m[n] = string(r)
	}
	return m
})

// unknown stands for a character that the file doesn't name.
const unknown = "\uFFFD"

// glyphText is the text of a glyph name, by the rules of the Adobe Glyph
// List specification: a listed name, uniXXXX, uXXXXXX, parts joined by
// underscores, and all of those before a suffix such as ".sc".
func glyphText(n string) string {
	n, _, _ = strings.Cut(n, ".")
	if n == "" {
		return unknown
	}
	var all strings.Builder
	for part := range strings.SplitSeq(n, "_") {
		switch t, listed := glyphList()[part]; {
		case listed:
			all.WriteString(t)
		case dingbats()[part] != "":
			all.WriteString(dingbats()[part])
		case strings.HasPrefix(part, "uni") && len(part) >= 7 && (len(part)-3)%4 == 0:
			for i := 3; i < len(part); i += 4 {
				v, err := strconv.ParseUint(part[i:i+4], 16, 32)
				if err != nil {
					return unknown
				}
				all.WriteRune(rune(v))
			}
		case strings.HasPrefix(part, "u") && len(part) >= 5 && len(part) <= 7:
			v, err := strconv.ParseUint(part[1:], 16, 32)
			if err != nil {
				return unknown
			}
			all.WriteRune(rune(v))
		default:
			return unknown
		}
	}
	return all.String()
}

// metrics are the widths of one of the standard fonts by glyph name, and its
// ascent and descent, in 1/1000 em (9.6.2.2).
type metrics struct {
	ascent, descent float64
	every           float64 // width of every glyph, if not 0
	width           map[string]float64
}

var standardFonts = sync.OnceValue(func() map[string]*metrics {
	all := map[string]*metrics{}
	for _, l := range tableLines(widthsText) {
		f := strings.Fields(l)
		m := &metrics{width: map[string]float64{}}
		m.ascent, _ = strconv.ParseFloat(f[1], 64)
		m.descent, _ = strconv.ParseFloat(f[2], 64)
		for _, kv := range f[3:] {
			n, v, _ := strings.Cut(kv, "=")
			w, _ := strconv.ParseFloat(v, 64)
			if n == "*" {
				m.every = w
			} else {
				m.width[n] = w
			}
		}
		all[f[0]] = m
	}
	return all
})

func (m *metrics) of(glyph string) float64 {
	if m.every != 0 {
		return m.every
	}
	return m.width[glyph]
}

// standardFont is the standard font that a font name means, among them the
// names that Windows gives the same designs; false when it is another font,
// for which Helvetica, or its relative of the same weight, is returned.
func standardFont(base string) (string, bool) {
	n := strings.ToLower(strings.NewReplacer(" ", "", "-", "", ",", "").Replace(base))
	bold := strings.Contains(n, "bold") || strings.Contains(n, "black")
	italic := strings.Contains(n, "ital") || strings.Contains(n, "obli")
	switch {
	case strings.HasPrefix(n, "courier"):
		return "Courier", true
	case n == "symbol" || strings.HasPrefix(n, "symbolmt"):
		return "Symbol", true
	case strings.HasPrefix(n, "zapfdingbats"):
		return "ZapfDingbats", true
	case strings.HasPrefix(n, "times"):
		switch {
		case bold && italic:
			return "Times-BoldItalic", true
		case bold:
			return "Times-Bold", true
		case italic:
			return "Times-Italic", true
		}
		return "Times-Roman", true
	}
	known := (strings.HasPrefix(n, "helvetica") || strings.HasPrefix(n, "arial")) && !strings.Contains(n, "narrow")
	if bold {
		return "Helvetica-Bold", known
	}
	return "Helvetica", known
}
