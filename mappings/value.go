package mappings

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"time"
)

// A number is a value as a report prints it, taken apart.
type number struct {
	Digits  string // plain decimal, "" when missing
	Censor  string // "<" or ">"
	Missing string
	Mark    string
}

// parseNumber reads a printed number by the style's own grammar: an optional
// < or >, an optional minus, digits with the declared group sign exactly
// every three, an optional declared decimal sign with digits, and optional
// declared footnote marks, each at most once: ** is another note than *. Nothing else is a number: no exponents, no
// hexadecimal, no "nan", no undeclared separators.
func (st Style) parseNumber(text string) (number, error) {
	s := normalise(text)
	for _, w := range st.Missing {
		if s == normalise(w) {
			return number{Missing: s}, nil
		}
	}
	var n number
	for used := map[string]bool{}; ; {
		m := ""
		for _, x := range st.Marks {
			if len(x) > len(m) && len(s) > len(x) && strings.HasSuffix(s, x) {
				m = x
			}
		}
		if m == "" {
			break
		}
		if used[m] {
			return number{}, fmt.Errorf("the mark %s stands there more than once, and %s is not declared as a mark", m, m+m)
		}
		used[m] = true
		s, n.Mark = strings.TrimSpace(strings.TrimSuffix(s, m)), m+n.Mark
	}
	if s != "" && (s[0] == '<' || s[0] == '>') {
		n.Censor, s = s[:1], strings.TrimSpace(s[1:])
	}
	neg := strings.HasPrefix(s, "-")
	s = strings.TrimPrefix(s, "-")
	dec := st.Decimal
	if dec == "" {
		dec = "."
	}
	whole, frac, hasFrac := strings.Cut(s, dec)
	if hasFrac && frac == "" {
		return number{}, fmt.Errorf("a decimal sign without digits after it")
	}
	if st.Thousands != "" && strings.Contains(whole, st.Thousands) {
		groups := strings.Split(whole, st.Thousands)
		for i, g := range groups {
			if i == 0 && (len(g) < 1 || len(g) > 3) || i > 0 && len(g) != 3 {
				return number{}, fmt.Errorf("digits are not grouped in threes")
			}
		}
		whole = strings.Join(groups, "")
	}
	if whole == "" && hasFrac {
		whole = "0" // .5 is 0.5
	}
	if whole == "" || !allDigits(whole) || hasFrac && !allDigits(frac) {
		return number{}, fmt.Errorf("not a number")
	}
	if len(whole)+len(frac) > 18 {
		return number{}, fmt.Errorf("more digits than any laboratory reports")
	}
	for len(whole) > 1 && whole[0] == '0' {
		whole = whole[1:]
	}
	n.Digits = whole
	if hasFrac {
		n.Digits += "." + frac
	}
	if neg {
		n.Digits = "-" + n.Digits
	}
	return n, nil
}

func allDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// example is a number in this style, for messages.
func (st Style) example() string {
	if st.Decimal == "," {
		return "6,4"
	}
	return "6.4"
}

var monthNames = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}
var romanMonths = []string{"I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"}

// dateTokens are the parts of a date pattern, longest first.
var dateTokens = []string{"YYYY", "MMMM", "MMM", "RM", "YY", "MM", "DD", "M", "D"}

// serials are the date patterns for a spreadsheet's day numbers, with the day
// before day 1. Day 60 of the 1900 system, a 29 February that never was, lies
// before any report.
var serials = map[string]time.Time{
	"day serial 1900": time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC),
	"day serial 1904": time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC),
}

// checkDatePattern says what is wrong with a date pattern, or nil.
func checkDatePattern(p string) error {
	if _, ok := serials[p]; ok {
		return nil
	}
	var d, m, y int
	for i := 0; i < len(p); {
		tok := dateToken(p[i:])
		switch {
		case tok == "":
			i++
			continue
		case tok[0] == 'D':
			d++
		case tok[0] == 'M' || tok == "RM":
			m++
		case tok[0] == 'Y':
			y++
		}
		i += len(tok)
	}
	if d != 1 || m != 1 || y != 1 {
		return fmt.Errorf("a date pattern has one day (D or DD), one month (M, MM, MMM, MMMM, or RM for Roman) and one year (YY or YYYY)")
	}
	return nil
}

func dateToken(s string) string {
	for _, t := range dateTokens {
		if strings.HasPrefix(s, t) {
			return t
		}
	}
	return ""
}

// parseDate reads text by one pattern and gives YYYY-MM-DD. Two-digit years
// are of this century: soil is not tested for the last one.
func parseDate(pattern, text string) (string, bool) {
	s := normalise(text)
	if day0, ok := serials[pattern]; ok {
		if len(s) != 5 || !allDigits(s) {
			return "", false
		}
		n, _ := strconv.Atoi(s)
		return day0.AddDate(0, 0, n).Format("2006-01-02"), true
	}
	var d, m, y int
	for i := 0; i < len(pattern); {
		tok := dateToken(pattern[i:])
		if tok == "" {
			c := pattern[i : i+1]
			if !strings.HasPrefix(s, c) {
				return "", false
			}
			s, i = s[1:], i+1
			continue
		}
		i += len(tok)
		switch tok {
		case "MMMM", "MMM":
			ok := false
			for j, name := range monthNames {
				n := len(name)
				if tok == "MMM" {
					n = 3
				}
				if len(s) >= n && strings.EqualFold(s[:n], name[:n]) {
					s, m, ok = s[n:], j+1, true
					break
				}
			}
			if !ok {
				return "", false
			}
		case "RM":
			n := 0
			for n < len(s) && strings.IndexByte("IVX", s[n]) >= 0 {
				n++
			}
			for j, r := range romanMonths {
				if s[:n] == r {
					m = j + 1
				}
			}
			s = s[n:]
		default:
			lo, hi := len(tok), len(tok)
			if len(tok) == 1 {
				lo, hi = 1, 2
			}
			n := 0
			for n < len(s) && n < hi && s[n] >= '0' && s[n] <= '9' {
				n++
			}
			if n < lo {
				return "", false
			}
			v, _ := strconv.Atoi(s[:n])
			s = s[n:]
			switch tok[0] {
			case 'D':
				d = v
			case 'M':
				m = v
			case 'Y':
				y = v
				if tok == "YY" {
					y += 2000
				}
			}
		}
	}
	if s != "" || m < 1 || m > 12 || d < 1 || d > daysIn(y, m) || y < 1950 || y > 2199 {
		return "", false
	}
	return fmt.Sprintf("%04d-%02d-%02d", y, m, d), true
}

func daysIn(y, m int) int {
	switch m {
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// parseDepth reads a depth such as "6 2/3 in.", "0-6 in", "6 inches",
// "0 - 15 cm" or "6-24 in", and gives where the layer begins and ends, in the
// unit found ("in" or "cm"). unit is used where the text prints none.
func parseDepth(text, unit string) (top, bottom *big.Rat, found string, err error) {
	s, unit := lengthUnit(text, unit)
	if unit == "" {
		return nil, nil, "", fmt.Errorf("a depth without a unit")
	}
	top = new(big.Rat)
	for _, sep := range []string{"-", "to"} {
		if a, b, ok := strings.Cut(s, sep); ok {
			if top, err = lengthOf(a); err != nil {
				return nil, nil, "", err
			}
			s = b
			break
		}
	}
	if bottom, err = lengthOf(s); err != nil {
		return nil, nil, "", err
	}
	switch bottom.Cmp(top) {
	case 1:
		return top, bottom, unit, nil
	case 0:
		return nil, nil, "", fmt.Errorf("a depth of nothing")
	}
	return nil, nil, "", fmt.Errorf("a layer that ends above where it begins")
}

// lengthUnit takes the unit off the end of a depth: "in", "cm", or what is given
// where the text prints none.
func lengthUnit(text, unit string) (rest, found string) {
	s := strings.ToLower(normalise(text))
	for _, suf := range []struct{ text, unit string }{
		{"inches", "in"}, {"inch", "in"}, {"in.", "in"}, {"in", "in"}, {"\"", "in"}, {"centimetres", "cm"}, {"centimeters", "cm"}, {"cm.", "cm"}, {"cm", "cm"}} {
		if strings.HasSuffix(s, suf.text) {
			return strings.TrimRight(strings.TrimSuffix(s, suf.text), " -"), suf.unit
		}
	}
	return s, unit
}

// lengthOf is a number such as 6, 0.5 or 6 2/3.
func lengthOf(s string) (*big.Rat, error) {
	total := new(big.Rat)
	parts := strings.Fields(s)
	if len(parts) < 1 || len(parts) > 2 {
		return nil, fmt.Errorf("not a depth")
	}
	for i, p := range parts {
		isFrac := strings.Contains(p, "/")
		if i == 1 && !isFrac {
			return nil, fmt.Errorf("not a depth")
		}
		for _, c := range p {
			if (c < '0' || c > '9') && c != '.' && c != '/' {
				return nil, fmt.Errorf("not a depth")
			}
		}
		r, ok := new(big.Rat).SetString(p)
		if !ok || len(p) > 8 {
			return nil, fmt.Errorf("not a depth")
		}
		total.Add(total, r)
	}
	return total, nil
}

// inches gives a depth in inches as a decimal with at most two places, for
// the field; the exact fraction stays in AreaBasis.
func inches(r *big.Rat, unit string) string {
	v := new(big.Rat).Set(r)
	if unit == "cm" {
		v.Mul(v, big.NewRat(100, 254))
	}
	s := v.FloatString(2)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	return s
}
