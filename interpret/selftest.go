package interpret

import (
	"fmt"
	"slices"
	"sort"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// An Example is a case that a rule set carries about itself: results, and
// what the tables must make of them.
type Example struct {
	Spot
	Name      string            `yaml:"name" rule:"required"`
	Source    string            `yaml:"source" rule:"required"`
	LandUse   string            `yaml:"land_use" rule:"required"`
	On        string            `yaml:"on" rule:"required"`
	Results   []ExampleResult   `yaml:"results" rule:"required"`
	Classes   map[string]string `yaml:"classes"`
	Lime      Num               `yaml:"lime_lb_per_1000_sq_ft"` // pure; 0 for none
	Sulfur    Num               `yaml:"sulfur_lb_per_1000_sq_ft"`
	Rates     map[string]Num    `yaml:"rates"`
	Questions []string          `yaml:"questions"`
}

// An ExampleResult is one value. Without a method it has the first one that
// the rule set's own tables name for the analyte.
type ExampleResult struct {
	Spot
	Analyte string `yaml:"analyte" rule:"required"`
	Value   Num    `yaml:"value" rule:"required"`
	Method  string `yaml:"method"`
	Class   string `yaml:"class"`
}

// record makes a record of an example's results.
func (rs *RuleSet) record(e *Example) *normalize.Record {
	rec := &normalize.Record{ID: "example-1", Status: normalize.OK, Sample: normalize.Sample{LandUse: e.LandUse, Sampled: e.On}}
	for _, x := range e.Results {
		m := x.Method
		if m == "" {
			m = rs.firstMethod(x.Analyte)
		}
		unit := unitOfAnalyte[x.Analyte]
		rec.Results = append(rec.Results, &normalize.Result{Analyte: x.Analyte, Method: m, MethodName: m, Basis: x.Analyte, Status: normalize.OK, Class: x.Class,
			Printed: normalize.Printed{Text: string(x.Value), Number: normalize.Decimal(x.Value), Unit: unit}, Value: normalize.Decimal(x.Value), Unit: unit})
	}
	return rec
}

func (rs *RuleSet) firstMethod(analyte string) string {
	var methods []string
	switch analyte {
	case "pH":
		methods = []string{"ph-water-1-1"}
		if len(rs.PH) > 0 {
			methods = rs.PH[0].Methods
		}
	case "buffer_pH", "acidity":
		if len(rs.Lime.Rates) > 0 {
			methods = rs.Lime.Rates[0].Methods
		}
	case "Pb":
		methods = rs.Lead.TotalMethods
	}
	if len(methods) > 0 {
		return methods[0]
	}
	for i := range rs.Ratings {
		if rs.Ratings[i].Analyte == analyte {
			return rs.Ratings[i].Methods[0]
		}
	}
	return ""
}

// runExamples compares each example with what the tables make of it.
func (rs *RuleSet) runExamples() []*ingest.Reason {
	var faults []*ingest.Reason
	for i := range rs.Examples {
		e := &rs.Examples[i]
		differ := func(key, what, want, got string) {
			if want != got {
				faults = append(faults, ruleFault("example-differs", e.Of(key), "the example "+quote(e.Name)+" comes out otherwise: "+what, want, got, "correct the example or the table it tests"))
			}
		}
		if _, ok := rs.Sources[e.Source]; !ok {
			differ("source", "its source", "a key of "+SourcesFile, e.Source)
		}
		a := Advise(rs.record(e), &normalize.Report{ID: "example", Status: normalize.OK}, rs, Ask{On: e.On})
		got := map[string]string{}
		for _, r := range a.Ratings {
			got[r.Analyte] = r.Class
		}
		for _, k := range keys(e.Classes) {
			differ("classes", "the class of "+k, e.Classes[k], got[k])
		}
		need := map[string]string{}
		for _, l := range a.Lines {
			need[l.ID] = l.Need
		}
		rounded := func(id string, like Num) string {
			n, ok := parseNum(need[id])
			if need[id] == "" || !ok {
				return "no advice"
			}
			return n.FloatString(places(string(like)))
		}
		if e.Lime != "" {
			differ("lime_lb_per_1000_sq_ft", "lime in lb/1000 sq ft", string(e.Lime), rounded("lime", e.Lime))
		}
		if e.Sulfur != "" {
			differ("sulfur_lb_per_1000_sq_ft", "sulfur in lb/1000 sq ft", string(e.Sulfur), rounded("sulfur", e.Sulfur))
		}
		for _, k := range keys(e.Rates) {
			differ("rates", k+" in lb/1000 sq ft", string(e.Rates[k]), rounded(k, e.Rates[k]))
		}
		var codes []string
		for _, q := range a.Questions {
			codes = append(codes, q.Code)
		}
		slices.Sort(codes)
		want := slices.Clone(e.Questions)
		slices.Sort(want)
		differ("questions", "the questions asked", fmt.Sprint(want), fmt.Sprint(codes))
	}
	return faults
}

func places(s string) int {
	for i, c := range s {
		if c == '.' {
			return len(s) - i - 1
		}
	}
	return 0
}

func keys[V any](m map[string]V) []string {
	var k []string
	for s := range m {
		k = append(k, s)
	}
	sort.Strings(k)
	return k
}
