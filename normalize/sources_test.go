package normalize

import (
	"io/fs"
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
	for _, m := range unit.Standard().Lime {
		use("lime material "+m.ID, m.Source)
	}
	for _, c := range unit.Standard().Conversions {
		use("conversion "+c.ID, c.Source)
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
	for _, r := range Equations().Rows {
		for _, k := range r.Sources {
			use("conversion "+r.ID, k)
		}
	}
	for _, d := range Equations().Derived {
		use("derived quantity "+d.ID, d.Source)
	}
	for _, s := range Equations().Scales {
		use("scale "+s.ID, s.Source)
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

// Loading refuses what a row must not be: each with a complete table except
// for the one fault.
func TestTablesRefuse(t *testing.T) {
	good := map[string]string{}
	for _, n := range []string{"units.csv", "bases.csv", "weights.csv", "lime-materials.csv", "conversions.csv"} {
		b, err := fs.ReadFile(unit.Files(), n)
		if err != nil {
			t.Fatal(err)
		}
		good[n] = string(b)
	}
	load := func(name, text string) error {
		m := fstest.MapFS{}
		for n, b := range good {
			if n == name {
				b = text
			}
			m[n] = &fstest.MapFile{Data: []byte(b)}
		}
		_, err := unit.Load(m, knownSource)
		return err
	}
	if err := load("", ""); err != nil {
		t.Fatal("the tables as they are: ", err)
	}
	u, b, w, l, c := "units.csv", "bases.csv", "weights.csv", "lime-materials.csv", "conversions.csv"
	for name, x := range map[string]struct{ file, row, want string }{
		"a unit without source":           {u, "x,x,ratio,1,,1,,,seen,yes,,,", "no source"},
		"a unit without provenance":       {u, "x,x,ratio,1,,1,,definition,,yes,,,", "no source or no provenance"},
		"a source nobody knows":           {u, "x,x,ratio,1,,1,,hearsay-1999,seen,yes,,,", "no source \"hearsay-1999\""},
		"active from memory":              {u, "x,x,ratio,1,,1,,from-memory,from memory,yes,,,", "can't be active"},
		"active by common practice":       {c, "x,x,a,b,y = x,1,,,common-practice,common practice,yes,,,", "can't be active"},
		"inactive without reason":         {c, "x,x,a,b,y = x,1,,,common-practice,common practice,no,,,", "needs its reason"},
		"active with a reason against it": {c, "x,x,a,b,y = x,1,,,definition,definition,yes,because,,", "has a reason why it is not"},
		"neither active nor not":          {u, "x,x,ratio,1,,1,,definition,definition,perhaps,,,", "not yes or no"},
		"a factor of nothing":             {u, "x,x,ratio,0,,1,,definition,definition,yes,,,", "factor"},
		"an unknown dimension":            {u, "x,x,luck,1,,1,,definition,definition,yes,,,", "dimension"},
		"a unit without UCUM code":        {u, "x,x,ratio,1,,,,definition,definition,yes,,,", "UCUM"},
		"one spelling for two units":      {u, "x,x,ratio,1,,1,MG/KG,definition,definition,yes,,,", "claimed by two"},
		"an oxide without its element":    {b, "xx,P,K2O,,,iupac-weights,computed,yes,,,", "has no P"},
		"an element nobody weighed":       {b, "xx,P,PXx,,,iupac-weights,computed,yes,,,", "no atomic weight"},
		"a formula that is none":          {b, "xx,P,P2(O5,,,iupac-weights,computed,yes,,,", "can't be read"},
		"a weight of nothing":             {w, "Xx,0,,,iupac-weights,seen,yes,,,", "weight"},
		"a charge of nine":                {w, "Xx,1,9,,iupac-weights,seen,yes,,,", "charge"},
		"a weight that is not to be used": {w, "Xx,1,1,,iupac-weights,seen,no,because,,", "can't be inactive"},
		"lime without calcium":            {l, "x,x,NaO,,iupac-weights,computed,yes,,,", "neither calcium nor magnesium"},
		"a conversion without equation":   {c, "x,x,a,b,,1,,,definition,definition,yes,,,", "an equation"},
		"a conversion told twice":         {c, "unit,x,a,b,y = x,1,,,definition,definition,yes,,,", "id of its own"},
		"a factor that is no formula":     {c, "x,x,a,b,y = x,CO2 / -1,,,definition,definition,yes,,,", "not a positive"},
	} {
		if err := load(x.file, good[x.file]+x.row+"\n"); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	short := strings.Split(good[u], "\n")
	if err := load(u, strings.Join(short[:2], "\n")); err == nil || !strings.Contains(err.Error(), "no unit with factor 1") {
		t.Errorf("dimensions left empty: %v", err)
	}
}

func TestMethodTablesRefuse(t *testing.T) {
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
