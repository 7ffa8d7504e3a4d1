package numfmt

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Format is a number format code, taken apart once for all the cells that
// use it. The language of codes is ECMA-376 part 1, 18.8.31.
type Format struct {
	code     string
	sections []section // of numbers: one to three
	textual  *section  // for text; nil shows text as it is
	unknown  bool      // can't be shown
}

// A section is the part of a code between semicolons.
type section struct {
	pieces  []piece
	when    *condition
	date    bool // shows its number as a date or time
	elapsed bool // shows a length of time: [h], [m] or [s]
	general bool

	// Of a section with digits:
	whole, part int // placeholders before and after the point
	point       bool
	group       bool // thousands separated by commas
	shift       int  // powers of ten: two a percent sign, minus three a scaling comma
	exponent    int  // placeholders of the exponent, 0 without one
	expPlus     bool // show a plus sign in the exponent
}

type condition struct {
	op string
	to Number
}

// A pieceKind says what a piece of a section shows.
type pieceKind int

const (
	literal  pieceKind = iota
	digit              // one placeholder before the point: 0 # ?
	decimal            // one placeholder after the point
	point              // the decimal point
	exponent           // E+00 as a whole
	wholeNum           // General
	textHere           // @
	timePart           // a run of one letter: yyyy, mm, hh, or [h], .00, AM/PM
)

type piece struct {
	kind pieceKind
	text string // the literal, the placeholder, or the run of letters
}

// General is the format of a cell that has none.
var General = Parse("General")

// Parse takes a code apart. A code that it doesn't understand is marked
// unknown as a whole: half a format would show half a number.
func Parse(code string) *Format {
	f := &Format{code: code}
	if code == "" {
		code = "General"
	}
	parts, ok := splitSections(code)
	if !ok || len(parts) > 4 {
		f.unknown = true
		return f
	}
	for i, p := range parts {
		s, ok := parseSection(p)
		if !ok {
			f.unknown = true
			return f
		}
		isText := i == 3
		for _, x := range s.pieces {
			// A last section with @ is that of text, wherever it stands.
			isText = isText || x.kind == textHere && i == len(parts)-1 && i > 0
		}
		if isText {
			f.textual = &s
			continue
		}
		f.sections = append(f.sections, s)
	}
	if len(f.sections) == 1 && f.textual == nil && hasKind(f.sections[0].pieces, textHere) {
		f.textual = &f.sections[0]
	}
	return f
}

func hasKind(ps []piece, k pieceKind) bool {
	for _, p := range ps {
		if p.kind == k {
			return true
		}
	}
	return false
}

// splitSections cuts at the semicolons that are not quoted.
func splitSections(code string) ([]string, bool) {
	var out []string
	start, quoted := 0, false
	for i := 0; i < len(code); i++ {
		switch c := code[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\\' || c == '_' || c == '*':
			i++
		case c == ';':
			out = append(out, code[start:i])
			start = i + 1
		}
	}
	return append(out, code[start:]), !quoted
}

func parseSection(s string) (section, bool) {
	var out section
	var pieces []piece
	lit := func(t string) { pieces = append(pieces, piece{literal, t}) }
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == '"':
			end := strings.IndexByte(s[1:], '"')
			if end < 0 {
				return out, false
			}
			lit(s[1 : 1+end])
			n = end + 2
		case r == '\\' || r == '_' || r == '*':
			_, m := utf8.DecodeRuneInString(s[n:])
			if m == 0 {
				return out, false
			}
			switch r {
			case '\\':
				lit(s[n : n+m])
			case '_':
				lit(" ") // a space as wide as the character
			}
			// '*' fills the cell with the character: no text of its own.
			n += m
		case r == '[':
			end := strings.IndexByte(s, ']')
			if end < 0 || !out.bracket(s[1:end], &pieces) {
				return out, false
			}
			n = end + 1
		case len(s) >= 7 && strings.EqualFold(s[:7], "general"):
			pieces = append(pieces, piece{wholeNum, ""})
			out.general = true
			n = 7
		case r == '0' || r == '#' || r == '?':
			pieces = append(pieces, piece{digit, s[:1]})
		case r == '.':
			pieces = append(pieces, piece{point, "."})
		case r == ',':
			pieces = append(pieces, piece{literal, ","})
			pieces[len(pieces)-1].kind = comma
		case r == '%':
			lit("%")
			out.shift += 2
		case r == '@':
			pieces = append(pieces, piece{textHere, ""})
		case (r == 'E' || r == 'e') && len(s) > 2 && (s[1] == '+' || s[1] == '-') && s[2] == '0':
			m := 2
			for m < len(s) && s[m] == '0' {
				m++
			}
			if out.exponent > 0 {
				return out, false
			}
			out.exponent, out.expPlus = m-2, s[1] == '+'
			pieces = append(pieces, piece{exponent, ""})
			n = m
		case len(s) >= 5 && strings.EqualFold(s[:5], "AM/PM"), len(s) >= 3 && strings.EqualFold(s[:3], "A/P"):
			n = 3
			if s[1] != '/' {
				n = 5
			}
			pieces = append(pieces, piece{timePart, strings.ToUpper(s[:n])})
			out.date = true
		case strings.ContainsRune("yYmMdDhHsS", r):
			m := 1
			for m < len(s) && lower(s[m]) == lower(s[0]) {
				m++
			}
			pieces = append(pieces, piece{timePart, strings.ToLower(s[:m])})
			out.date = true
			n = m
		case unicode.IsLetter(r) && r < utf8.RuneSelf:
			// Excel refuses other bare letters; e, g and b are calendars.
			return out, false
		default:
			lit(s[:n])
		}
		s = s[n:]
	}
	return out, out.settle(pieces)
}

// comma is a comma before settle has found out what it means.
const comma pieceKind = -1

func lower(c byte) byte { return c | 0x20 }

// bracket reads what stands in square brackets: a colour, a condition, a
// currency with its locale, or a length of time.
func (s *section) bracket(in string, pieces *[]piece) bool {
	low := strings.ToLower(in)
	switch {
	case in == "":
		return false
	case strings.Trim(low, "h") == "" || strings.Trim(low, "m") == "" || strings.Trim(low, "s") == "":
		*pieces = append(*pieces, piece{timePart, "[" + low + "]"})
		s.date, s.elapsed = true, true
		return true
	case in[0] == '$':
		// [$€-407]: the currency sign is shown; a locale without a sign
		// names the language of months, and only English is shown here.
		sign, locale, _ := strings.Cut(in[1:], "-")
		if sign != "" {
			*pieces = append(*pieces, piece{literal, sign})
			return true
		}
		return english(locale)
	case in[0] == '<' || in[0] == '>' || in[0] == '=':
		op := in[:1]
		if len(in) > 1 && (in[1] == '=' || in[1] == '>') {
			op = in[:2]
		}
		n, ok := ParseNumber(strings.TrimSpace(in[len(op):]))
		s.when = &condition{op, n}
		return ok
	}
	switch {
	case low == "black", low == "blue", low == "cyan", low == "green", low == "magenta", low == "red", low == "white", low == "yellow",
		strings.HasPrefix(low, "color"):
		return true
	}
	return false
}

// english reports whether a locale of a format writes dates as English does:
// no locale, or a language identifier whose primary language is English
// (0x09, [MS-LCID]), or one of the marks F400 and F800 for the system's own
// long date and time, which a code without them describes.
func english(locale string) bool {
	locale = strings.ToUpper(strings.TrimLeft(locale, "0"))
	if len(locale) > 4 {
		return false
	}
	switch {
	case locale == "" || locale == "F400" || locale == "F800":
		return true
	case strings.HasSuffix(locale, "09"):
		return true
	}
	return strings.HasPrefix(locale, "EN-")
}

// settle decides what commas and points mean, counts placeholders, and
// refuses combinations that nothing can be shown with.
func (s *section) settle(pieces []piece) bool {
	digits, times, firstDigit, lastWhole := 0, 0, -1, -1
	pointAt := -1
	for i, p := range pieces {
		switch p.kind {
		case digit:
			digits++
			if firstDigit < 0 {
				firstDigit = i
			}
			if pointAt < 0 && !s.afterExponent(pieces, i) {
				lastWhole = i
			}
		case point:
			if pointAt < 0 {
				pointAt = i
			}
		case timePart:
			times++
		case literal:
			// A bare slash between digits is a fraction.
			if p.text == "/" && digits > 0 && times == 0 {
				return false
			}
		}
	}
	if times > 0 {
		return s.settleTime(pieces)
	}
	if s.general && (digits > 0 || hasKind(pieces, exponent)) || hasKind(pieces, exponent) && digits == 0 {
		return false
	}
	seenPoint := false
	for i, p := range pieces {
		switch p.kind {
		case comma:
			switch {
			case digits == 0 || i < firstDigit:
				p.kind = literal
			case i < lastWhole:
				s.group = true
				continue
			case followsDigits(pieces, i):
				s.shift -= 3
				continue
			default:
				p.kind = literal
			}
		case point:
			if seenPoint || digits == 0 && !s.general {
				p.kind = literal
			} else if s.general {
				return false
			}
			s.point = s.point || p.kind == point
			seenPoint = true
		case digit:
			if s.afterExponent(pieces, i) {
				return false
			}
			if seenPoint {
				p.kind = decimal
				s.part++
			} else {
				s.whole++
			}
		}
		s.pieces = append(s.pieces, p)
	}
	return true
}

func (s *section) afterExponent(pieces []piece, i int) bool { return hasKind(pieces[:i], exponent) }

// followsDigits reports whether only commas stand between a comma and the
// placeholder before it: then it scales by a thousand.
func followsDigits(pieces []piece, i int) bool {
	for i--; i >= 0; i-- {
		switch pieces[i].kind {
		case comma:
		case digit:
			return true
		default:
			return false
		}
	}
	return false
}

// settleTime prepares a section that shows a date or time: m is a minute
// after an hour or before a second, and .00 after seconds is their fraction.
func (s *section) settleTime(pieces []piece) bool {
	if s.general || hasKind(pieces, exponent) || hasKind(pieces, textHere) || s.shift != 0 {
		return false
	}
	for i := 0; i < len(pieces); i++ {
		p := pieces[i]
		switch p.kind {
		case point:
			n := 0
			for i+1+n < len(pieces) && pieces[i+1+n].kind == digit && pieces[i+1+n].text == "0" {
				n++
			}
			if n == 0 {
				p = piece{literal, "."}
				break
			}
			last := lastTime(s.pieces)
			if n > 3 || !strings.HasPrefix(strings.Trim(last, "[]"), "s") {
				return false
			}
			p = piece{timePart, "." + strings.Repeat("0", n)}
			i += n
		case digit:
			return false
		case comma:
			p.kind = literal
		}
		s.pieces = append(s.pieces, p)
	}
	for i, p := range s.pieces {
		if p.kind != timePart || p.text != "m" && p.text != "mm" {
			continue
		}
		before, after := lastTime(s.pieces[:i]), firstTime(s.pieces[i+1:])
		if strings.HasPrefix(strings.Trim(before, "[]"), "h") || strings.HasPrefix(after, "s") {
			s.pieces[i].text = strings.Repeat("n", len(p.text))
		}
	}
	for _, p := range s.pieces {
		if p.kind == timePart && !knownTime[p.text] {
			return false
		}
	}
	return true
}

// knownTime lists the runs that can be shown; n and nn are minutes.
var knownTime = map[string]bool{
	"yy": true, "y": true, "yyyy": true, "yyy": true, "m": true, "mm": true, "mmm": true, "mmmm": true, "mmmmm": true,
	"d": true, "dd": true, "ddd": true, "dddd": true, "h": true, "hh": true, "n": true, "nn": true, "s": true, "ss": true,
	".0": true, ".00": true, ".000": true, "AM/PM": true, "A/P": true,
	"[h]": true, "[hh]": true, "[m]": true, "[mm]": true, "[s]": true, "[ss]": true,
}

func lastTime(ps []piece) string {
	for i := len(ps) - 1; i >= 0; i-- {
		if ps[i].kind == timePart && ps[i].text != "AM/PM" && ps[i].text != "A/P" {
			return ps[i].text
		}
	}
	return ""
}

func firstTime(ps []piece) string {
	for _, p := range ps {
		if p.kind == timePart {
			return p.text
		}
	}
	return ""
}

// Unknown is a format that is named by a label but not there: its numbers are
// shown in full, and said to be so.
func Unknown(label string) *Format { return &Format{code: label, unknown: true} }

// Code is the format code as the workbook has it.
func (f *Format) Code() string { return f.code }

// BuiltIn is the code of a format that a workbook refers to by number alone.
func BuiltIn(id int) (string, bool) {
	code, ok := builtIn[id]
	return code, ok
}
