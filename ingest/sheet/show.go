package sheet

import (
	"strings"

	"example.org/windrow/ingest"
)

// A shown is what a cell with a number comes to.
type shown struct {
	kind    ingest.CellKind
	text    string
	raw     string
	trouble string // CodeFormat, CodeDate or ""
}

// show gives the text of a number under the format.
func (f *format) show(n number, e epoch) shown {
	plain := n.plain()
	if f.unknown {
		return shown{ingest.NumberCell, plain, plain, CodeFormat}
	}
	s, signed := f.choose(n)
	if s == nil {
		// No condition of the format fits: Excel fills the cell with #.
		return shown{ingest.NumberCell, plain, plain, CodeFormat}
	}
	if s.date {
		return s.showTime(n, e, plain)
	}
	out := shown{ingest.NumberCell, "", plain, ""}
	m := n.abs()
	switch {
	case s.general:
		out.text = s.fill(m.general())
	case hasKind(s.pieces, textHere):
		out.text = s.fill(m.general())
	default:
		out.text = s.digits(m.precise().shift(s.shift))
	}
	// Spaces at the ends only line the numbers up in their column.
	out.text = strings.TrimSpace(out.text)
	if signed && n.neg {
		out.text = "-" + out.text
	}
	return out
}

// choose finds the section for a number, and says whether a minus sign has
// to be put before it: a section that is for negative numbers only carries
// its own sign.
func (f *format) choose(n number) (*section, bool) {
	ss := f.sections
	if len(ss) == 0 {
		return general.choose(n)
	}
	conditions := false
	for i := range ss {
		conditions = conditions || ss[i].when != nil
	}
	if !conditions {
		switch {
		case len(ss) == 1:
			return &ss[0], true
		case n.neg && !n.zero():
			return &ss[1], false
		case n.zero() && len(ss) > 2:
			return &ss[2], false
		}
		return &ss[0], false
	}
	for i := range ss {
		w := ss[i].when
		if w == nil {
			// The unconditional section is for all that is left, except
			// that the second of three is for the negative ones.
			if i == 1 && len(ss) == 3 && !n.neg {
				continue
			}
			return &ss[i], true
		}
		if w.holds(n) {
			onlyNegative := (w.op == "<" || w.op == "<=") && (w.to.neg || w.to.zero() && w.op == "<")
			return &ss[i], !onlyNegative
		}
	}
	return nil, false
}

func (c *condition) holds(n number) bool {
	d := n.cmp(c.to)
	switch c.op {
	case "<":
		return d < 0
	case "<=":
		return d <= 0
	case ">":
		return d > 0
	case ">=":
		return d >= 0
	case "<>":
		return d != 0
	}
	return d == 0
}

// fill puts a text in the place of General or @.
func (s *section) fill(text string) string {
	var out strings.Builder
	for _, p := range s.pieces {
		switch p.kind {
		case wholeNum, textHere:
			out.WriteString(text)
		default:
			out.WriteString(p.text)
		}
	}
	return out.String()
}

// showText gives the text of a cell that holds text.
func (f *format) showText(s string) string {
	if f.unknown || f.textual == nil {
		return s
	}
	return f.textual.fill(s)
}

// digits fills the placeholders with a number that is not negative.
func (s *section) digits(n number) string {
	exp := 0
	if s.exponent > 0 {
		n, exp = s.mantissa(n)
	}
	n = n.round(s.part)
	whole, part := n.split()

	// Placeholders before the point are filled from the right; digits that
	// find none go to the leftmost. Zeros are kept only where the format
	// has a 0, and from there to the point.
	cells := make([]string, 0, s.whole)
	for _, p := range s.pieces {
		if p.kind == digit {
			cells = append(cells, p.text)
		}
	}
	total := max(len(whole), len(cells))
	at := func(k int) string { // text of the k-th digit from the right, from 0
		if k < len(whole) {
			return whole[len(whole)-1-k : len(whole)-k]
		}
		// Beyond the number: is there a 0 here or further left?
		for i := 0; i <= len(cells)-1-k; i++ {
			if cells[i] == "0" {
				return "0"
			}
		}
		if cells[len(cells)-1-k] == "?" {
			return " "
		}
		return ""
	}
	emit := func(out *strings.Builder, k int) {
		t := at(k)
		out.WriteString(t)
		if s.group && k > 0 && k%3 == 0 && t != "" && t != " " {
			out.WriteByte(',')
		}
	}
	var out strings.Builder
	next, place := total-1, 0
	first := true
	for _, p := range s.pieces {
		switch p.kind {
		case digit:
			last := next
			if first {
				first = false
				last = len(cells) - 1
			}
			for ; next >= last && next >= 0; next-- {
				emit(&out, next)
			}
		case point:
			if first { // ".00": no placeholder before the point
				out.WriteString(whole)
				first = false
			}
			out.WriteByte('.')
		case decimal:
			switch {
			case place < len(part):
				out.WriteByte(part[place])
			case p.text == "0" || zeroAfter(s.pieces, place):
				out.WriteByte('0')
			case p.text == "?":
				out.WriteByte(' ')
			}
			place++
		case exponent:
			out.WriteString(s.exp(exp))
		default:
			out.WriteString(p.text)
		}
	}
	return out.String()
}

// zeroAfter reports whether a placeholder 0 stands at or after a decimal.
func zeroAfter(ps []piece, place int) bool {
	k := 0
	for _, p := range ps {
		if p.kind == decimal {
			if k >= place && p.text == "0" {
				return true
			}
			k++
		}
	}
	return false
}

// mantissa scales a number for a format with an exponent. With more than one
// placeholder before the point the exponent is a multiple of their count.
func (s *section) mantissa(n number) (number, int) {
	if n.zero() {
		return n, 0
	}
	step := max(1, s.whole)
	exponentOf := func(n number) int {
		e := n.point - 1
		if step == 1 {
			return e
		}
		m := e % step
		if m < 0 {
			m += step
		}
		return e - m
	}
	e := exponentOf(n)
	if r := n.shift(-e).round(s.part); r.point > step {
		e += step // 9.999E+3 rounded up to 10.00E+3
	}
	return n.shift(-e), e
}

func (s *section) exp(e int) string {
	sign := ""
	if e < 0 {
		sign, e = "-", -e
	} else if s.expPlus {
		sign = "+"
	}
	t := ""
	for ; e > 0; e /= 10 {
		t = string(rune('0'+e%10)) + t
	}
	for len(t) < s.exponent {
		t = "0" + t
	}
	return "E" + sign + t
}
