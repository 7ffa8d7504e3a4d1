package formula

import "github.com/cockroachdb/apd/v3"

// Places is the number of places after the point at which x has n significant
// digits; never below none, since digits before the point always stand.
func Places(x *apd.Decimal, n int) int {
	if x.IsZero() {
		return n
	}
	first := int(x.NumDigits()) + int(x.Exponent) - 1 // power of ten of the first digit
	return max(0, n-1-first)
}

// Text writes x in plain digits, rounded half away from zero to n significant
// ones, without zeros at the end of the decimals.
func Text(x *apd.Decimal, n int) string {
	d := new(apd.Decimal)
	c := context.WithPrecision(200)
	c.Rounding = apd.RoundHalfUp
	if _, err := c.Quantize(d, x, int32(-Places(x, n))); err != nil {
		return x.String()
	}
	d.Reduce(d)
	return d.Text('f')
}

// Within reports whether a and b differ by no more than half a unit in the
// given place after the point.
func Within(a, b *apd.Decimal, places int) bool {
	d, err := calc(context.Sub, a, b)
	if err != nil {
		return false
	}
	half := apd.New(5, int32(-places-1))
	// Forty digits of 1/3 fall short of it: what lies on the edge is inside.
	slack := new(apd.Decimal).Abs(b)
	slack.Exponent -= Digits - 4
	if _, err := context.Add(half, half, slack); err != nil {
		return false
	}
	return d.Abs(d).Cmp(half) <= 0
}

// Significant counts the significant digits of plain decimal text: zeros
// behind the point count, zeros before the first other digit do not, and of
// a number that is zero the decimals count.
func Significant(s string) int {
	n, decimals, point := 0, 0, false
	for _, c := range s {
		switch {
		case c == '.':
			point = true
		case c >= '0' && c <= '9':
			if point {
				decimals++
			}
			if n > 0 || c != '0' {
				n++
			}
		}
	}
	if n == 0 {
		return max(1, decimals)
	}
	return n
}
