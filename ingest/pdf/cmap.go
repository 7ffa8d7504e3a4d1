package pdf

import (
	"strings"
	"unicode/utf16"
)

// A cmap is what a character map says (9.7.5, 9.10.3): how many bytes a code
// has, which glyph a code selects, and which text it stands for.
type cmap struct {
	spaces []codeSpace
	text   map[uint32]string
	cid    map[uint32]int
}

type codeSpace struct {
	bytes  int
	lo, hi uint32
}

// mostMapped bounds the codes of a map; no font has more.
const mostMapped = 1 << 17

// parseCMap reads a character map. It looks for the six kinds of table and
// nothing else: maps are small PostScript programs, but none is known that
// needs running.
func parseCMap(b []byte) *cmap {
	m := &cmap{text: map[uint32]string{}, cid: map[uint32]int{}}
	l := &lexer{b: b, most: 1 << 16}
	for op := l.next(); op != ""; op = l.next() {
		a := l.args
		switch op {
		case "endcodespacerange":
			for ; len(a) >= 2; a = a[2:] {
				if n := len(a[0].bytes); n >= 1 && n <= 4 && len(m.spaces) < 1000 {
					m.spaces = append(m.spaces, codeSpace{n, codeOf(a[0].bytes), codeOf(a[1].bytes)})
				}
			}
		case "endbfchar":
			for ; len(a) >= 2; a = a[2:] {
				m.put(codeOf(a[0].bytes), bfText(a[1]))
			}
		case "endbfrange":
			for ; len(a) >= 3; a = a[3:] {
				m.putRange(codeOf(a[0].bytes), codeOf(a[1].bytes), a[2])
			}
		case "endcidchar":
			for ; len(a) >= 2; a = a[2:] {
				m.cid[codeOf(a[0].bytes)] = int(a[1].num)
			}
		case "endcidrange":
			for ; len(a) >= 3; a = a[3:] {
				lo, hi := codeOf(a[0].bytes), codeOf(a[1].bytes)
				for c := lo; c <= hi && c-lo < 1<<16 && len(m.cid) < mostMapped; c++ {
					m.cid[c] = int(a[2].num) + int(c-lo)
				}
			}
		}
	}
	return m
}

func (m *cmap) put(code uint32, s string) {
	if len(m.text) < mostMapped {
		m.text[code] = s
	}
}

func (m *cmap) putRange(lo, hi uint32, to operand) {
	if to.kind == list {
		for i, o := range to.list {
			if c := lo + uint32(i); c <= hi {
				m.put(c, bfText(o))
			}
		}
		return
	}
	units := utf16Units(to.bytes)
	if len(units) == 0 {
		return
	}
	for c := lo; c <= hi && c-lo < 1<<16; c++ {
		u := append([]uint16(nil), units...)
		// Only the last byte may count upwards (9.10.3), but writers count on.
		u[len(u)-1] += uint16(c - lo)
		m.put(c, string(utf16.Decode(u)))
	}
}

func codeOf(b []byte) (v uint32) {
	for _, c := range b[:min(len(b), 4)] {
		v = v<<8 | uint32(c)
	}
	return v
}

func utf16Units(b []byte) []uint16 {
	if len(b) == 1 { // not allowed, but seen
		return []uint16{uint16(b[0])}
	}
	var u []uint16
	for i := 0; i+1 < len(b) && i < 64; i += 2 {
		u = append(u, uint16(b[i])<<8|uint16(b[i+1]))
	}
	return u
}

func bfText(o operand) string {
	if o.kind == name {
		return glyphText(string(o.bytes))
	}
	return string(utf16.Decode(utf16Units(o.bytes)))
}

// next is the first code of a string and its length in bytes, at least 1.
func (m *cmap) next(b []byte) (uint32, int) {
	for n := 1; n <= 4 && n <= len(b); n++ {
		code := codeOf(b[:n])
		for _, s := range m.spaces {
			if s.bytes == n && inSpace(code, s) {
				return code, n
			}
		}
	}
	if len(m.spaces) > 0 {
		n := min(m.spaces[0].bytes, len(b))
		return codeOf(b[:n]), n
	}
	n := min(2, len(b))
	return codeOf(b[:n]), n
}

// inSpace compares byte by byte: a code space is a box, not an interval.
func inSpace(code uint32, s codeSpace) bool {
	for i := range s.bytes {
		c, lo, hi := byte(code>>(8*i)), byte(s.lo>>(8*i)), byte(s.hi>>(8*i))
		if c < lo || c > hi {
			return false
		}
	}
	return true
}

// ligatures are drawn as one shape and read as letters (Unicode
// compatibility decompositions of U+FB00 to U+FB06).
var ligatures = strings.NewReplacer("\uFB00", "ff", "\uFB01", "fi", "\uFB02", "fl", "\uFB03", "ffi", "\uFB04", "ffl", "\uFB05", "st", "\uFB06", "st")

// readable is a glyph's text as it goes into words: ligatures as letters,
// characters that mean nothing marked as unknown, marks without width left
// out. Any kind of space is one space.
func readable(s string) string {
	plain := len(s) > 0
	for i := range len(s) {
		if s[i] <= ' ' || s[i] >= 0x7f {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	if s == "" {
		return unknown
	}
	var b strings.Builder
	for _, r := range ligatures.Replace(s) {
		switch {
		case r == ' ' || r == '\t' || r == '\n' || r == '\r' || r == 0xA0 || r >= 0x2000 && r <= 0x200A || r == 0x202F || r == 0x205F || r == 0x3000 ||
			r == 0x2028 || r == 0x2029 || r == 0x1680 || r == 0x85 || r == '\v' || r == '\f':
			b.WriteByte(' ')
		case r < ' ' || r >= 0x7F && r < 0xA0:
			b.WriteString(unknown)
		case r == 0x200B || r == 0x200C || r == 0x200D || r == 0x2060 || r == 0xFEFF:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// doubtful reports whether a glyph's text says nothing: unknown, or of the
// private use areas, whose meaning only the font's maker knows.
func doubtful(s string) bool {
	for _, r := range s {
		if r == 0xFFFD || r >= 0xE000 && r <= 0xF8FF || r >= 0xF0000 {
			return true
		}
	}
	return false
}
