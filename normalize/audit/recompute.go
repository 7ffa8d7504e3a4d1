package audit

import (
	"fmt"
	"slices"
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// Tally counts what was recomputed.
type Tally struct {
	Reports   int `json:"reports"`
	Records   int `json:"records"`
	Results   int `json:"results"`
	Values    int `json:"values"`    // results with a number, each recomputed
	Converted int `json:"converted"` // of these, those that a step or more led to
	Steps     int `json:"steps"`     // of values, forms and estimates
	Forms     int `json:"forms"`
	Estimates int `json:"estimates"`
	Derived   int `json:"derived,omitempty"` // quantities that follow from the results of a record; none is kept in it, and sign-offs of earlier versions count none
	Refused   int `json:"not_converted"`     // a printed number that became no value, and says why
	NoNumber  int `json:"no_number"`         // missing words, classes and scores in words
	Sources   int `json:"source_keys"`       // looked up
}

// keep is the number of digits that a value converted from a number of sig
// digits may have.
func keep(sig int) int { return max(sig+1, 4) }

// guard is how many digits more the numbers between steps are shown with.
const guard = 4

// A Checker recomputes reports. It holds what has to be the same in all of
// them: the factor of each conversion. Use one for one archive; it is not
// safe for concurrent use.
type Checker struct {
	sources map[string]normalize.Source
	factors map[string]firstUse
	numbers map[string]*apd.Decimal // factors, by their text: there are few, and they come often
	current string                  // hash of the tables of this version
	tally   Tally
	found   []Difference

	// Of the report at work.
	rep     *normalize.Report
	version int
	rec     *normalize.Record
	res     *normalize.Result
}

type firstUse struct{ factor, record string }

// NewChecker makes a checker that looks keys up in the given bibliography.
func NewChecker(sources map[string]normalize.Source) *Checker {
	return &Checker{sources: sources, factors: map[string]firstUse{}, numbers: map[string]*apd.Decimal{}, current: normalize.TablesHash()}
}

// Report recomputes every number of a report and gives what differs, nil when
// nothing does. version is that in the archive, 0 when not archived.
func (c *Checker) Report(rep *normalize.Report, version int) []Difference {
	c.rep, c.version, c.rec, c.res, c.found = rep, version, nil, nil, nil
	c.tally.Reports++
	for _, rec := range rep.Records {
		c.rec, c.res = rec, nil
		c.tally.Records++
		for _, f := range rec.Checks {
			c.source(f.Source, "check "+f.Check)
		}
		for _, res := range rec.Results {
			c.res = res
			c.result()
			c.printed()
			c.depth()
		}
		c.res = nil
		c.derived()
	}
	c.statuses()
	return c.found
}

// Tally is what has been recomputed so far.
func (c *Checker) Tally() Tally { return c.tally }

func (c *Checker) differs(code, step, expected, found, what string, args ...any) {
	d := Difference{Code: code, Report: c.rep.ID, Version: c.version, Lab: c.rep.Lab.ID, Step: step, What: fmt.Sprintf(what, args...), Expected: expected, Found: found}
	if c.rec != nil {
		d.Record = c.rec.ID
	}
	if c.res != nil {
		d.Result = label(c.res)
	}
	c.found = append(c.found, d)
}

func (c *Checker) source(key, step string) {
	c.tally.Sources++
	if _, ok := c.sources[key]; !ok {
		c.differs(CodeSource, step, "a key of the bibliography", key, "the source of this is not in the bibliography")
	}
}

// result recomputes one result: value, volumetric value and forms.
func (c *Checker) result() {
	res := c.res
	c.tally.Results++
	for _, f := range res.Findings {
		c.source(f.Source, "check "+f.Check)
	}
	if x := res.Forms.Index; x != nil {
		c.source(x.Source, "scale "+x.Scale)
	}
	p := res.Printed
	if p.Number == "" {
		c.tally.NoNumber++
		if res.Value != "" || len(res.Steps)+len(res.FormSteps)+len(res.Estimates) > 0 {
			c.differs(CodeNothing, "", "no value, since no number is printed", quantity(normalize.Quantity{Value: res.Value, Unit: res.Unit}), "there is a value or a step, and no number that it could come from")
		}
		return
	}
	x, err := formula.Number(string(p.Number))
	if err != nil {
		c.differs(CodeEquation, "", "a plain number", string(p.Number), "the printed number can't be read")
		return
	}
	if res.Value == "" {
		c.tally.Refused++
		if res.Why == "" && res.Class == "" && res.Missing == "" {
			c.differs(CodeValue, "", "a value, or why there is none", "neither", "a number was printed and nothing came of it")
		}
	} else {
		c.tally.Values++
		if len(res.Steps) > 0 {
			c.tally.Converted++
		}
	}
	n := keep(formula.Significant(string(p.Number)))
	ch := chain{c: c, name: "step", digits: n, x: x, at: normalize.Quantity{Value: p.Number}, units: printedUnits(res), closes: true, printed: true}
	if !ch.follow(res.Steps, res.Volumetric) {
		return // told; what follows would only say it again
	}
	if res.Value != "" {
		c.end(&ch)
	}
	c.forms(&ch)
	c.estimates()
}

// printedUnits are the ways in which the first step may name the printed unit.
func printedUnits(res *normalize.Result) []string {
	var out []string
	for _, u := range []string{res.Printed.UnitID, res.Printed.Unit} {
		out = append(out, u, u+" as "+res.Basis)
	}
	return append(out, "index")
}

// end compares the value with what the chain came to.
func (c *Checker) end(ch *chain) {
	res := c.res
	v, err := formula.Number(string(res.Value))
	if err != nil {
		c.differs(CodeValue, "", "a plain number", string(res.Value), "the value can't be read")
		return
	}
	want := formula.Places(ch.x, ch.digits)
	if !formula.Within(v, ch.x, want) {
		c.differs(CodeValue, "", formula.Text(ch.x, ch.digits)+" "+res.Unit, string(res.Value)+" "+res.Unit, "recomputed from the printed number, the value is another")
	}
	// Zeros before the point are no digits that the value claims.
	if places := decimals(string(res.Value)); places > max(want, decimals(string(res.Printed.Number))) && !ch.shifted {
		c.differs(CodeDigits, "", fmt.Sprintf("no more than %d significant digits", ch.digits), string(res.Value), "the value has more digits than its printed number allows")
	}
	last := normalize.Quantity{Value: res.Printed.Number, Unit: res.Printed.UnitID}
	if n := len(res.Steps); n > 0 {
		last = res.Steps[n-1].To
		if last.Value != res.Value || last.Unit != res.Unit {
			c.differs(CodeEnd, fmt.Sprintf("step %d", n), quantity(normalize.Quantity{Value: res.Value, Unit: res.Unit}), quantity(last), "the last step does not end at the value")
		}
	} else if !slices.Contains([]string{res.Printed.UnitID, "index"}, res.Unit) {
		c.differs(CodeEnd, "", "a step from "+res.Printed.UnitID+" to "+res.Unit, "no step", "value and printed number have different units and no step leads from one to the other")
	}
}

func decimals(s string) int {
	_, frac, _ := strings.Cut(s, ".")
	return len(frac)
}

// forms recomputes the forms of a value, each from the unrounded number.
func (c *Checker) forms(ch *chain) {
	res := c.res
	f := res.Forms
	told := map[string]normalize.Quantity{}
	if f.PPM != nil {
		told["form/ppm"] = *f.PPM
	}
	if f.LbAc != nil {
		told["form/lb-per-acre"] = normalize.Quantity{Value: f.LbAc.Value, Unit: "lb/acre"}
	}
	for i := range res.FormSteps {
		s := &res.FormSteps[i]
		name := fmt.Sprintf("form step %d", i+1)
		c.tally.Forms++
		if s.From != (normalize.Quantity{Value: res.Value, Unit: res.Unit}) {
			c.differs(CodeLink, name, quantity(normalize.Quantity{Value: res.Value, Unit: res.Unit}), quantity(s.From), "a form does not begin at the value")
		}
		one := chain{c: c, name: "form step", first: i, digits: ch.digits, x: ch.x, at: s.From, units: []string{s.From.Unit}, closes: true}
		if !one.follow(res.FormSteps[i:i+1], nil) {
			continue
		}
		want, ok := told[s.Rule]
		if !ok || want != s.To {
			c.differs(CodeForm, name, quantity(s.To), quantity(want), "the form that is shown is not the one its step ends at")
		}
		delete(told, s.Rule)
		if s.Rule == "form/lb-per-acre" {
			for _, in := range s.Inputs {
				if in.Name == "depth" && in.Value != f.LbAc.DepthIn || in.Name == "soil per acre" && in.Value != f.LbAc.SoilLb {
					c.differs(CodeForm, name, quantity(normalize.Quantity{Value: in.Value, Unit: in.Unit}), string(f.LbAc.DepthIn)+" in, "+string(f.LbAc.SoilLb)+" lb/acre", "the form names another soil than its step")
				}
			}
		}
	}
	for rule, q := range told {
		c.differs(CodeForm, "", "a step "+rule, quantity(q), "a form has no step that leads to it")
	}
}
