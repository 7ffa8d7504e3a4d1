package interpret

import (
	"bytes"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/interpret/rules"
	"example.org/windrow/normalize"
)

// allowing is the built-in rule set whose table of phosphorus may be read from
// these conversions.
func allowing(t *testing.T, ids string) (*RuleSet, string) {
	t.Helper()
	const table = "methods: [mehlich-3-icp, mehlich-3]\n    unit: mg/kg\n"
	fsys := fstest.MapFS{}
	names, err := fs.Glob(rules.FS, "*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		b, err := fs.ReadFile(rules.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		if name != ruleFile && name != SourcesFile {
			continue // the others take parts of this one
		}
		if name == ruleFile {
			if !bytes.Contains(b, []byte("analyte: P\n    "+table)) {
				t.Fatal("the table of phosphorus is not where it was")
			}
			b = bytes.Replace(b, []byte("analyte: P\n    "+table), []byte("analyte: P\n    "+table+"    from_estimates: ["+ids+"]\n"), 1)
		}
		fsys[name] = &fstest.MapFile{Data: b}
	}
	sets, faults := LoadRules(fsys)
	var said []string
	for _, f := range faults {
		said = append(said, f.Error())
	}
	if len(sets) == 0 {
		return nil, strings.Join(said, "\n")
	}
	return sets[0], strings.Join(said, "\n")
}

// bray is 22 mg/kg by Bray-P1 with what equations say that Mehlich-3 would
// find. F002 of the published conversions: 1.35 x 22 is 29.7, medium in the
// table (23 up to 36).
func bray(es ...normalize.Estimate) *normalize.Result {
	r := res("P", "22", "bray-p1")
	r.Estimates = es
	return r
}

func of(id, value, domain string) normalize.Estimate {
	return normalize.Estimate{Analyte: "P", Method: "mehlich-3-icp", Value: normalize.Decimal(value), Unit: "mg/kg", Equation: id, InDomain: domain, Verdict: "estimate only",
		Unknown: []string{"field soils of Ohio and Indiana"}, Source: "culman-2019", Provenance: "seen", Steps: []normalize.Step{}}
}

func between(e normalize.Estimate, low, high string) normalize.Estimate {
	e.Interval = &normalize.Interval{Low: normalize.Decimal(low), High: normalize.Decimal(high), Percent: 90}
	return e
}

func TestAnEstimateIsRatedOnlyWhereTheTableAllowsIt(t *testing.T) {
	e := of("F002", "29.7", "unknown")
	if g := loaded(t).rate(bray(e), "lawn", ground{}); g.Class != "" || g.Estimate != nil || !strings.Contains(g.Not, "another test method") {
		t.Errorf("the rule set does not allow it: %+v", g)
	}
	rs, faults := allowing(t, "F002, F056")
	if faults != "" {
		t.Fatal(faults)
	}
	g := rs.rate(bray(e), "lawn", ground{})
	if g.Class != Medium || g.Estimate == nil || g.Estimate.Equation != "F002" || g.Estimate.Value != "29.7" || !strings.HasPrefix(g.Decided, "an estimate of 29.7 mg/kg by Mehlich-3 (ICP) (conversion F002): ") {
		t.Errorf("%+v", g)
	}
	if g.Value != "22" || len(g.Bands) > 0 || g.ToNext != "" {
		t.Errorf("a value by one method stands on the scale of another: %+v", g)
	}
	for name, c := range map[string]struct {
		r    *normalize.Result
		want string
	}{
		"outside its domain":             {bray(of("F002", "29.7", "outside")), "another test method"},
		"an equation not named":          {bray(of("F020", "29.7", "unknown")), "another test method"},
		"two that do not agree":          {bray(e, of("F056", "40", "unknown")), "do not agree"},
		"an interval over two classes":   {bray(between(e, "20", "50")), "reaches over more than one class: 20 to 50 mg/kg"},
		"an estimate of something else":  {bray(func() normalize.Estimate { x := e; x.Analyte = "K"; return x }()), "another test method"},
		"a limit of detection":           {func() *normalize.Result { r := bray(e); r.Censored = "<"; return r }(), "another test method"},
		"an estimate for another method": {bray(func() normalize.Estimate { x := e; x.Method = "olsen"; return x }()), "another test method"},
	} {
		if g := rs.rate(c.r, "lawn", ground{}); g.Class != "" || g.Estimate != nil || !strings.Contains(g.Not, c.want) {
			t.Errorf("%s: %+v", name, g)
		}
	}
	if g := rs.rate(bray(between(e, "25", "35")), "lawn", ground{}); g.Class != Medium || g.Estimate == nil || g.Estimate.Low != "25" {
		t.Errorf("an interval inside one class: %+v", g)
	}
	if g := rs.rate(bray(e, of("F056", "30", "unknown")), "lawn", ground{}); g.Class != Medium {
		t.Errorf("two that agree: %+v", g)
	}
	// A measurement by the table's own method is never passed over.
	m := res("P", "50", "mehlich-3-icp")
	m.Estimates = []normalize.Estimate{e}
	if g := rs.rate(m, "lawn", ground{}); g.Class != Optimum || g.Estimate != nil {
		t.Errorf("%+v", g)
	}
}

func TestRulesNameConversionsThatGiveWhatTheyRate(t *testing.T) {
	for ids, want := range map[string]string{"F999": "there is no such conversion", "F010": "makes no estimates: coefficients not seen", "F001": "does not give what the table rates", "K001": "does not give what the table rates"} {
		if _, faults := allowing(t, ids); !strings.Contains(faults, want) {
			t.Errorf("%s: %q", ids, faults)
		}
	}
}

// Advice carries the mark, and a doubt about the measured value takes the
// class away again.
func TestAdviceMarksAnEstimate(t *testing.T) {
	rs, _ := allowing(t, "F002")
	rec := garden(res("pH", "6.5", "ph-water-1-1"), bray(of("F002", "29.7", "unknown")))
	find := func(a *Advice) Rating {
		for _, g := range a.Ratings {
			if g.Analyte == "P" {
				return g
			}
		}
		t.Fatal("no rating of P")
		return Rating{}
	}
	if g := find(Advise(rec, okReport, rs, Ask{})); g.Class != Medium || g.Estimate == nil {
		t.Errorf("%+v", g)
	}
	rec.Results[1].Status = normalize.Flagged
	if g := find(Advise(rec, okReport, rs, Ask{})); g.Class != "" || g.Estimate != nil {
		t.Errorf("%+v", g)
	}
}
