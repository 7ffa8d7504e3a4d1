package estimate

import (
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize/internal/table"
)

// A Derivation is a quantity that is worked out of several results of one
// sample, such as the ratio of calcium to magnesium. Nobody measured it.
type Derivation struct {
	ID       string
	Quantity string // what is derived, such as ECEC; rows of one quantity are different ways to it
	Name     string // of the quantity, in words
	// Extracts are the methods of which one has to have given every input that
	// names no method of its own: amounts by different extracts are not added.
	Extracts []string
	// MeasuredAs is the analyte that the quantity is where a laboratory reports
	// it: then nothing is derived. "" for none.
	MeasuredAs string
	Inputs     []Need
	Equation   *Expr // nil where none was read
	Unit       string
	Domain     []Condition
	Threshold  string // decimal digits of the value that the publication draws a line at; "" for none
	Verdict    Verdict
	Source     string // key in the bibliography
	Provenance string
	Active     bool
	Inactive   string // why it is not worked out
	Note       string
}

// A Deduction is what a derivation comes to for a sample.
type Deduction struct {
	Row      *Derivation
	Extract  string // the method that gave the inputs
	Value    string // decimal digits
	Above    bool   // not below the row's threshold, by the value before it is rounded
	Inputs   []Measured
	Standing Standing // Inside or Unknown: outside its domain nothing is derived
	Unknown  []string
}

func (t *Table) loadDerived(fsys fs.FS, known Known) error {
	seen := map[string]bool{}
	return table.Rows(fsys, "derived.csv", func(where string, c map[string]string) error {
		d, err := parseDerivation(c)
		if err == nil {
			err = d.check(known)
		}
		if err == nil && (d.ID == "" || seen[d.ID]) {
			err = fmt.Errorf("id %q is empty or given twice", d.ID)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		seen[d.ID] = true
		t.Derived = append(t.Derived, d)
		return nil
	})
}

// parseDerivation reads a row. An input is an analyte, with @ and a method
// where only that method will do, and a colon and a unit where it is another
// one than usual.
func parseDerivation(c map[string]string) (*Derivation, error) {
	d := &Derivation{ID: c["id"], Quantity: c["quantity"], Name: c["name"], Extracts: strings.Fields(c["extracts"]), MeasuredAs: c["measured_as"], Unit: c["unit"], Threshold: c["threshold"],
		Verdict: Verdict(c["verdict"]), Source: c["source"], Provenance: c["provenance"], Active: c["active"] == "yes", Inactive: c["inactive"], Note: c["note"]}
	if c["active"] != "yes" && c["active"] != "no" {
		return nil, fmt.Errorf("active is %q, neither yes nor no", c["active"])
	}
	if d.Threshold != "" {
		if _, err := strconv.ParseFloat(d.Threshold, 64); err != nil {
			return nil, fmt.Errorf("threshold %q is no number", d.Threshold)
		}
	}
	var err error
	if c["equation"] != "" {
		if d.Equation, err = Parse(c["equation"]); err != nil {
			return nil, err
		}
	}
	for _, f := range strings.Fields(c["inputs"]) {
		f, unit, _ := strings.Cut(f, ":")
		analyte, m, _ := strings.Cut(f, "@")
		n := needOf(analyte, m)
		if unit != "" {
			n.Unit = unit
		}
		d.Inputs = append(d.Inputs, n)
	}
	d.Domain, err = parseDomain(c["domain"])
	return d, err
}

func (d *Derivation) check(known Known) error {
	switch {
	case d.Quantity == "" || d.Name == "":
		return fmt.Errorf("a derived quantity has no name")
	case !known.Source(d.Source):
		return fmt.Errorf("source %q is not in the bibliography", d.Source)
	case !slices.Contains(verdicts, d.Verdict):
		return fmt.Errorf("unknown verdict %q", d.Verdict)
	case !slices.Contains(provenances, d.Provenance):
		return fmt.Errorf("unknown provenance %q", d.Provenance)
	case d.MeasuredAs != "" && !known.Analyte(d.MeasuredAs):
		return fmt.Errorf("unknown analyte %q", d.MeasuredAs)
	case !d.Active && d.Inactive == "":
		return fmt.Errorf("the row is inactive and does not say why")
	case !d.Active:
		return nil
	case d.Inactive != "":
		return fmt.Errorf("the row is active and has a reason not to be: %s", d.Inactive)
	case d.Provenance != seen && d.Provenance != computed:
		return fmt.Errorf("the row is active with the provenance %q: only what was read or computed may be", d.Provenance)
	case d.Equation == nil || d.Unit == "" || len(d.Extracts) == 0:
		return fmt.Errorf("an active row needs an equation, a unit and methods of its inputs")
	case d.Verdict == DoNotConvert:
		return fmt.Errorf("the row is active and says that nothing should be converted")
	}
	var names []string
	for _, n := range d.Inputs {
		names = append(names, n.Name)
		if !known.Analyte(n.Analyte) || n.Method != "" && !known.Method(n.Method, n.Analyte) {
			return fmt.Errorf("input %q is not known", n.Name)
		}
		for _, x := range d.Extracts {
			if n.Method == "" && n.Analyte != "pH" && !known.Method(x, n.Analyte) {
				return fmt.Errorf("method %q is not known for %s", x, n.Analyte)
			}
		}
	}
	slices.Sort(names)
	if !slices.Equal(names, d.Equation.Names()) {
		return fmt.Errorf("the equation %s uses %s, and the row gives %s", d.Equation, strings.Join(d.Equation.Names(), " "), strings.Join(names, " "))
	}
	return nil
}

// Derive is what the active rows come to for a sample, in the order of the
// table, once for each extract that gave every input. Nothing is derived where
// an input is missing or stands twice, outside the domain of a row, or where
// the outcome is not above zero.
func (t *Table) Derive(s *Sample) []Deduction {
	var out []Deduction
	for _, d := range t.Derived {
		reported := func(m Measured) bool { return m.Analyte == d.MeasuredAs }
		if !d.Active || d.MeasuredAs != "" && slices.ContainsFunc(s.Measured, reported) {
			continue
		}
		for _, x := range d.Extracts {
			if o, ok := d.derive(x, s); ok {
				out = append(out, o)
			}
		}
	}
	return out
}

func (d *Derivation) derive(extract string, s *Sample) (Deduction, bool) {
	o := Deduction{Row: d, Extract: extract, Standing: Inside}
	values := map[string]float64{}
	for _, n := range d.Inputs {
		if n.Method == "" && n.Analyte != "pH" {
			n.Method = extract
		}
		in := s.exactly(n)
		if in == nil {
			return o, false
		}
		o.Inputs = append(o.Inputs, *in)
		values[n.Name] = in.Value
	}
	y, err := d.Equation.Eval(values)
	if err != nil || y <= 0 {
		return o, false
	}
	for i := range d.Domain {
		c := &d.Domain[i]
		st, found := c.test(0, y, s)
		switch st {
		case Outside:
			return o, false
		case Unknown:
			say := c.String()
			if found != "" {
				say += ": " + found
			}
			o.Standing, o.Unknown = Unknown, append(o.Unknown, say)
		}
	}
	places := d.places(o.Inputs, values, y)
	o.Value = strconv.FormatFloat(y, 'f', places, 64)
	if v, err := strconv.ParseFloat(o.Value, 64); err != nil || v == 0 {
		return o, false // with the digits that were printed it is zero
	}
	if line, err := strconv.ParseFloat(d.Threshold, 64); err == nil {
		o.Above = y >= line
	}
	return o, true
}

// exactly is the one measured value of an analyte in the very unit of a need;
// nil where there is none or nobody says which of several.
func (s *Sample) exactly(n Need) (found *Measured) {
	if n.Analyte == "pH" {
		return s.find(n)
	}
	for i := range s.Measured {
		if m := &s.Measured[i]; m.Analyte == n.Analyte && m.Method == n.Method && m.Unit == n.Unit {
			if found != nil {
				return nil
			}
			found = m
		}
	}
	return found
}

// places is how many digits after the point an outcome is written with: what
// half a last digit of any one input comes to leaves no finer ones standing
// (five times that half is let pass, so that a digit is not lost to a small
// factor), and there are at most four significant ones.
func (d *Derivation) places(inputs []Measured, values map[string]float64, y float64) int {
	places := 3 - int(math.Floor(math.Log10(y)))
	for i, n := range d.Inputs {
		v := values[n.Name]
		var most float64
		for _, by := range []float64{v - inputs[i].Half, v + inputs[i].Half} {
			values[n.Name] = by
			if z, err := d.Equation.Eval(values); err == nil {
				most = math.Max(most, math.Abs(z-y))
			}
		}
		values[n.Name] = v
		if most > 0 {
			places = min(places, int(math.Floor(-math.Log10(2*most/5))))
		}
	}
	return max(0, places)
}
