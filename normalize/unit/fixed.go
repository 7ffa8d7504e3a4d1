package unit

import (
	"math/big"
	"math/bits"
	"strconv"
)

// tens are the powers of ten that a word holds.
var tens = func() (t [20]uint64) {
	t[0] = 1
	for i := 1; i < len(t); i++ {
		t[i] = 10 * t[i-1]
	}
	return t
}()

// small gives the numerator, without its sign, and the denominator of a number
// of which both fit into a word. Nearly all amounts of a report do, and a list
// of fifty thousand is written in a tenth of the time.
func small(r *big.Rat) (num, den uint64, ok bool) {
	a, b := r.Num(), r.Denom()
	if a.BitLen() > 63 || !b.IsUint64() {
		return 0, 0, false
	}
	v := a.Int64()
	if v < 0 {
		v = -v
	}
	return uint64(v), b.Uint64(), true
}

// placesFor is how many places after the point r has when it is written with n
// significant digits, or not ok where it takes more than words to tell. r is
// not zero.
func placesFor(r *big.Rat, n int) (places int, ok bool) {
	num, den, ok := small(r)
	if !ok {
		return 0, false
	}
	if q := num / den; q > 0 {
		digits := 1
		for digits < len(tens) && q >= tens[digits] {
			digits++
		}
		return max(0, n-digits), true
	}
	for k := 1; k < len(tens); k++ { // 10^-k <= r < 10^(1-k)
		hi, lo := bits.Mul64(num, tens[k])
		if hi > 0 || lo >= den {
			return max(0, n-1+k), true
		}
	}
	return 0, false
}

// fixed is r.FloatString(places): r with so many places, rounded half away
// from zero.
func fixed(r *big.Rat, places int) string {
	num, den, ok := small(r)
	if !ok || places >= len(tens) {
		return r.FloatString(places)
	}
	hi, lo := bits.Mul64(num, tens[places])
	if hi >= den {
		return r.FloatString(places) // the digits don't fit into a word
	}
	q, rest := bits.Div64(hi, lo, den)
	if rest >= den-rest {
		if q++; q == 0 {
			return r.FloatString(places)
		}
	}
	b := make([]byte, 0, 24)
	if r.Sign() < 0 {
		b = append(b, '-')
	}
	b = strconv.AppendUint(b, q/tens[places], 10)
	if places > 0 {
		b = append(b, '.')
		frac := q % tens[places]
		for k := places - 1; k > 0 && frac < tens[k]; k-- {
			b = append(b, '0')
		}
		b = strconv.AppendUint(b, frac, 10)
	}
	return string(b)
}
