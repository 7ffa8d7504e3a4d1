package pdf

import (
	"bytes"
	"math"
)

// An operand is one operand of a content stream (7.8.2).
type operand struct {
	kind  operandKind
	num   float64
	bytes []byte // of a string or name
	list  []operand
}

type operandKind uint8

const (
	null operandKind = iota
	number
	text
	name
	list
	dictionary // list holds keys and values in turn
)

// A lexer cuts a content stream into operators and their operands.
//
// The object layer has an interpreter too, but it takes the data of inline
// images for operators, and gives up at what viewers shrug off.
type lexer struct {
	b    []byte
	at   int
	args []operand // of the operator at hand; reused
	most int       // operands that are kept; more push out the first
	cut  bool      // a string or array was still open at the end
}

// mostOperands bounds the operands of one operator (Annex C allows 32 in a
// DeviceN colour; more are dropped from the front).
const mostOperands = 64

// next is the next operator, with its operands in l.args; "" at the end.
func (l *lexer) next() string {
	l.args = l.args[:0]
	for {
		l.space()
		if l.at >= len(l.b) {
			return ""
		}
		if c := l.b[l.at]; regular(c) && !numeral(c) {
			word := l.word()
			switch string(word) {
			case "true", "false", "null":
				l.push(operand{})
				continue
			}
			return string(word)
		}
		if o, ok := l.operand(0); ok {
			l.push(o)
		}
	}
}

func (l *lexer) push(o operand) {
	if len(l.args) >= l.most {
		copy(l.args, l.args[1:])
		l.args = l.args[:l.most-1]
	}
	l.args = append(l.args, o)
}

func (l *lexer) space() {
	for l.at < len(l.b) {
		switch c := l.b[l.at]; {
		case blank(c):
			l.at++
		case c == '%':
			for l.at < len(l.b) && l.b[l.at] != '\n' && l.b[l.at] != '\r' {
				l.at++
			}
		default:
			return
		}
	}
}

func (l *lexer) word() []byte {
	from := l.at
	for l.at < len(l.b) && regular(l.b[l.at]) {
		l.at++
	}
	return l.b[from:l.at]
}

// deepestOperand bounds arrays within arrays.
const deepestOperand = 32

// operand reads one operand; false if what stands there is none, and then
// it is skipped.
func (l *lexer) operand(depth int) (operand, bool) {
	c := l.b[l.at]
	switch {
	case c == '(':
		return operand{kind: text, bytes: l.literal()}, true
	case c == '/':
		l.at++
		return operand{kind: name, bytes: unescapeName(l.word())}, true
	case c == '<' && l.at+1 < len(l.b) && l.b[l.at+1] == '<':
		l.at += 2
		return operand{kind: dictionary, list: l.until('>', depth)}, true
	case c == '<':
		return operand{kind: text, bytes: l.hex()}, true
	case c == '[':
		l.at++
		return operand{kind: list, list: l.until(']', depth)}, true
	case regular(c):
		w := l.word()
		if n, ok := parseNumber(w); ok {
			return operand{kind: number, num: n}, true
		}
		return operand{}, true
	}
	l.at++
	return operand{}, false
}

// until reads operands up to the end of an array or dictionary.
func (l *lexer) until(end byte, depth int) []operand {
	var all []operand
	for {
		l.space()
		if l.at >= len(l.b) {
			l.cut = true
			return all
		}
		if l.b[l.at] == end {
			l.at++
			if end == '>' && l.at < len(l.b) && l.b[l.at] == '>' {
				l.at++
			}
			return all
		}
		if depth >= deepestOperand {
			l.at++
			continue
		}
		if o, ok := l.operand(depth + 1); ok {
			all = append(all, o)
		}
	}
}

// literal reads a string in parentheses (7.3.4.2).
func (l *lexer) literal() []byte {
	l.at++
	open, plain := 1, l.at
	for i := plain; i < len(l.b); i++ { // most strings have nothing to unescape
		if c := l.b[i]; c == ')' {
			l.at = i + 1
			return l.b[plain:i]
		} else if c == '\\' || c == '(' || c == '\r' {
			break
		}
	}
	var s []byte
	for l.at < len(l.b) {
		c := l.b[l.at]
		l.at++
		switch c {
		case '(':
			open++
		case ')':
			if open--; open == 0 {
				return s
			}
		case '\r': // any line end counts as a line feed
			if l.at < len(l.b) && l.b[l.at] == '\n' {
				l.at++
			}
			c = '\n'
		case '\\':
			if l.at >= len(l.b) {
				continue
			}
			c = l.b[l.at]
			l.at++
			switch c {
			case 'n':
				c = '\n'
			case 'r':
				c = '\r'
			case 't':
				c = '\t'
			case 'b':
				c = '\b'
			case 'f':
				c = '\f'
			case '\n':
				continue
			case '\r':
				if l.at < len(l.b) && l.b[l.at] == '\n' {
					l.at++
				}
				continue
			case '0', '1', '2', '3', '4', '5', '6', '7':
				v := int(c - '0')
				for k := 0; k < 2 && l.at < len(l.b) && l.b[l.at] >= '0' && l.b[l.at] <= '7'; k++ {
					v = v<<3 | int(l.b[l.at]-'0')
					l.at++
				}
				c = byte(v)
			}
		}
		s = append(s, c)
	}
	l.cut = true
	return s
}

// hex reads a string of hexadecimal digits (7.3.4.3).
func (l *lexer) hex() []byte {
	l.at++
	end := bytes.IndexByte(l.b[l.at:], '>')
	if end < 0 {
		l.cut = true
		end = len(l.b) - l.at
	}
	s := unhex(l.b[l.at : l.at+end])
	l.at = min(len(l.b), l.at+end+1)
	return s
}

// unhex decodes hexadecimal digits; an odd last one counts as followed by 0.
func unhex(b []byte) []byte {
	s := make([]byte, 0, len(b)/2)
	high, odd := byte(0), false
	for _, c := range b {
		d, ok := hexDigit(c)
		if !ok {
			continue
		}
		if odd {
			s = append(s, high<<4|d)
		}
		high, odd = d, !odd
	}
	if odd {
		s = append(s, high<<4)
	}
	return s
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	}
	return 0, false
}

// unescapeName decodes #xx in a name (7.3.5).
func unescapeName(b []byte) []byte {
	if bytes.IndexByte(b, '#') < 0 {
		return b
	}
	var s []byte
	for i := 0; i < len(b); i++ {
		if b[i] == '#' && i+2 < len(b) {
			h, ok1 := hexDigit(b[i+1])
			d, ok2 := hexDigit(b[i+2])
			if ok1 && ok2 {
				s = append(s, h<<4|d)
				i += 2
				continue
			}
		}
		s = append(s, b[i])
	}
	return s
}

// parseNumber reads a number (7.3.3). Writers also print "--5" and "5-3";
// like other readers it takes the first as -5 and ends at the second's sign.
func parseNumber(b []byte) (float64, bool) {
	i, sign := 0, 1.0
	for i < len(b) && (b[i] == '+' || b[i] == '-') {
		if b[i] == '-' {
			sign = -1
		}
		i++
	}
	v, scale, seen, dot := 0.0, 1.0, false, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			seen = true
			if dot {
				scale /= 10
				v += float64(c-'0') * scale
			} else {
				v = v*10 + float64(c-'0')
			}
		case c == '.' && !dot:
			dot = true
		case c == '-' && seen:
			return sign * v, true
		default:
			return 0, false
		}
	}
	if !seen && !dot || math.IsInf(v, 0) {
		return 0, false
	}
	return sign * v, true
}

// skipInlineImage moves behind the data of an inline image (8.9.7); l.args
// holds nothing of it. The data may hold any bytes, even "EI".
func (l *lexer) skipInlineImage() {
	var params []operand
	for {
		l.space()
		if l.at >= len(l.b) {
			return
		}
		if l.b[l.at] == 'I' && bytes.HasPrefix(l.b[l.at:], []byte("ID")) && (l.at+2 == len(l.b) || !regular(l.b[l.at+2])) {
			l.at += 2
			break
		}
		if o, ok := l.operand(0); ok {
			params = append(params, o)
		}
	}
	if l.at < len(l.b) && blank(l.b[l.at]) {
		l.at++
	}
	if n, ok := inlineLength(params); ok && l.at+n <= len(l.b) && l.endsAt(l.at+n) {
		l.at += n
		l.space()
		l.at += len("EI")
		return
	}
	for from := l.at; ; {
		i := bytes.Index(l.b[from:], []byte("EI"))
		if i < 0 {
			l.at, l.cut = len(l.b), true
			return
		}
		if at := from + i; at == l.at || blank(l.b[at-1]) {
			if l.endsAt(at) {
				l.at = at + len("EI")
				return
			}
		}
		from += i + 1
	}
}

// endsAt reports whether, but for blanks, "EI" stands at a place and what
// follows looks like a content stream and not like data.
func (l *lexer) endsAt(at int) bool {
	for at < len(l.b) && blank(l.b[at]) {
		at++
	}
	if !bytes.HasPrefix(l.b[at:], []byte("EI")) {
		return false
	}
	rest := l.b[at+2:]
	if len(rest) == 0 {
		return true
	}
	if !blank(rest[0]) {
		return false
	}
	for _, c := range rest[:min(len(rest), 16)] {
		if c >= 0x7f || c < ' ' && !blank(c) || c == 0 {
			return false
		}
	}
	return true
}

// inlineLength is the length of an inline image's data where it isn't
// packed and so follows from its size.
func inlineLength(params []operand) (int, bool) {
	width, height, bits, parts := 0.0, 0.0, 0.0, 0.0
	for i := 0; i+1 < len(params); i += 2 {
		v := params[i+1]
		switch string(params[i].bytes) {
		case "F", "Filter":
			return 0, false
		case "W", "Width":
			width = v.num
		case "H", "Height":
			height = v.num
		case "BPC", "BitsPerComponent":
			bits = v.num
		case "IM", "ImageMask":
			bits, parts = 1, 1
		case "CS", "ColorSpace":
			switch string(v.bytes) {
			case "G", "DeviceGray":
				parts = 1
			case "RGB", "DeviceRGB":
				parts = 3
			case "CMYK", "DeviceCMYK":
				parts = 4
			}
		}
	}
	n := math.Ceil(width*bits*parts/8) * height
	return int(n), n > 0 && n < 1<<28
}

func blank(c byte) bool {
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == '\f' || c == 0
}

func regular(c byte) bool {
	switch c {
	case '(', ')', '<', '>', '[', ']', '{', '}', '/', '%':
		return false
	}
	return !blank(c)
}

func numeral(c byte) bool { return c >= '0' && c <= '9' || c == '+' || c == '-' || c == '.' }
