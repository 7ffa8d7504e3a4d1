package interpret

import (
	"math/big"
	"strconv"
)

// lb/1000 sq ft in a US ton/acre: 2000 lb over 43.56 thousands of square
// feet. By definition.
var tonsAcre = big.NewRat(200000, 4356)

// RoundLb rounds pounds as a person would weigh them out: to 0.05 below 1,
// to 0.1 below 5, to half pounds below 20, to whole pounds below 100, and to
// tens from there. Anything that is not nothing stays at least 0.05. With
// down set it never rounds upwards, for amounts that stand at a limit.
func RoundLb(lb *big.Rat, down bool) string {
	if lb.Sign() <= 0 {
		return "0"
	}
	step := rat(1, 20)
	switch {
	case lb.Cmp(rat(100, 1)) >= 0:
		step = rat(10, 1)
	case lb.Cmp(rat(20, 1)) >= 0:
		step = rat(1, 1)
	case lb.Cmp(rat(5, 1)) >= 0:
		step = rat(1, 2)
	case lb.Cmp(rat(1, 1)) >= 0:
		step = rat(1, 10)
	}
	r := roundTo(lb, step)
	if down {
		r = roundDown(lb, step)
	}
	if r.Sign() == 0 {
		if down {
			return plain(lb, 3)
		}
		r = rat(1, 20)
	}
	return plain(r, 2)
}

// areas is what an amount is told for.
type areas struct {
	own *big.Rat // nil when no area was asked for
	per []int
}

// amount spreads a rate in lb/1000 sq ft over the areas. perCup is the weight
// of a cup of it in pounds, nil where cups are not told.
func (a areas) amount(of string, rate *big.Rat, down bool, perCup *big.Rat) *Amount {
	return &Amount{Of: of, Exact: plain(rate, 6), PerArea: a.spread(rate, down, perCup)}
}

func (a areas) spread(rate *big.Rat, down bool, perCup *big.Rat) []ForArea {
	var out []ForArea
	one := func(sqft *big.Rat, own bool) {
		lb := quo(mul(rate, sqft), rat(1000, 1))
		f := ForArea{SqFt: plain(sqft, 1), Lb: RoundLb(lb, down), Own: own}
		if perCup != nil && lb.Sign() > 0 && lb.Cmp(rat(12, 1)) <= 0 {
			cups := quo(lb, perCup)
			step := rat(1, 2)
			if cups.Cmp(rat(1, 2)) >= 0 {
				f.Cups = plain(roundTo(cups, step), 1)
			}
		}
		out = append(out, f)
	}
	if a.own != nil {
		one(a.own, true)
	}
	for _, p := range a.per {
		r := rat(int64(p), 1)
		if a.own == nil || a.own.Cmp(r) != 0 {
			one(r, false)
		}
	}
	return out
}

// splitMost cuts a whole into parts of at most most, the last the rest.
func splitMost(total, most *big.Rat) []*big.Rat {
	var out []*big.Rat
	left := total
	for left.Sign() > 0 && len(out) < 20 {
		p := left
		if p.Cmp(most) > 0 {
			p = most
		}
		out = append(out, p)
		left = sub(left, p)
	}
	return out
}

// splitEqual cuts a whole into n equal parts.
func splitEqual(total *big.Rat, n int) []*big.Rat {
	var out []*big.Rat
	for range n {
		out = append(out, quo(total, rat(int64(n), 1)))
	}
	return out
}

// partsUnder is the least number of equal parts of which none is over most.
func partsUnder(total, most *big.Rat) int {
	q := quo(total, most)
	n := new(big.Int).Quo(q.Num(), q.Denom())
	if !q.IsInt() {
		n.Add(n, big.NewInt(1))
	}
	if !n.IsInt64() || n.Int64() < 1 {
		return 1
	}
	return int(n.Int64())
}

func itoa(i int) string { return strconv.Itoa(i) }
