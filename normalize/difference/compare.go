package difference

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// readBy are the fields of a report that say by what it was read.
var readBy = []string{"software", "tables"}

// Compare tells how now differs from old, an earlier version of the same
// report. Neither is changed, and neither may be nil.
func Compare(old, now *normalize.Report) *Report {
	d := &Report{ID: now.ID, Old: old.Status, New: now.Status}
	a, b := objectOf(frame(old)), objectOf(frame(now))
	o := originsOf(old, now)
	for _, f := range fieldsOf("", a, b, "records", "reasons") {
		if slices.Contains(readBy, f.Name) || f.Name == "mapping.sha256" || f.Name == "mapping.file" {
			d.Reading = append(d.Reading, f)
		} else {
			d.Fields = append(d.Fields, f)
		}
	}
	d.reasons(old.Reasons, now.Reasons, o)
	partner := pairRecords(old.Records, now.Records)
	of := make([]*normalize.Record, len(now.Records))
	for i, j := range partner {
		if j >= 0 {
			of[j] = old.Records[i]
		}
	}
	for j, rec := range now.Records {
		d.record(of[j], rec, o)
	}
	for i, rec := range old.Records {
		if partner[i] < 0 {
			d.record(rec, nil, o)
		}
	}
	d.dropFollowing()
	return d
}

// dropFollowing leaves out the results of which nothing differs but that they
// are held because the report is, or were: the reasons of the report tell.
func (d *Report) dropFollowing() {
	if d.Old == d.New || d.Old != normalize.Held && d.New != normalize.Held {
		return
	}
	d.Results = slices.DeleteFunc(d.Results, func(r Result) bool {
		return r.Kind == Changed && len(r.Fields) == 1 && r.Fields[0].Name == "status" && (r.OldStat == string(normalize.Held)) != (r.NewStat == string(normalize.Held))
	})
}

// frame is a report without what is compared by itself.
func frame(r *normalize.Report) *normalize.Report {
	c := *r
	c.Records, c.Reasons = nil, nil
	return &c
}

func (d *Report) reasons(old, now []*ingest.Reason, o origins) {
	key := func(r *ingest.Reason) string { return text(objectOf(r)) }
	partner := pair(old, now, key)
	add := func(k Kind, r *ingest.Reason) {
		d.Reasons = append(d.Reasons, Reason{Kind: k, Code: r.Code, Severity: r.Severity, What: r.What, Where: r.Where, Because: o.causes(true)})
	}
	for j, r := range now {
		if !slices.Contains(partner, j) {
			add(New, r)
		}
	}
	for i, r := range old {
		if partner[i] < 0 {
			add(Gone, r)
		}
	}
}

// record compares two versions of one sample, of which one may be nil.
func (d *Report) record(old, now *normalize.Record, o origins) {
	switch {
	case old == nil:
		d.records = append(d.records, now.ID)
		d.Records = append(d.Records, Record{Kind: New, Record: now.ID, Sample: sampleName(now), Because: o.causes(true)})
		for _, r := range now.Results {
			d.result(now, nil, r, o)
		}
		return
	case now == nil:
		d.Records = append(d.Records, Record{Kind: Gone, Record: old.ID, Sample: sampleName(old), Because: o.causes(true)})
		for _, r := range old.Results {
			d.result(old, r, nil, o)
		}
		return
	}
	a, b := *old, *now
	a.Results, b.Results, a.Client, b.Client = nil, nil, nil, nil
	// The status of a sample follows from its results and from the report's,
	// which are compared by themselves.
	fields := fieldsOf("", objectOf(&a), objectOf(&b), "results", "status")
	fields = append(fields, clientFields(old.Client, now.Client)...)
	before := len(d.Results)
	if len(fields) > 0 {
		read, set := false, false
		for _, f := range fields {
			read = read || strings.HasPrefix(f.Name, "sample.") || strings.HasPrefix(f.Name, "client") || f.Name == "place"
			set = set || f.Name == "sample.defaults_used" || strings.HasPrefix(f.Name, "sample.register")
		}
		because := o.causes(read)
		if set {
			because = []Cause{BySettings}
		} else if onlyFound(because, fields) {
			because = []Cause{ByOthers}
		}
		d.Records = append(d.Records, Record{Kind: Changed, Record: now.ID, Sample: sampleName(now), Fields: fields, Because: because})
	}
	partner := pairResults(old.Results, now.Results)
	of := make([]*normalize.Result, len(now.Results))
	for i, j := range partner {
		if j >= 0 {
			of[j] = old.Results[i]
		}
	}
	for j, r := range now.Results {
		d.result(now, of[j], r, o)
	}
	for i, r := range old.Results {
		if partner[i] < 0 {
			d.result(now, r, nil, o)
		}
	}
	if len(fields) > 0 || len(d.Results) > before {
		d.records = append(d.records, now.ID)
	}
}

// clientFields says that what is known of a client differs, and not what it
// is.
func clientFields(a, b *normalize.Client) []Field {
	if a == nil {
		a = &normalize.Client{}
	}
	if b == nil {
		b = &normalize.Client{}
	}
	out := fieldsOf("client.", objectOf(a), objectOf(b))
	for i := range out {
		for _, s := range []*string{&out[i].Old, &out[i].New} {
			if *s != "" {
				*s = "(personal, not shown)"
			}
		}
	}
	return out
}

// result compares two versions of one result, of which one may be nil.
func (d *Report) result(rec *normalize.Record, old, now *normalize.Result, o origins) {
	r := Result{Kind: Changed, Record: rec.ID, Sample: sampleName(rec)}
	one := now
	if one == nil {
		one = old
	}
	r.Analyte, r.Detail, r.Place = one.Analyte, one.Detail, one.Printed.Place
	if old != nil {
		r.Old, r.OldStat = Value(old), string(old.Status)
	}
	if now != nil {
		r.New, r.NewStat = Value(now), string(now.Status)
	}
	switch {
	case old == nil:
		r.Kind, r.Because = New, o.causes(true)
	case now == nil:
		r.Kind, r.Because = Gone, o.causes(true)
	default:
		r.Fields = fieldsOf("", objectOf(old), objectOf(now))
		if len(r.Fields) == 0 {
			return
		}
		r.Ratio = Ratio(old, now)
		r.Because = o.causes(readOtherwise(old, now, r.Fields))
		if onlyFound(r.Because, r.Fields) {
			r.Because = []Cause{ByOthers}
		}
	}
	d.Results = append(d.Results, r)
}

// onlyFound reports whether nothing but what checks found differs, and neither
// mapping nor tables nor software do: then only other reports, which some
// checks look at, can have made the difference.
func onlyFound(because []Cause, fields []Field) bool {
	return slices.Equal(because, []Cause{Unexplained}) && !slices.ContainsFunc(fields, func(f Field) bool {
		return !slices.Contains([]string{"findings", "status", "checks"}, f.Name)
	})
}

// readOtherwise reports whether two results differ in what a mapping says or
// reads, so that the tables can't be all of the cause.
func readOtherwise(old, now *normalize.Result, fields []Field) bool {
	for _, f := range fields {
		if strings.HasPrefix(f.Name, "printed.") || slices.Contains([]string{"analyte", "detail", "method", "basis", "missing"}, f.Name) {
			return true
		}
	}
	declared := func(r *normalize.Result) string {
		var b strings.Builder
		for _, s := range append(slices.Clone(r.Steps), r.FormSteps...) {
			for _, in := range s.Inputs {
				if in.Origin != "definition" {
					b.WriteString(in.Name + " " + string(in.Value) + " " + in.Unit + "\n")
				}
			}
		}
		return b.String()
	}
	return declared(old) != declared(now)
}

// origins are what two versions name differently.
type origins struct{ mapping, tables, software bool }

func originsOf(old, now *normalize.Report) origins {
	return origins{mapping: old.Mapping != now.Mapping, tables: old.Tables != now.Tables, software: old.Version != now.Version}
}

// causes are what may have made a difference: of what the versions name
// differently, what can have a say. read says that something was read
// otherwise, in which the tables have no part; where nothing was, the mapping
// has none, unless there is nothing else.
func (o origins) causes(read bool) []Cause {
	var out []Cause
	if o.mapping && (read || !o.tables && !o.software) {
		out = append(out, ByMapping)
	}
	if o.tables && (!read || !o.mapping && !o.software) {
		out = append(out, ByTables)
	}
	if o.software {
		out = append(out, BySoftware)
	}
	if len(out) == 0 {
		out = append(out, Unexplained)
	}
	return out
}

// Value is a result's value in words, such as "<0.5 mg/kg".
func Value(r *normalize.Result) string {
	switch {
	case r.Missing != "":
		return "none"
	case r.Class != "":
		return r.Class
	case r.Value != "":
		return strings.TrimSpace(r.Censored + string(r.Value) + " " + r.Unit)
	case r.Volumetric != nil:
		return r.Censored + string(r.Volumetric.Value) + " " + r.Volumetric.Unit
	}
	return "not converted"
}

// Ratio is the newer value by the older one to six significant digits, "" when
// either is not a number other than 0, or when they are in different units.
func Ratio(old, now *normalize.Result) string {
	num := func(r *normalize.Result) (string, string) {
		if r.Value == "" && r.Volumetric != nil {
			return string(r.Volumetric.Value), r.Volumetric.Unit
		}
		return string(r.Value), r.Unit
	}
	a, ua := num(old)
	b, ub := num(now)
	x, ok1 := new(big.Rat).SetString(a)
	y, ok2 := new(big.Rat).SetString(b)
	if ua != ub || !ok1 || !ok2 || x.Sign() == 0 || y.Sign() == 0 {
		return ""
	}
	f, _ := y.Quo(y, x).Float64() // nearest is near enough for six digits
	return strconv.FormatFloat(f, 'g', 6, 64)
}

func sampleName(r *normalize.Record) string {
	switch {
	case r.Sample.LabID != "":
		return r.Sample.LabID
	case r.Sample.ClientLabel != "":
		return r.Sample.ClientLabel
	}
	return r.ID
}
