package normalize

import (
	"io"
	"strings"

	"example.org/windrow/normalize/estimate"
)

// A Derived is a quantity worked out of several results of one record, such as
// the effective exchange capacity or the ratio of calcium to magnesium. Nobody
// measured it, and no record holds it: it is made of a record whenever it is
// shown, so that what an archive keeps is measurements and what can be worked
// out of them is worked out by the table in force.
type Derived struct {
	Quantity   string   `json:"quantity"` // such as ECEC, Ca:Mg, M3-PSR
	Name       string   `json:"name"`
	Value      Decimal  `json:"value"`
	Unit       string   `json:"unit"`   // "ratio" and "index" are no units
	Method     string   `json:"method"` // id of the method that gave the inputs which name none of their own
	Row        string   `json:"row"`    // id in the table of derived quantities, such as D005
	Equation   string   `json:"equation"`
	Inputs     []Input  `json:"inputs"` // results of the record
	InDomain   string   `json:"in_domain"`
	Unknown    []string `json:"unknown,omitempty"`   // conditions that nothing tells of
	Threshold  Decimal  `json:"threshold,omitempty"` // that the publication draws a line at
	Above      bool     `json:"above,omitempty"`     // the value is not below the threshold
	Verdict    string   `json:"verdict"`
	Status     Status   `json:"status"` // flagged where an input is
	Source     string   `json:"source"`
	Provenance string   `json:"provenance"`
	Note       string   `json:"note,omitempty"`
}

// Derive works out the quantities that follow from the results of a record,
// in the order of the table. A limit, an index, a result that is held or
// whose sample is, and an estimate are never an input; where an input is
// missing, or stands twice by one method, nothing is derived.
func Derive(rec *Record) []Derived {
	s := &estimate.Sample{LandUse: rec.Sample.LandUse}
	status := map[[2]string]Status{} // by analyte and method
	for _, res := range rec.Results {
		st := rowStatus(rec, res)
		if res.Restates || res.Missing != "" || res.Censored != "" || res.Method == "" || res.Basis == IndexBasis || res.Unit == "index" || st == Held || heldByFinding(res) {
			continue
		}
		s.Measured = append(s.Measured, measured(res)...)
		status[[2]string{res.Analyte, res.Method}] = worst(status[[2]string{res.Analyte, res.Method}], st)
	}
	var out []Derived
	for _, o := range equations().Derive(s) {
		r := o.Row
		d := Derived{Quantity: r.Quantity, Name: r.Name, Value: Decimal(o.Value), Unit: r.Unit, Method: o.Extract, Row: r.ID, Equation: r.Equation.String(),
			InDomain: string(o.Standing), Unknown: o.Unknown, Threshold: Decimal(r.Threshold), Above: o.Above, Verdict: string(r.Verdict), Status: OK,
			Source: r.Source, Provenance: r.Provenance, Note: r.Note}
		for i, in := range o.Inputs {
			d.Inputs = append(d.Inputs, Input{Name: r.Inputs[i].Name, Value: Decimal(in.Text), Unit: in.Unit, Origin: in.Origin})
			d.Status = worst(d.Status, status[[2]string{in.Analyte, in.Method}])
		}
		out = append(out, d)
	}
	return out
}

// Against says where the value lies as to the line that the publication draws;
// "" where it draws none.
func (d *Derived) Against() string {
	switch {
	case d.Threshold == "":
		return ""
	case d.Above:
		return "not below the threshold " + string(d.Threshold)
	}
	return "below the threshold " + string(d.Threshold)
}

// TraceDerived writes what is derived of a record, each with what it was
// worked out of, so that a pocket calculator finds it again. Errors of w end
// it silently.
func TraceDerived(w io.Writer, rec *Record) {
	t := &tracer{w: w}
	for i, d := range Derive(rec) {
		if i > 0 {
			t.line("")
		}
		t.line("%s (%s), worked out, not measured", d.Name, d.Quantity)
		t.field("value", "%s %s", d.Value, d.Unit)
		var with []string
		for _, in := range d.Inputs {
			with = append(with, in.Name+" = "+string(in.Value)+" "+in.Unit)
		}
		t.field("equation", "%s  with %s", d.Equation, strings.Join(with, ", "))
		t.field("", "the results by %s of this sample", methodName(d.Method))
		t.field("", "row %s: %s; this sample: %s", d.Row, d.Verdict, standings[estimate.Standing(d.InDomain)])
		if len(d.Unknown) > 0 {
			t.field("", "not known to hold: %s", strings.Join(d.Unknown, "; "))
		}
		if a := d.Against(); a != "" {
			t.field("", "%s", a)
		}
		if d.Status != OK {
			t.field("", "rests on a result that is %s", d.Status)
		}
		if d.Note != "" {
			t.field("", "note: %s", d.Note)
		}
		t.field("", "source: %s", cite(d.Source))
	}
}
