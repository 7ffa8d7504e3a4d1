package numfmt

import (
	"strconv"
	"strings"
)

// A Number is a stored number in decimal: 0.d1d2d3… times ten to the power
// of point. Nothing here passes through floating point, so that what is shown
// depends only on the digits in the file.
type Number struct {
	neg    bool
	digits string // no zero at either end; "" is zero
	point  int
	stored string // as in the file
}

// mostDigits bounds the digits that writing a number in full may need; the
// numbers that a workbook can hold end at 1E308.
const mostDigits = 400

// ParseNumber reads a number as XML Schema's double has it, without its INF
// and NaN, which no workbook holds.
func ParseNumber(s string) (Number, bool) {
	n := Number{stored: s}
	rest := s
	switch {
	case strings.HasPrefix(rest, "-"):
		n.neg, rest = true, rest[1:]
	case strings.HasPrefix(rest, "+"):
		rest = rest[1:]
	}
	exp := 0
	if i := strings.IndexAny(rest, "eE"); i >= 0 {
		e, err := strconv.Atoi(rest[i+1:])
		if err != nil || e > mostDigits || e < -mostDigits {
			return Number{}, false
		}
		rest, exp = rest[:i], e
	}
	whole, part, _ := strings.Cut(rest, ".")
	if whole+part == "" || len(whole)+len(part) > mostDigits || !allDigits(whole) || !allDigits(part) {
		return Number{}, false
	}
	n.digits, n.point = whole+part, len(whole)+exp
	n = n.trim()
	inFull := max(n.point, len(n.digits))
	if n.point <= 0 {
		inFull = 1 - n.point + len(n.digits)
	}
	if inFull > mostDigits {
		return Number{}, false
	}
	return n, true
}

func allDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

func (n Number) trim() Number {
	d := strings.TrimLeft(n.digits, "0")
	n.point -= len(n.digits) - len(d)
	n.digits = strings.TrimRight(d, "0")
	if n.digits == "" {
		n.point, n.neg = 0, false
	}
	return n
}

func (n Number) zero() bool { return n.digits == "" }

func (n Number) abs() Number { n.neg = false; return n }

// shift is the number times ten to the power of k.
func (n Number) shift(k int) Number {
	if !n.zero() {
		n.point += k
	}
	return n
}

// keep rounds to the first k digits of n.digits, half away from zero; k may
// be zero or negative.
func (n Number) keep(k int) Number {
	switch {
	case k >= len(n.digits):
		return n
	case k < 0:
		n.digits, n.point = "", 0
		return n
	}
	up := n.digits[k] >= '5'
	b := []byte(n.digits[:k])
	if up {
		i := k - 1
		for ; i >= 0 && b[i] == '9'; i-- {
			b[i] = '0'
		}
		if i >= 0 {
			b[i]++
		} else {
			b = append([]byte{'1'}, b...)
			n.point++
		}
	}
	neg := n.neg
	n.digits = string(b)
	n = n.trim()
	n.neg = neg // -0.004 shown with two places is -0.00 in Excel
	return n
}

// precise is the number cut to the 15 significant digits that Excel works
// with ("Excel specifications and limits": number precision, 15 digits).
func (n Number) precise() Number { return n.keep(15) }

// round rounds to a number of decimals.
func (n Number) round(places int) Number { return n.keep(n.point + places) }

// split gives the digits before and after the point, the first "" when the
// number is less than one and the second without zeros at its end.
func (n Number) split() (whole, part string) {
	switch {
	case n.zero():
		return "", ""
	case n.point <= 0:
		return "", strings.Repeat("0", -n.point) + n.digits
	case n.point >= len(n.digits):
		return n.digits + strings.Repeat("0", n.point-len(n.digits)), ""
	}
	return n.digits[:n.point], n.digits[n.point:]
}

// Plain writes the number with every digit and no exponent. A number that
// the file writes without an exponent is given as it stands there.
func (n Number) Plain() string {
	if !strings.ContainsAny(n.stored, "eE+") {
		return n.stored
	}
	whole, part := n.split()
	if whole == "" {
		whole = "0"
	}
	if part != "" {
		whole += "." + part
	}
	if n.neg {
		return "-" + whole
	}
	return whole
}

// Cmp compares two numbers.
func (n Number) Cmp(m Number) int {
	if n.zero() && m.zero() {
		return 0
	}
	if n.neg != m.neg && !n.zero() && !m.zero() {
		if n.neg {
			return -1
		}
		return 1
	}
	sign := 1
	if n.neg || n.zero() && m.neg {
		sign = -1
	}
	switch {
	case n.zero():
		return -1 * boolSign(!m.neg)
	case m.zero():
		return boolSign(!n.neg)
	case n.point != m.point:
		return sign * boolSign(n.point > m.point)
	}
	return sign * strings.Compare(n.digits, m.digits)
}

func boolSign(b bool) int {
	if b {
		return 1
	}
	return -1
}

// general writes a number as the format General does in a wide column: at
// most eleven characters, then in powers of ten. From memory of how Excel
// behaves, checked against a table in the tests.
func (n Number) general() string {
	n = n.precise()
	sign := ""
	if n.neg {
		sign = "-"
	}
	if n.zero() {
		return "0"
	}
	const width = 11
	if n.point > width || n.point < -8 {
		return sign + n.scientific(5)
	}
	m := n.abs()
	if n.point > 0 {
		m = m.round(max(0, width-1-n.point))
	} else if n.point > -4 {
		m = m.round(width - 2)
	} else if -n.point+len(n.digits) > width-2 {
		return sign + n.scientific(5)
	}
	whole, part := m.split()
	if whole == "" {
		whole = "0"
	}
	if part != "" {
		whole += "." + part
	}
	return sign + whole
}

// scientific writes the absolute value as 1.5E+08, with at most so many
// decimals.
func (n Number) scientific(places int) string {
	n = n.abs().keep(places + 1)
	s := n.digits[:1]
	if len(n.digits) > 1 {
		s += "." + n.digits[1:]
	}
	e := n.point - 1
	sign := "+"
	if e < 0 {
		sign, e = "-", -e
	}
	exp := strconv.Itoa(e)
	if len(exp) < 2 {
		exp = "0" + exp
	}
	return s + "E" + sign + exp
}
