package interpret

import (
	"math/big"
)

// The order of nutrients in a need, as on a label.
var labelOrder = [3]string{"N", "P2O5", "K2O"}

// mostProducts is how many products a person is asked to buy at most.
const mostProducts = 3

// A want is what fertilizer has to supply and may not exceed, in lb/1000 sq ft
// of N, P2O5 and K2O; nil where a nutrient must not be given. totalN is the
// most nitrogen of any release, nil for no such limit.
type want struct {
	rate   [3]*big.Rat
	totalN *big.Rat
}

// A mix is a choice of products with the pounds of each on 1000 sq ft.
type mix struct {
	of    []int // places in the list
	lb    []*big.Rat
	gives [3]*big.Rat
	total *big.Rat // nitrogen of any release
	short *big.Rat // sum over the nutrients of the share of the rate that is left open
	cost  *big.Rat // nil where a product has no price
	heft  *big.Rat
}

// supply is what a pound of a fertilizer gives: N that plants can use this
// season, P2O5, K2O, and N of any release.
func (f *Fertilizer) supply() [4]*big.Rat {
	p, _ := f.Grade.parts()
	var s [4]*big.Rat
	for i := range p {
		s[i] = quo(p[i], rat(100, 1))
	}
	s[3] = s[0]
	if f.FirstSeason != nil {
		s[0] = quo(mul(s[0], f.FirstSeason.Percent.rat()), rat(100, 1))
	}
	return s
}

// blend chooses among products exactly. Of one, two and three products it
// takes the fewest that give every nutrient to at least near percent of its
// rate; where none do, those that leave the least open. Among equals the
// cheapest comes first if every product has a price, then the lightest, then
// the one that stands first in the list. No nutrient is exceeded, and none is
// given that must not be.
//
// The amounts are corners of the region that the rates bound: with k products
// in use, k of the bounds are reached. So all corners are tried, by exact
// elimination, and nothing is approximated.
func blend(list []*Fertilizer, w want, near *big.Rat) *mix {
	var rows [][]*big.Rat // one a bound: what a pound of each product takes of it
	var most []*big.Rat
	var usable []int
	supplies := make([][4]*big.Rat, len(list))
	for i, f := range list {
		supplies[i] = f.supply()
		fits := true
		for n := range w.rate {
			if supplies[i][n].Sign() > 0 && w.rate[n] == nil {
				fits = false
			}
		}
		if fits {
			usable = append(usable, i)
		}
	}
	bound := func(n int, top *big.Rat) {
		row := make([]*big.Rat, len(list))
		for i := range list {
			row[i] = supplies[i][n]
		}
		rows, most = append(rows, row), append(most, top)
	}
	for n, r := range w.rate {
		if r != nil {
			bound(n, r)
		}
	}
	if w.totalN != nil && w.rate[0] != nil {
		bound(3, w.totalN)
	}
	var best *mix
	for k := 1; k <= mostProducts; k++ {
		var here *mix
		for _, of := range choices(usable, k) {
			for _, tight := range choices(upTo(len(rows)), k) {
				lb := corner(rows, most, of, tight)
				if lb == nil {
					continue
				}
				m := weigh(list, supplies, w, of, lb)
				if here == nil || m.before(here) {
					here = m
				}
			}
		}
		if here == nil {
			continue
		}
		if best == nil || here.short.Cmp(best.short) < 0 {
			best = here
		}
		if here.enough(w, near) {
			return here
		}
	}
	return best
}

// choices are all ways to take k of the items, in order.
func choices(items []int, k int) [][]int {
	if k == 0 {
		return [][]int{nil}
	}
	var out [][]int
	for i := 0; i+k <= len(items); i++ {
		for _, rest := range choices(items[i+1:], k-1) {
			out = append(out, append([]int{items[i]}, rest...))
		}
	}
	return out
}

func upTo(n int) []int {
	var out []int
	for i := range n {
		out = append(out, i)
	}
	return out
}

// corner solves for the pounds of the products at which the tight bounds are
// reached; nil where there is no one answer, a product is not used or another
// bound is passed.
func corner(rows [][]*big.Rat, most []*big.Rat, of, tight []int) []*big.Rat {
	k := len(of)
	m := make([][]*big.Rat, k)
	for i, t := range tight {
		m[i] = make([]*big.Rat, k+1)
		for j, p := range of {
			m[i][j] = rows[t][p]
		}
		m[i][k] = most[t]
	}
	for col := range k {
		pivot := -1
		for r := col; r < k; r++ {
			if m[r][col].Sign() != 0 {
				pivot = r
				break
			}
		}
		if pivot < 0 {
			return nil
		}
		m[col], m[pivot] = m[pivot], m[col]
		for r := range k {
			if r == col || m[r][col].Sign() == 0 {
				continue
			}
			by := quo(m[r][col], m[col][col])
			for c := col; c <= k; c++ {
				m[r][c] = sub(m[r][c], mul(by, m[col][c]))
			}
		}
	}
	lb := make([]*big.Rat, k)
	for i := range k {
		lb[i] = quo(m[i][k], m[i][i])
		if lb[i].Sign() <= 0 {
			return nil
		}
	}
	for r := range rows {
		sum := new(big.Rat)
		for j, p := range of {
			sum.Add(sum, mul(rows[r][p], lb[j]))
		}
		if sum.Cmp(most[r]) > 0 {
			return nil
		}
	}
	return lb
}

// weigh tells what a choice gives, leaves open and costs.
func weigh(list []*Fertilizer, supplies [][4]*big.Rat, w want, of []int, lb []*big.Rat) *mix {
	m := &mix{of: of, lb: lb, total: new(big.Rat), short: new(big.Rat), cost: new(big.Rat), heft: new(big.Rat)}
	for n := range m.gives {
		m.gives[n] = new(big.Rat)
	}
	for j, p := range of {
		for n := range m.gives {
			m.gives[n].Add(m.gives[n], mul(supplies[p][n], lb[j]))
		}
		m.total.Add(m.total, mul(supplies[p][3], lb[j]))
		m.heft.Add(m.heft, lb[j])
		if f := list[p]; m.cost != nil && f.Price != "" && f.BagLb != "" {
			m.cost.Add(m.cost, mul(quo(f.Price.rat(), f.BagLb.rat()), lb[j]))
		} else {
			m.cost = nil
		}
	}
	for n, r := range w.rate {
		if r != nil {
			m.short.Add(m.short, sub(rat(1, 1), quo(m.gives[n], r)))
		}
	}
	return m
}

// before reports whether m is the better choice of two with as many products.
func (m *mix) before(o *mix) bool {
	if c := m.short.Cmp(o.short); c != 0 {
		return c < 0
	}
	if m.cost != nil && o.cost != nil {
		if c := m.cost.Cmp(o.cost); c != 0 {
			return c < 0
		}
	}
	return m.heft.Cmp(o.heft) < 0
}

// enough reports whether every nutrient reaches the share near of its rate.
func (m *mix) enough(w want, near *big.Rat) bool {
	for n, r := range w.rate {
		if r != nil && m.gives[n].Cmp(mul(r, near)) < 0 {
			return false
		}
	}
	return true
}
