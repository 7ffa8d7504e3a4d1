package mappings

import (
	"fmt"
	"math/big"
	"strings"

	"example.org/windrow/mappings/strict"
)

// A Band is the numbers that one word of a laboratory's scale stands for, in
// the unit that the test is printed in. An end that is open is "". A number on
// an end belongs to the bands on both sides of it, since guides seldom say.
type Band struct {
	Low  string `json:"low,omitempty"`  // plain decimal
	High string `json:"high,omitempty"` // plain decimal
}

// band is the numbers that a printed rating word stands for, nil when the
// mapping doesn't say.
func (t *Test) band(word string) *Band { return t.Scale[normalise(word)] }

// scale decodes a test's own scale: a rating word of the mapping and the
// numbers it stands for, such as {low: under 25, medium: 25 to 50, high: over 50}.
func (d *decoder) scale(t *Test, n strict.Node) {
	if !n.Has() {
		return
	}
	if len(t.Units) > 1 {
		n.Complain("a scale is in the one unit that the test is printed in", "one unit", listWords(t.Units), "leave out the scale, or make a test for each unit")
	}
	for _, p := range n.Pairs() {
		if _, ok := d.m.Ratings[normalise(p.Key)]; !ok {
			p.Complain(fmt.Sprintf("%q is not a rating of this mapping", p.Key), orWord(listWords(ratingWords(d.m)), "a word listed under ratings"), p.Key, strict.DidYouMean(p.Key, ratingWords(d.m))+"or add it under ratings")
			continue
		}
		b, ok := parseBand(p.Value.Text())
		if !ok {
			p.Value.Complain("these are not the numbers of a rating", "under 25, 25 to 50, or over 50, with the smaller number first", p.Value.Text(), "write the laboratory's scale so")
			continue
		}
		if t.Scale == nil {
			t.Scale = map[string]*Band{}
		}
		t.Scale[normalise(p.Key)] = b
	}
}

func parseBand(text string) (*Band, bool) {
	f := strings.Fields(text)
	num := func(s string) (*big.Rat, bool) {
		if s == "" || strings.Trim(s, "0123456789.") != "" || strings.Count(s, ".") > 1 {
			return nil, false
		}
		return new(big.Rat).SetString(s)
	}
	switch {
	case len(f) == 2 && (f[0] == "under" || f[0] == "over"):
		if _, ok := num(f[1]); !ok {
			return nil, false
		}
		if f[0] == "under" {
			return &Band{High: f[1]}, true
		}
		return &Band{Low: f[1]}, true
	case len(f) == 3 && f[1] == "to":
		lo, ok1 := num(f[0])
		hi, ok2 := num(f[2])
		if ok1 && ok2 && lo.Cmp(hi) < 0 {
			return &Band{Low: f[0], High: f[2]}, true
		}
	}
	return nil, false
}
