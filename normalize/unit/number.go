package unit

import (
	"errors"
	"math"
	"math/big"
	"strings"
)

// A Number is a printed decimal number: its exact value and its digits.
type Number struct {
	Rat    *big.Rat
	Sig    int // significant digits as printed; every printed digit after the first that is not zero counts, trailing zeros too
	Places int // digits after the decimal point
}

// ErrNumber says that a text is not a plain decimal number.
var ErrNumber = errors.New("not a plain decimal number")

// ParseNumber reads plain decimal digits: an optional minus, digits, and an
// optional point with digits. Nothing else is a number: no exponent, no
// thousands separator, no hexadecimal, no "nan".
func ParseNumber(s string) (Number, error) {
	d := strings.TrimPrefix(s, "-")
	whole, frac, point := strings.Cut(d, ".")
	if whole == "" || point && frac == "" || len(s) > 60 || !digits(whole) || !digits(frac) {
		return Number{}, ErrNumber
	}
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return Number{}, ErrNumber
	}
	all := strings.TrimLeft(whole+frac, "0")
	sig := len(all)
	if sig == 0 { // zero: 0.00 is known to its last place
		sig = max(1, len(frac))
	}
	return Number{r, sig, len(frac)}, nil
}

func digits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// Half is half a unit of the last printed digit.
func (n Number) Half() *big.Rat {
	return new(big.Rat).Mul(big.NewRat(1, 2), power(-n.Places))
}

// maxPower bounds the powers of ten kept ready. A printed number has at most
// sixty digits, and no factor is beyond ten to the nine.
const maxPower = 80

var powers = func() (p [2*maxPower + 1]*big.Rat) {
	ten := big.NewInt(10)
	for i := range p {
		k := i - maxPower
		r := new(big.Rat).SetInt(new(big.Int).Exp(ten, big.NewInt(int64(max(k, -k))), nil))
		if k < 0 {
			r.Inv(r)
		}
		p[i] = r
	}
	return p
}()

// power is ten to the k; it is shared and must not be changed.
func power(k int) *big.Rat { return powers[min(max(k, -maxPower), maxPower)+maxPower] }

// ParseRational reads a decimal, a fraction such as 20/3, or a mixed number
// such as 6 2/3. It is for depths, which laboratories print so.
func ParseRational(s string) (*big.Rat, error) {
	total := new(big.Rat)
	parts := strings.Fields(s)
	if len(parts) == 0 || len(parts) > 2 {
		return nil, ErrNumber
	}
	for i, p := range parts {
		a, b, frac := strings.Cut(p, "/")
		if len(parts) == 2 && frac != (i == 1) {
			return nil, ErrNumber
		}
		if frac {
			if a == "" || b == "" || len(a) > 9 || len(b) > 9 || !digits(a) || !digits(b) || strings.Trim(b, "0") == "" {
				return nil, ErrNumber
			}
		} else if _, err := ParseNumber(p); err != nil {
			return nil, err
		}
		r, ok := new(big.Rat).SetString(p)
		if !ok {
			return nil, ErrNumber
		}
		total.Add(total, r)
	}
	return total, nil
}

// minDigits is the least number of digits that a converted value is written
// with, so that rounding it moves it by less than a twentieth of a percent.
const minDigits = 4

// Digits is the number of digits that a value converted from a number of sig
// printed digits is written with: one guard digit more, and never fewer than
// four. The guard digits are there so that the value, taken back, gives the
// printed number within half a unit of its last digit; what is significant
// is still the printed digits alone.
func Digits(sig int) int { return max(sig+1, minDigits) }

// Format writes a converted value by the rule of Digits: rounded half away
// from zero to Digits(sig) digits, then without those trailing zeros after
// the decimal point that lie beyond the printed digits. 9 lb/acre of sig 1
// is 4.5 mg/kg, not 4.500; 100 lb/acre of sig 3 is 50.0.
func Format(r *big.Rat, sig int) string { return FormatTo(r, Digits(sig), sig) }

// FormatTo writes r rounded to n digits, without those trailing zeros after
// the decimal point that lie beyond the first sig digits.
func FormatTo(r *big.Rat, n, sig int) string {
	s := Round(r, n)
	whole, frac, ok := strings.Cut(s, ".")
	if !ok {
		return s
	}
	lead := strings.TrimLeft(strings.TrimPrefix(whole, "-"), "0")
	for strings.HasSuffix(frac, "0") {
		if len(strings.TrimLeft(lead+frac, "0")) <= sig {
			break
		}
		frac = frac[:len(frac)-1]
	}
	if frac == "" {
		return whole
	}
	return whole + "." + frac
}

// Round writes r in plain decimal digits with n significant ones, rounding
// half away from zero. A whole number with more than n digits keeps them
// all: digits before the point are never replaced by zeros.
func Round(r *big.Rat, n int) string {
	if r.Sign() == 0 {
		return "0"
	}
	if p, ok := placesFor(r, n); ok {
		return fixed(r, p)
	}
	// Places after the point: n less the digits before it, more for leading
	// zeros. The float is only a first guess; powers of ten decide.
	a := r
	if r.Sign() < 0 {
		a = new(big.Rat).Abs(r)
	}
	f, _ := a.Float64()
	e := int(math.Floor(math.Log10(f))) // 10^e <= a < 10^(e+1)
	for e < maxPower && a.Cmp(power(e+1)) >= 0 {
		e++
	}
	for e > -maxPower && a.Cmp(power(e)) < 0 {
		e--
	}
	return fixed(r, max(0, n-1-e))
}

// Shift reports whether f is a power of ten, and which: 1/1000 gives -3. A
// number times a power of ten keeps exactly its printed digits.
func Shift(f *big.Rat) (int, bool) {
	if !f.IsInt() && f.Num().Cmp(power(0).Num()) != 0 {
		return 0, false
	}
	for k := -9; k <= 9; k++ {
		if f.Cmp(power(k)) == 0 {
			return k, true
		}
	}
	return 0, false
}

// Shifted writes a printed number times ten to the k with exactly its
// printed digits: 506 shifted by -3 is 0.506, and 32 by -1 is 3.2.
func Shifted(n Number, k int) string {
	if k == 0 {
		return fixed(n.Rat, n.Places)
	}
	r := new(big.Rat).Mul(n.Rat, power(k))
	return fixed(r, max(0, n.Places-k))
}
