package censored

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A Side says what is known of a number.
type Side uint8

// The sides: the number itself, or that it is below or above what is given.
const (
	Measured Side = iota
	Below
	Above
)

// String is the sign that is printed before a number: nothing, < or >.
func (s Side) String() string {
	switch s {
	case Below:
		return "<"
	case Above:
		return ">"
	}
	return ""
}

// A Value is a number, or a limit that the number is below or above.
type Value struct {
	X    float64
	Side Side
}

// A Figure is a number that was worked out, or a limit that it is below or
// above. Where Why is not empty there is none, and Why says why not.
type Figure struct {
	X    float64
	Side Side
	Why  string
}

// None is the figure that is not given, for a reason in words.
func None(format string, args ...any) Figure { return Figure{Why: fmt.Sprintf(format, args...)} }

// Given reports whether there is a figure, be it a limit.
func (f Figure) Given() bool { return f.Why == "" }

// Exact reports whether there is a figure that is a number and no limit.
func (f Figure) Exact() bool { return f.Why == "" && f.Side == Measured }

// An Interval lies between two figures; an end may be a limit, or not be given.
type Interval struct {
	Low, High Figure
}

// Given reports whether both ends are there.
func (i Interval) Given() bool { return i.Low.Given() && i.High.Given() }

func noInterval(why Figure) Interval { return Interval{why, why} }

// sorted checks and sorts values: by size; of one size what is below it first,
// and what is above it last.
func sorted(values []Value) ([]Value, error) {
	out := slices.Clone(values)
	for _, v := range out {
		if math.IsNaN(v.X) || math.IsInf(v.X, 0) || v.Side > Above {
			return nil, fmt.Errorf("%s%v is no value that can be described", v.Side, v.X)
		}
	}
	rank := [...]int{Below: 0, Measured: 1, Above: 2}
	slices.SortFunc(out, func(a, b Value) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(rank[a.Side], rank[b.Side])) })
	return out, nil
}

// split parts sorted values by what is known of them; each part stays sorted.
func split(values []Value) (measured, below, above []float64) {
	for _, v := range values {
		switch v.Side {
		case Below:
			below = append(below, v.X)
		case Above:
			above = append(above, v.X)
		default:
			measured = append(measured, v.X)
		}
	}
	return measured, below, above
}
