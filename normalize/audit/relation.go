package audit

import (
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// A relation says what the inputs of a step have to do with its factor. It is
// written here a second time, from the meaning of the rule, so that a changed
// input shows although nothing in the step computes with it.
type relation struct {
	rule   string
	factor string   // the factor, from the inputs; "" where the step has none
	value  string   // the number after the step, from the inputs, where that takes the place of a factor
	tells  []string // inputs that only say what is meant, and that no arithmetic needs
}

var relations = []relation{
	// Parts per million of the soil's weight, by the definition of a part.
	{rule: "area/by-mass", factor: "1000000 / soil per acre", tells: []string{"depth"}},
	{rule: "form/lb-per-acre", factor: "soil per acre / 1000000", tells: []string{"depth"}},
	// A hectare one centimetre deep is 100,000 litres: 1 kg in it is 10 mg/L.
	{rule: "area/by-volume", factor: "10 / depth in cm"},
	{rule: "volume/by-density", factor: "1 / density of the scooped soil"},
	{rule: "cell/stored-number", value: "number stored in the cell"},
}

func relationOf(rule string) *relation {
	for i := range relations {
		if relations[i].rule == rule {
			return &relations[i]
		}
	}
	return nil
}

// inputs are the numbers that a step names. A depth in inches is given in
// centimetres, too.
func inputs(s *normalize.Step) (names map[string]*apd.Decimal, err error) {
	names = make(map[string]*apd.Decimal, len(s.Inputs)+2)
	for _, in := range s.Inputs {
		v, err := formula.Number(string(in.Value))
		if err != nil {
			return nil, err
		}
		names[in.Name] = v
		if in.Name == "depth" {
			switch in.Unit {
			case "cm":
				names["depth in cm"] = v
			case "in":
				names["depth in cm"] = formula.Times(v, apd.New(254, -2))
			}
		}
	}
	return names, nil
}

// agrees reports whether a factor is the one that a relation gives of the
// inputs, each of which stands for what is rounded to it. Inputs are written
// with no fewer than four digits, without useless zeros.
func (r *relation) agrees(factor *apd.Decimal, s *normalize.Step, names map[string]*apd.Decimal) (want *apd.Decimal, ok bool, err error) {
	want, err = formula.Eval(r.factor, names)
	if err != nil {
		return nil, false, err
	}
	// The largest share by which rounding can have moved an input.
	slack := new(apd.Decimal)
	for _, in := range s.Inputs {
		v, _ := formula.Number(string(in.Value)) // read before
		if strings.Contains(r.factor, in.Name) && !v.IsZero() {
			places := formula.Places(v, max(4, formula.Significant(string(in.Value))))
			share, err := formula.Eval("half/v", map[string]*apd.Decimal{"half": apd.New(5, int32(-places-1)), "v": new(apd.Decimal).Abs(v)})
			if err == nil && share.Cmp(slack) > 0 {
				slack = share
			}
		}
	}
	off, err := formula.Eval("max(f/w-1, 1-f/w)", map[string]*apd.Decimal{"f": factor, "w": want})
	if err != nil {
		return nil, false, err
	}
	// A hundredth more, since the share is of the rounded number.
	return want, off.Cmp(formula.Times(slack, apd.New(101, -2))) <= 0 || off.Cmp(apd.New(1, -30)) <= 0, nil
}
