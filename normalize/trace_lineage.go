package normalize

import (
	"fmt"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/formula"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// storedNumber is the rule by which the number that a cell holds takes the
// place of the one it shows.
const storedNumber = "cell/stored-number"

// A Lineage is all that there is to say of where a value comes from, with
// every source in full: what [Trace] writes, for programs.
type Lineage struct {
	Report     string        `json:"report"`
	Record     string        `json:"record"`
	Lab        Lab           `json:"lab"`
	Number     string        `json:"report_no,omitempty"`
	File       string        `json:"file"`
	SHA256     string        `json:"original_sha256"`
	Mapping    MappingRef    `json:"mapping"`
	Software   string        `json:"software"`
	Tables     string        `json:"tables"`
	Sample     string        `json:"lab_sample_id"`
	Label      string        `json:"client_sample_id,omitempty"`
	Analyte    string        `json:"analyte"`
	Name       string        `json:"analyte_name"`
	Detail     string        `json:"detail,omitempty"`
	Method     string        `json:"method"`
	MethodName string        `json:"method_name"`
	Basis      string        `json:"basis"`
	Restates   bool          `json:"restates,omitempty"` // another result says the same and counts
	Printed    Printed       `json:"printed"`
	Steps      []LineageStep `json:"steps"`
	Value      Decimal       `json:"value,omitempty"`
	Censored   string        `json:"censored,omitempty"`
	Unit       string        `json:"unit"`
	Class      string        `json:"class,omitempty"`
	Why        string        `json:"not_converted,omitempty"`
	Estimates  []Estimate    `json:"estimates,omitempty"` // what other methods would find
	Exactly    string        `json:"value_before_rounding,omitempty"`
	Rounding   string        `json:"rounding,omitempty"` // in words
	Volumetric *Quantity     `json:"volumetric,omitempty"`
	Forms      Forms         `json:"forms"`
	FormSteps  []LineageStep `json:"form_steps,omitempty"`
	Findings   []Finding     `json:"findings,omitempty"`
	// Sources are those that estimates and findings name, by key.
	Sources map[string]Source `json:"sources,omitempty"`
	Status  Status            `json:"status"`
}

// A LineageStep is a step with its factor in both forms, its outcome before
// rounding, and its source in full.
type LineageStep struct {
	Name         string   `json:"name"` // such as step 2
	Rule         string   `json:"rule"`
	What         string   `json:"what"`
	From         Quantity `json:"from"`
	Factor       string   `json:"factor,omitempty"`         // as a fraction where it is one
	Decimal      string   `json:"factor_decimal,omitempty"` // ten significant digits
	DecimalExact bool     `json:"factor_decimal_exact,omitempty"`
	Equation     string   `json:"equation,omitempty"`
	Inputs       []Input  `json:"inputs,omitempty"` // with their origin in words
	Exactly      string   `json:"before_rounding"`  // the outcome, with four digits more than the value has
	To           Quantity `json:"to"`
	Exact        bool     `json:"exact"`
	Source       Source   `json:"source"`

	start string // where it starts, before rounding
}

// LineageOf collects the lineage of a result.
func LineageOf(rep *Report, rec *Record, res *Result) *Lineage {
	l := &Lineage{Report: rep.ID, Record: rec.ID, Lab: rep.Lab, Number: rep.Number, File: title(rep.Source), SHA256: rep.Source.SHA256, Mapping: rep.Mapping, Software: rep.Version, Tables: rep.Tables,
		Sample: rec.Sample.LabID, Label: rec.Sample.ClientLabel, Analyte: res.Analyte, Name: analyteName(res.Analyte), Detail: res.Detail, Method: res.Method, MethodName: res.MethodName, Basis: res.Basis, Restates: res.Restates,
		Printed: res.Printed, Steps: []LineageStep{}, Value: res.Value, Censored: res.Censored, Unit: res.Unit, Class: res.Class, Why: res.Why, Volumetric: res.Volumetric, Forms: res.Forms, Estimates: res.Estimates,
		Findings: append(append([]Finding{}, res.Findings...), rec.Checks...), Status: rowStatus(rec, res)}
	l.Sources = map[string]Source{}
	for _, e := range res.Estimates {
		l.Sources[e.Source] = sourceOf(e.Source)
	}
	for _, f := range l.Findings {
		l.Sources[f.Source] = sourceOf(f.Source)
	}
	if l.Printed.Place.File == "" {
		l.Printed.Place = l.Printed.Place.In(l.File)
	}
	if p := l.Printed.Label; p != nil && p.Place.File == "" {
		l.Printed.Label = &mappings.PrintedLabel{Text: p.Text, Place: p.Place.In(l.File)} // the record's is shared
	}
	x, err := formula.Number(string(res.Printed.Number))
	if err != nil {
		x = nil
	}
	n, _ := unit.ParseNumber(string(res.Printed.Number)) // none has no digits
	more := unit.Digits(n.Sig) + 4
	for i := range res.Steps {
		var s LineageStep
		s, x = lineageOfStep(fmt.Sprintf("step %d", i+1), rep, &res.Steps[i], x, more)
		l.Steps = append(l.Steps, s)
	}
	for i := range res.FormSteps {
		s, _ := lineageOfStep(fmt.Sprintf("form %d", i+1), rep, &res.FormSteps[i], x, more)
		l.FormSteps = append(l.FormSteps, s)
	}
	switch {
	case res.Value == "" || x == nil:
	case len(res.Steps) == 0:
		l.Exactly, l.Rounding = string(res.Value), "as printed: no conversion"
	default:
		l.Exactly = formula.Text(x, more)
		l.Rounding = fmt.Sprintf("rounded to %s: one more than the %d printed, never fewer than four, without useless zeros", digitsInWords(unit.Digits(n.Sig)), n.Sig)
		if whole, _ := formula.Number(string(res.Value)); whole != nil && whole.Cmp(x) == 0 {
			l.Rounding = "exactly; nothing was rounded"
		}
	}
	return l
}

func digitsInWords(n int) string {
	if n == 1 {
		return "1 digit"
	}
	return fmt.Sprintf("%d digits", n)
}

func analyteName(id string) string {
	if a, ok := method.Standard().Analyte(id); ok {
		return a.Name
	}
	return id
}

// lineageOfStep computes a step once more, from the number before rounding,
// for what the record does not keep: the outcome before it was rounded.
// Where the step can't be computed the record's own outcome stands.
func lineageOfStep(name string, rep *Report, s *Step, x *apd.Decimal, digits int) (LineageStep, *apd.Decimal) {
	l := LineageStep{Name: name, Rule: s.Rule, What: s.What, From: s.From, Factor: s.Factor, Equation: s.Equation, To: s.To, Exact: s.Exact, Source: sourceOf(s.Source), Exactly: string(s.To.Value), start: string(s.From.Value)}
	for _, in := range s.Inputs {
		in.Origin = originInWords(rep, &in)
		if s.Rule == storedNumber {
			in.Origin = "held by the cell of the report, which shows fewer digits"
		}
		l.Inputs = append(l.Inputs, in)
	}
	f, ferr := formula.Factor(s.Factor)
	if ferr == nil {
		l.Decimal = formula.Text(f, 10)
		back, err := formula.Number(l.Decimal)
		l.DecimalExact = err == nil && back.Cmp(f) == 0
	}
	if x == nil {
		return l, nil
	}
	l.start = formula.Text(x, digits)
	var y *apd.Decimal
	switch {
	case ferr == nil:
		y = formula.Times(x, f)
	case s.Rule == storedNumber && len(s.Inputs) == 1:
		y, _ = formula.Number(string(s.Inputs[0].Value))
	default:
		names := map[string]*apd.Decimal{"x": x}
		for _, in := range s.Inputs {
			if v, err := formula.Number(string(in.Value)); err == nil {
				names[in.Name] = v
			}
		}
		y, _ = formula.Eval(s.Equation, names)
	}
	if y != nil {
		l.Exactly = formula.Text(y, digits)
	}
	return l, y
}

// originInWords says where an input comes from, for one who looks for it.
func originInWords(rep *Report, in *Input) string {
	switch in.Origin {
	case "report":
		return "printed in the report"
	case "mapping":
		if in.Rule != nil {
			return "stated by the mapping " + in.Rule.String()
		}
		if rep.Mapping.File != "" {
			return "stated by the mapping " + rep.Mapping.File
		}
		return "stated by the mapping"
	case "definition":
		return "by definition or convention"
	}
	return in.Origin
}

// sourceOf is the entry of the bibliography under a key; one with the key
// alone where there is none.
func sourceOf(key string) Source {
	if s, ok := bibliography()[key]; ok {
		return s
	}
	return Source{Key: key}
}
