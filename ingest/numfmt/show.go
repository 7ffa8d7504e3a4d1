package numfmt

import "strings"

// A Shown is what a cell with a number comes to.
type Shown struct {
	Text    string  // as a person sees it
	Raw     string  // a date as YYYY-MM-DD, with THH:MM:SS where there is a time of day; otherwise the number in full
	Date    bool    // shown as a date, a time or a length of time
	Trouble Trouble // why Text is not what a person sees
}

// A Trouble says why a number could not be shown under its format.
type Trouble int

// The troubles. With NotUnderstood the text is the number in full, with
// NoDate it is empty.
const (
	NoTrouble     Trouble = iota
	NotUnderstood         // the format is one that can't be shown
	NoDate                // the format shows a date, and the number is none
)

// Show gives the text of a number under the format.
func (f *Format) Show(n Number, e Epoch) Shown {
	plain := n.Plain()
	if f.unknown {
		return Shown{Text: plain, Raw: plain, Trouble: NotUnderstood}
	}
	s, signed := f.choose(n)
	if s == nil {
		// No condition of the format fits: Excel fills the cell with #.
		return Shown{Text: plain, Raw: plain, Trouble: NotUnderstood}
	}
	if s.date {
		return s.showTime(n, e, plain)
	}
	out := Shown{Raw: plain}
	m := n.abs()
	switch {
	case s.general:
		out.Text = s.fill(m.general())
	case hasKind(s.pieces, textHere):
		out.Text = s.fill(m.general())
	default:
		out.Text = s.digits(m.precise().shift(s.shift))
	}
	// Spaces at the ends only line the numbers up in their column.
	out.Text = strings.TrimSpace(out.Text)
	if signed && n.neg {
		out.Text = "-" + out.Text
	}
	return out
}

// choose finds the section for a number, and says whether a minus sign has
// to be put before it: a section that is for negative numbers only carries
// its own sign.
func (f *Format) choose(n Number) (*section, bool) {
	ss := f.sections
	if len(ss) == 0 {
		return General.choose(n)
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

func (c *condition) holds(n Number) bool {
	d := n.Cmp(c.to)
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

// ShowText gives the text of a cell that holds text.
func (f *Format) ShowText(s string) string {
	if f.unknown || f.textual == nil {
		return s
	}
	return f.textual.fill(s)
}

// digits fills the placeholders with a number that is not negative.
func (s *section) digits(n Number) string {
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
func (s *section) mantissa(n Number) (Number, int) {
	if n.zero() {
		return n, 0
	}
	step := max(1, s.whole)
	exponentOf := func(n Number) int {
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
