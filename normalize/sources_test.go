package normalize

import (
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// Every row of every table, every check and every step names a key of the
// bibliography, and every key is used or is one of the three for what has no
// source.
func TestEverySourceIsKnown(t *testing.T) {
	used := map[string]int{"definition": 0, "common-practice": 0, "from-memory": 0}
	use := func(where, key string) {
		if _, ok := bibliography()[key]; !ok {
			t.Errorf("%s: the bibliography has no %q", where, key)
		}
		used[key]++
	}
	for _, u := range unit.Standard().Units {
		use("unit "+u.ID, u.Source)
	}
	for _, b := range unit.Standard().Bases {
		use("basis "+b.ID, b.Source)
	}
	for s, w := range unit.Standard().Weights {
		use("weight "+s, w.Source)
	}
	for _, m := range method.Standard().Methods {
		use("method "+m.ID, m.Source)
	}
	for _, a := range method.Standard().Analytes {
		use("analyte "+a.ID, a.Source)
		if _, ok := unit.Standard().Unit(a.Unit); !ok {
			t.Errorf("analyte %s: unknown unit %q", a.ID, a.Unit)
		}
	}
	for _, c := range check.All() {
		use("check "+c.Code, c.Source)
	}
	for _, f := range truths(t) {
		for _, rec := range Build(f.extract(t), Options{}).Records {
			for _, res := range rec.Results {
				for _, s := range append(append([]Step{}, res.Steps...), res.FormSteps...) {
					use("step "+s.Rule, s.Source)
				}
			}
		}
	}
	for k := range bibliography() {
		if _, ok := used[k]; !ok {
			t.Errorf("source %q is used by nothing", k)
		}
	}
	t.Logf("uses by key: %v", used)
}

func TestBibliographyRefuses(t *testing.T) {
	for name, y := range map[string]string{
		"no text":              "- key: a\n  provenance: seen\n",
		"unknown provenance":   "- key: a\n  text: b\n  provenance: hearsay\n",
		"a key given twice":    "- key: a\n  text: b\n  provenance: seen\n- key: a\n  text: c\n  provenance: seen\n",
		"an unknown field":     "- key: a\n  text: b\n  provenance: seen\n  year: 1999\n",
		"something not a list": "key: a\n",
	} {
		if _, err := parseSources([]byte(y)); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func TestTablesRefuse(t *testing.T) {
	weights := "symbol,weight,charge,source,provenance\nP,30.97,,iupac-weights,seen\nO,15.999,,iupac-weights,seen\n"
	bases := "id,element,formula,customary,spellings,source,provenance,note\n"
	head := "id,name,dimension,factor,ucum,spellings,source,provenance,note\n"
	for name, c := range map[string]struct{ units, bases, want string }{
		"a unit without source":      {head + "x,x,ratio,1,1,,,seen,\n", bases, "no source"},
		"a unit without provenance":  {head + "x,x,ratio,1,1,,definition,,\n", bases, "no source or no provenance"},
		"a factor of nothing":        {head + "x,x,ratio,0,1,,definition,definition,\n", bases, "factor"},
		"an unknown dimension":       {head + "x,x,luck,1,1,,definition,definition,\n", bases, "dimension"},
		"a unit without UCUM code":   {head + "x,x,ratio,1,,,definition,definition,\n", bases, "UCUM"},
		"one spelling for two units": {head + "x,x,ratio,1,1,q,definition,definition,\ny,y,ratio,1,1,Q,definition,definition,\n", bases, "claimed by two"},
		"a dimension left empty":     {head + "x,x,ratio,1,1,,definition,definition,\n", bases, "no unit with factor 1"},
	} {
		_, err := unit.Load(fstest.MapFS{"units.csv": {Data: []byte(c.units)}, "bases.csv": {Data: []byte(c.bases)}, "weights.csv": {Data: []byte(weights)}})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	an := "id,name,element,unit,kind,possible_low,possible_high,usual_low,usual_high,spellings,source,provenance,note\n"
	me := "id,name,kind,analytes,spellings,source,provenance,note\n"
	for name, c := range map[string]struct{ analytes, methods, want string }{
		"an analyte without source":       {an + "P,p,P,mg/kg,element,,,,,,,seen,\n", me, "no source"},
		"an element in percent":           {an + "P,p,P,%,element,,,,,,definition,seen,\n", me, "mg/kg"},
		"a range upside down":             {an + "P,p,P,mg/kg,element,9,1,,,,definition,seen,\n", me, "range"},
		"a method for an unknown analyte": {an, me + "x,x,total,Qq,,definition,seen,\n", "unknown analyte"},
		"a method of unknown kind":        {an, me + "x,x,magic,,,definition,seen,\n", "kind"},
	} {
		_, err := method.Load(fstest.MapFS{"analytes.csv": {Data: []byte(c.analytes)}, "methods.csv": {Data: []byte(c.methods)}})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
