package interpret

import (
	"math/big"
	"strings"

	"example.org/windrow/normalize"
)

// A Num is a plain decimal number as a rule file writes it; "" is none.
// Arithmetic on it is exact (big.Rat), so that a bound is never missed by a
// rounding of binary fractions.
type Num string

func (n Num) rat() *big.Rat {
	r, _ := parseNum(string(n))
	return r
}

// parseNum reads digits with at most one point and a sign, or a fraction of
// two whole numbers such as 4/3; anything else is not a number. It never
// returns nil.
func parseNum(s string) (*big.Rat, bool) {
	zero := new(big.Rat)
	if len(s) == 0 || len(s) > 40 {
		return zero, false
	}
	if a, b, ok := strings.Cut(s, "/"); ok {
		x, okx := parseNum(a)
		y, oky := parseNum(b)
		if !okx || !oky || !x.IsInt() || !y.IsInt() || y.Sign() <= 0 {
			return zero, false
		}
		return x.Quo(x, y), true
	}
	body := strings.TrimPrefix(s, "-")
	digits, points := 0, 0
	for _, c := range body {
		switch {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return zero, false
		}
	}
	if digits == 0 || points > 1 || strings.HasPrefix(body, ".") || strings.HasSuffix(body, ".") {
		return zero, false
	}
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return zero, false
	}
	return r, true
}

func ratOf(d normalize.Decimal) (*big.Rat, bool) { return parseNum(string(d)) }

func rat(a, b int64) *big.Rat { return big.NewRat(a, b) }

func mul(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
func sub(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }
func add(a, b *big.Rat) *big.Rat { return new(big.Rat).Add(a, b) }
func quo(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

// plain is r with at most places decimals and no trailing zeros.
func plain(r *big.Rat, places int) string {
	s := r.FloatString(places)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// halfDigit is half a unit of the last digit that s shows: 0.5 for 71, 0.05
// for 6.4. It is the least that any printed number is uncertain by.
func halfDigit(s string) *big.Rat {
	_, frac, ok := strings.Cut(s, ".")
	h := rat(1, 2)
	if ok {
		for range frac {
			h = quo(h, rat(10, 1))
		}
	}
	return h
}

// roundTo is r to the nearest multiple of step, halves upwards; r is not
// negative.
func roundTo(r, step *big.Rat) *big.Rat {
	q := add(quo(r, step), rat(1, 2))
	return mul(new(big.Rat).SetInt(new(big.Int).Quo(q.Num(), q.Denom())), step)
}

func roundDown(r, step *big.Rat) *big.Rat {
	q := quo(r, step)
	return mul(new(big.Rat).SetInt(new(big.Int).Quo(q.Num(), q.Denom())), step)
}
