package unit

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// What is written by words is what math/big writes, whatever the number: also
// where the digits or the places are more than a word holds.
func TestFixedIsFloatString(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 11))
	numbers := []*big.Rat{
		big.NewRat(0, 1), big.NewRat(1, 2), big.NewRat(-1, 2), big.NewRat(5, 1000), big.NewRat(-25, 1000), big.NewRat(1, 3), big.NewRat(2, 3),
		big.NewRat(999999, 1000000), big.NewRat(math.MaxInt64, 1), big.NewRat(math.MinInt64, 1), big.NewRat(math.MinInt64, 3),
		big.NewRat(1, math.MaxInt64), big.NewRat(math.MaxInt64, math.MaxInt64-1), new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).SetUint64(math.MaxUint64)),
		new(big.Rat).SetFrac(big.NewInt(math.MaxInt64), new(big.Int).SetUint64(math.MaxUint64)),
		new(big.Rat).SetFrac(new(big.Int).Exp(big.NewInt(10), big.NewInt(40), nil), big.NewInt(7)), new(big.Rat),
	}
	for range 20000 {
		a, b := rnd.Int64()>>rnd.UintN(63), rnd.Int64()>>rnd.UintN(63)
		if rnd.IntN(2) == 0 {
			b = []int64{1, 2, 10, 100, 1000, 2242, 44615, 1e6, 1e9}[rnd.IntN(9)]
		}
		if rnd.IntN(3) == 0 {
			a = -a
		}
		numbers = append(numbers, big.NewRat(a, max(1, b)))
	}
	for _, r := range numbers {
		for _, places := range []int{0, 1, 2, 3, 7, 18, 19, 20, 25} {
			if got, want := fixed(r, places), r.FloatString(places); got != want {
				t.Fatalf("%s with %d places: %s, not %s", r, places, got, want)
			}
		}
		if r.Sign() == 0 {
			continue
		}
		for _, n := range []int{1, 3, 4, 9} {
			got, ok := placesFor(r, n)
			if !ok {
				continue
			}
			// By what the digits are: 10^e <= |r| < 10^(e+1).
			abs, e := new(big.Rat).Abs(r), n-1-got
			if got == 0 {
				if abs.Cmp(tenTo(n-1)) < 0 {
					t.Fatalf("%s to %d digits: no places, although it has fewer digits before the point", r, n)
				}
				continue
			}
			if abs.Cmp(tenTo(e)) < 0 || abs.Cmp(tenTo(e+1)) >= 0 {
				t.Fatalf("%s to %d digits: %d places", r, n, got)
			}
		}
	}
}

func tenTo(k int) *big.Rat {
	p := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(k, -k))), nil))
	if k < 0 {
		p.Inv(p)
	}
	return p
}

func BenchmarkRound(b *testing.B) {
	r := big.NewRat(50600, 2242)
	for b.Loop() {
		Round(r, 4)
	}
}
