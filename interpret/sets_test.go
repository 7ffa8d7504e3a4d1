package interpret

import (
	"fmt"
	"io/fs"
	"maps"
	"math/big"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret/rules"
	"example.org/windrow/normalize"
	"pgregory.net/rapid"
)

// At least three publications of different regions and methods, each with
// another extract for phosphorus or other bounds.
func TestBuiltInSetsAreIndependent(t *testing.T) {
	sets := allLoaded(t)
	if sets[0].ID != DefaultRuleSet {
		t.Errorf("the first rule set is %s", sets[0].ID)
	}
	methods, regions := map[string]bool{}, map[string]bool{}
	for _, rs := range sets {
		regions[rs.Region] = true
		for _, table := range rs.Ratings {
			if table.Analyte == "P" {
				for _, m := range table.Methods {
					methods[strings.SplitN(m, "-icp", 2)[0]] = true
				}
			}
		}
		total := 0
		for _, p := range Provenances {
			total += rs.Rows[p]
		}
		t.Logf("%-30s %3d rows: %v", rs.ID, total, rs.Rows)
		if rs.ID != "tri-state-2020" && rs.Rows[Memory] > 0 {
			t.Errorf("%s rests on memory", rs.ID)
		}
	}
	for _, m := range []string{"mehlich-3", "mehlich-1", "modified-morgan", "bray-p1", "olsen"} {
		if !methods[m] {
			t.Errorf("no rule set rates phosphorus by %s", m)
		}
	}
	if len(regions) < 7 {
		t.Errorf("regions: %v", regions)
	}
}

// drawnFor is a record that a laboratory of the region could have printed.
func drawnFor(t *rapid.T, rs *RuleSet) *normalize.Record {
	use := rs.LandUses[rapid.IntRange(0, len(rs.LandUses)-1).Draw(t, "use")]
	rec := recordOf(use.Name, res("pH", dec(t, "pH", 40, 85, 1), "ph-water-1-1"))
	for i := range rs.Lime.Rates {
		r := &rs.Lime.Rates[i]
		if r.Kind == kindTable {
			if slices.Contains(r.For, use.ID) && rapid.Bool().Draw(t, "acidity") {
				rec.Results = append(rec.Results, res("acidity", dec(t, "of the buffer", 0, 280, 1), r.Methods[0]))
			}
		} else if rapid.Bool().Draw(t, "buffer") {
			rec.Results = append(rec.Results, res("buffer_pH", dec(t, "bpH", 520, 680, 2), r.Methods[0]))
			break
		}
	}
	if rapid.Bool().Draw(t, "has CEC") {
		rec.Results = append(rec.Results, res("CEC", dec(t, "CEC", 10, 300, 1), "summation"))
	}
	seen := map[string]bool{}
	for i := range rs.Ratings {
		r := &rs.Ratings[i]
		if seen[r.Analyte] || !slices.Contains(r.For, use.ID) || r.Analyte == "OM" || !rapid.Bool().Draw(t, "has "+r.Analyte) {
			continue
		}
		seen[r.Analyte] = true
		top := r.Classes[len(r.Classes)-1].From.rat()
		most := int(new(big.Rat).Mul(top, rat(20, 1)).Num().Int64()/max(1, top.Denom().Int64())) + 10
		rec.Results = append(rec.Results, res(r.Analyte, dec(t, r.Analyte, 0, most, 1), r.Methods[0]))
	}
	if rapid.Bool().Draw(t, "has texture") {
		tex := res("texture", "", "hydrometer")
		tex.Class = rapid.SampledFrom([]string{"sand", "sandy loam", "loam", "clay loam", "silt loam", "clay"}).Draw(t, "texture")
		rec.Results = append(rec.Results, tex)
	}
	return rec
}

// For every rule set: a soil that is less acid never gets more lime, lime and
// sulfur are never given to one soil, a nutrient at or above optimum gets no
// more than its maintenance, every line, caution and class names a row with a
// known source, and a figure that is no publication's is told. Common sense,
// no source.
func TestEverySetKeepsItsPromises(t *testing.T) {
	for _, rs := range allLoaded(t) {
		t.Run(rs.ID, func(t *testing.T) {
			lines, enough := 0, 0
			rapid.Check(t, func(t *rapid.T) {
				rec := drawnFor(t, rs)
				a := Advise(rec, okReport, rs, Ask{On: "2026-04-01"})
				lo := rapid.IntRange(400, 850).Draw(t, "lower")
				hi := rapid.IntRange(lo, 860).Draw(t, "higher")
				at := func(v int) *big.Rat {
					return needOf(Advise(set(rec, "pH", new(big.Rat).SetFrac64(int64(v), 100).FloatString(2)), okReport, rs, Ask{}), "lime")
				}
				if x, y := at(lo), at(hi); x != nil && y != nil && y.Cmp(x) > 0 {
					t.Fatalf("pH %d gets %s lb, pH %d gets %s lb", lo, x.FloatString(2), hi, y.FloatString(2))
				}
				lime, sulf := needOf(a, "lime"), needOf(a, "sulfur")
				if lime != nil && lime.Sign() > 0 && sulf != nil && sulf.Sign() > 0 {
					t.Fatal("lime and sulfur for one soil")
				}
				weak := false
				check := func(what string, bs []Basis) {
					if len(bs) == 0 {
						t.Fatalf("%s rests on nothing", what)
					}
					for _, b := range bs {
						if _, ok := rs.Sources[b.Source]; !ok || b.Row == "" || b.At == "" || b.Provenance == "" {
							t.Fatalf("%s: %+v", what, b)
						}
					}
				}
				for _, l := range a.Lines {
					lines++
					check(l.ID, l.Basis)
					for _, b := range l.Basis {
						weak = weak || !b.Provenance.Published()
					}
				}
				for _, c := range a.Cautions {
					check(c.ID, c.Basis)
				}
				for _, r := range a.Ratings {
					if r.Class == "" {
						continue
					}
					check(r.Analyte, r.Basis)
					if rank(r.Class) < rank(Optimum) {
						continue
					}
					for n, by := range map[string]string{"P2O5": "P", "K2O": "K", "Mg": "Mg"} {
						most := new(big.Rat)
						if tab := rs.table(a.LandUse.ID, n); tab != nil {
							most = tab.Maintenance.rat()
						}
						if need := needOf(a, n); by == r.Analyte && need != nil {
							enough++
							if need.Cmp(most) > 0 {
								t.Fatalf("%s is %s and gets %s of %s", r.Analyte, r.Class, need.FloatString(2), n)
							}
						}
					}
				}
				if weak && len(a.Disclosure) == 0 {
					t.Fatal("a weak row was used and not disclosed")
				}
			})
			if lines == 0 || enough == 0 {
				t.Errorf("%d lines, %d of them for enough: nothing was tested", lines, enough)
			}
		})
	}
}

// The nearest thing to a table of another method is nothing: no set rates a
// value by a method that its own tables do not name.
func TestNoSetRatesAnotherMethod(t *testing.T) {
	for _, rs := range allLoaded(t) {
		for _, u := range rs.LandUses {
			for _, m := range methodIDs {
				named := slices.ContainsFunc(rs.Ratings, func(r RatingTable) bool {
					return r.Analyte == "P" && slices.Contains(r.For, u.ID) && slices.Contains(r.Methods, m)
				})
				if g := rs.rate(res("P", "40", m), u.ID, ground{}); (g.Class != "") != named {
					t.Errorf("%s, %s, phosphorus by %s: class %q", rs.ID, u.ID, m, g.Class)
				}
			}
		}
	}
}

// The lime table of the 1995 edition was recalled and not read, so it answers
// nobody; the reason stands beside it and on the page of the rule sets. Were
// it used, the memory would be told in plain words.
func TestMemoryIsNotUsedAndWouldBeTold(t *testing.T) {
	rs := setNamed(t, "tri-state-2020")
	rec := recordOf("field corn", res("pH", "5.6", "ph-water-1-1"), res("buffer_pH", "6.65", "sikora-buffer"))
	if a := Advise(rec, okReport, rs, Ask{On: "2026-04-01"}); needOf(a, "lime") != nil || !asks(a, "lime-not-in-tables") || a.Rests[Memory] > 0 {
		t.Errorf("%+v %+v", a.Lines, a.Questions)
	}
	if page := string(Reference([]*RuleSet{rs})); !strings.Contains(page, "Not in use: lime by smp-buffer, sikora-buffer") || !strings.Contains(page, "edition of 2020") || !strings.Contains(page, "| not in use |") {
		t.Error("the page does not say why the table is not used")
	}
	used := copied(rs)
	used.Lime.Rates[0].Inactive = ""
	used.Lime.Material, used.Lime.Cup = loaded(t).Lime.Material, loaded(t).Lime.Cup
	a := Advise(rec, okReport, used, Ask{On: "2026-04-01"})
	if needOf(a, "lime") == nil || !strings.Contains(strings.Join(a.Disclosure, " "), "lime rests on from memory, not checked") {
		t.Fatalf("%+v", a.Disclosure)
	}
	// Between two lines of the table the one with less lime is taken: 2.4 tons for 6.7 is 2.1 at goal 6.5.
	within(t, quo(needOf(a, "lime"), tonsAcre), "2.1", "0.0001")
	for _, set := range allLoaded(t) {
		for _, r := range set.rowList() {
			if r.provenance == Memory && !r.off {
				t.Errorf("%s: %s rests on memory and is in use", set.ID, r.id)
			}
		}
	}
}

func files(t *testing.T, more map[string]string) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	names, err := fs.Glob(rules.FS, "*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		b, err := fs.ReadFile(rules.FS, n)
		if err != nil {
			t.Fatal(err)
		}
		out[n] = &fstest.MapFile{Data: b}
	}
	for n, text := range more {
		out[n] = &fstest.MapFile{Data: []byte(text)}
	}
	return out
}

const goodOverride = `overrides: windrow-overrides/1
of: mehlich-3-home
by: P. Larkin, Finch County office
on: 2026-02-01
changes:
  - row: N001
    key: rate
    was: "2.5"
    now: "2"
    why: Our garden trials need no more.
`

// An office's own figure is used, cited with its name and date, and told; the
// publication's is kept beside it.
func TestOfficeOverrides(t *testing.T) {
	sets, faults := LoadRules(rules.FS, fstest.MapFS{"overrides.yaml": {Data: []byte(goodOverride)}})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	rs := sets[0]
	if rs.SHA256 == loaded(t).SHA256 || rs.Rows[Office] != 1 {
		t.Errorf("%s, %v", rs.SHA256, rs.Rows)
	}
	a := Advise(garden(goodGarden...), okReport, rs, Ask{On: "2026-04-01"})
	if n := needOf(a, "N"); n == nil || n.Cmp(rat(2, 1)) != 0 {
		t.Fatalf("%v", n)
	}
	said := fmt.Sprint(a.Disclosure, a.Sources)
	for _, w := range []string{"The advice on nitrogen rests on a figure that this office has set itself.", "set by P. Larkin, Finch County office on February 1, 2026"} {
		if !strings.Contains(said, w) {
			t.Errorf("not told: %s in %s", w, said)
		}
	}
	if o := a.Rules.Overridden; len(o) != 1 || o[0].Was != "2.5" || o[0].Now != "2" || o[0].On != "2026-02-01" {
		t.Errorf("%+v", o)
	}
	if loaded(t).Rows[Office] != 0 {
		t.Error("the built-in rule set was changed")
	}
}

// Each slip in what an office adds is a fault with a place and a reason.
func TestFaultyAdditions(t *testing.T) {
	georgia, err := fs.ReadFile(rules.FS, "georgia-piedmont.yaml")
	if err != nil {
		t.Fatal(err)
	}
	override := func(old, new string) map[string]string {
		if !strings.Contains(goodOverride, old) {
			t.Fatalf("%q is not in the override", old)
		}
		return map[string]string{"overrides.yaml": strings.Replace(goodOverride, old, new, 1)}
	}
	takes := func(old, new string) map[string]string {
		if !strings.Contains(string(georgia), old) {
			t.Fatalf("%q is not in the rule set", old)
		}
		return map[string]string{"georgia-piedmont.yaml": strings.Replace(string(georgia), old, new, 1)}
	}
	for code, more := range map[string]map[string]string{
		"override-does-not-fit": override(`was: "2.5"`, `was: "3"`),
		"unknown-row":           override("row: N001", "row: N999"),
		"unknown-key":           override("key: rate", "key: source"),
		"not-a-number":          override(`now: "2"`, `now: about two`),
		"not-a-date":            override("on: 2026-02-01", "on: February"),
		"wrong-format":          override("windrow-overrides/1", "windrow-overrides/9"),
		"missing-key":           override("    why: Our garden trials need no more.\n", ""),
		"unknown-rule-set":      override("of: mehlich-3-home", "of: mehlich-9-home"),
		"unknown-part":          takes("parts: [retest, lead, metals, watch, cautions]", "parts: [retest, leads, metals, cautions]"),
		"nothing-to-take":       takes("from: georgia-coastal-plain, parts: [land_uses, lime,", "from: georgia-coastal-plain, parts: [land_uses, retest, lime,"),
	} {
		t.Run(code, func(t *testing.T) {
			_, faults := LoadRules(files(t, more))
			if !slices.ContainsFunc(faults, func(f *ingest.Reason) bool { return f.Code == code }) {
				t.Errorf("%v", faults)
			}
			for _, f := range faults {
				if f.Rule.Line == 0 || f.What == "" {
					t.Errorf("no place or reason: %s", f)
				}
			}
		})
	}
}

// What a set takes stands in its file of origin, for its own uses only.
func TestTakenParts(t *testing.T) {
	rs := setNamed(t, "georgia-piedmont")
	from := map[string]bool{}
	for _, c := range rs.Cautions {
		from[c.At.File] = true
		if c.ID == "L200" {
			t.Error("a caution for fields was taken into a rule set without fields")
		}
	}
	if got := slices.Sorted(maps.Keys(from)); !slices.Equal(got, []string{"mehlich-3-home.yaml"}) {
		t.Error(got)
	}
	if a, b := setNamed(t, "georgia-coastal-plain"), rs; &a.LandUses[0] == &b.LandUses[0] || a.LandUses[0].ID != b.LandUses[0].ID {
		t.Error("land uses are shared, or are not the same")
	}
}

// Arsenic and cadmium: a total and an extract are told apart, and neither is
// set against a limit. Salts hold feeding back; a pH of 8.5 is told as a sign
// of sodium (Colorado State University, salts note).
func TestHazards(t *testing.T) {
	rs := loaded(t)
	said := func(rs []*normalize.Result) map[string]bool {
		out := map[string]bool{}
		for _, c := range Advise(garden(rs...), okReport, loaded(t), Ask{On: "2026-04-01"}).Cautions {
			out[c.ID] = true
		}
		return out
	}
	ph := res("pH", "6.5", "ph-water-1-1")
	for name, c := range map[string]struct {
		of        *normalize.Result
		say, hush string
	}{
		"total arsenic":       {res("As", "22", "total-digestion"), "arsenic-total", "metal-extract"},
		"arsenic by Mehlich":  {res("As", "2", "mehlich-3"), "metal-extract", "arsenic-total"},
		"total cadmium":       {res("Cd", "3", "aqua-regia"), "cadmium-total", "arsenic-total"},
		"cadmium by DTPA":     {res("Cd", "0.2", "dtpa"), "metal-extract", "cadmium-total"},
		"nitrate":             {res("NO3-N", "12", "kcl-2m"), "nitrate", "metal-extract"},
		"phosphorus is no As": {res("P", "50", "mehlich-3"), "limits", "metal-extract"},
	} {
		if got := said([]*normalize.Result{ph, c.of}); !got[c.say] || got[c.hush] {
			t.Errorf("%s: %v", name, got)
		}
	}
	if got := said([]*normalize.Result{res("pH", "8.5", "ph-water-1-1")}); !got["sodium"] {
		t.Errorf("%v", got)
	}
	if got := said([]*normalize.Result{res("pH", "8.4", "ph-water-1-1")}); got["sodium"] {
		t.Errorf("%v", got)
	}
	loam := res("texture", "", "hydrometer")
	loam.Class = "loam"
	a := Advise(garden(ph, loam, res("EC", "0.6", "ph-water-1-2"), res("P", "5", "mehlich-3-icp")), okReport, rs, Ask{On: "2026-04-01"})
	if a.Plan != nil {
		t.Error("fertilizer is bought for a soil that is rated as too salty")
	}
	for _, l := range a.Lines {
		if slices.Contains(knownNutrients, l.ID) && (l.When != Not || l.Need != "0") {
			t.Errorf("%s is advised on a soil that is rated as too salty", l.ID)
		}
	}
}

// Lime in the soil makes sulfur hopeless at any pH (Royal Horticultural
// Society, Acidifying soil: a fizz with vinegar shows it).
func TestSulfurIsHopelessInLimySoil(t *testing.T) {
	fizz := res("carbonate", "", "fizz")
	fizz.Class = "Moderate"
	none := res("carbonate", "0", "fizz")
	for _, c := range []struct {
		r    *normalize.Result
		limy bool
	}{{nil, false}, {fizz, true}, {none, false}, {res("carbonate", "1.5", "x"), true}} {
		if calcareous(c.r) != c.limy {
			t.Errorf("%+v", c.r)
		}
	}
	v := rat(62, 10)
	l, q := loaded(t).sulfurLine(UseRef{ID: "blueberry"}, span{low: v, high: v, value: v}, "clay", true, areas{per: []int{100}})
	if q != nil || l.When != Not || l.Need != "0" || !strings.Contains(l.What, "Do not try") {
		t.Errorf("%+v %+v", l, q)
	}
}

// The steps of the Michigan table (0.7, 1.2, 1.6, 2.5 lb/100 sq ft from pH 7.0
// to 6.0 and 1.8, 2.8, 3.2, 3.2 from 6.0 to 5.0): whole spans as printed, parts
// in proportion, no amount beyond the table.
func TestSulfurBySteps(t *testing.T) {
	r := &setNamed(t, "massachusetts-modified-morgan").Sulfur[0]
	for _, c := range [][3]string{{"6.0", "sand", "18"}, {"7.0", "sand", "25"}, {"6.0", "SL", "28"}, {"7.0", "sandy loam", "40"}, {"7.0", "loam", "48"}, {"7.0", "clay loam", "57"}, {"5.5", "sandy loam", "14"}, {"6.5", "loam", "40"}} {
		got, _ := r.rate(num(t, c[0]), c[1])
		if got == nil {
			t.Fatalf("%v: none", c)
		}
		within(t, got, c[2], "0")
	}
	for _, c := range [][2]string{{"7.2", "loam"}, {"6.5", "clay"}} {
		if got, _ := r.rate(num(t, c[0]), c[1]); got != nil {
			t.Errorf("%v: %s", c, got.FloatString(2))
		}
	}
}
