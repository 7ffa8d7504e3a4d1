package interpret

import (
	"fmt"
	"maps"
	"math/big"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"pgregory.net/rapid"
)

// An advisor gives advice; the properties below are asked of the real one, and
// of spoilt ones, which each must find out.
type advisor func(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice

func honest(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice {
	return Advise(rec, okReport, rs, ask)
}

// A property draws a case for a rule set and says what is wrong with the
// advice, "" where nothing is. done counts the cases that tested something.
type property struct {
	name string
	says func(t *rapid.T, rs *RuleSet, by advisor, done *int) string
	only func(*RuleSet) bool // the rule sets that can test it; nil for all
}

func properties() []property {
	return []property{
		{"no more lime for a higher pH", limeFalls, func(rs *RuleSet) bool { return rs.Lime.gives() }},
		{"nothing over a limit in force", keepsTheLaw, feedsLawns},
		{"no more than maintenance at optimum", keepsMaintenance, nil},
		{"less for a richer soil", ratesFall, givesAmounts},
		{"the printed unit changes nothing", unitChangesNothing, nil},
		{"areas scale linearly", areasScale, givesAnything},
	}
}

func feedsLawns(rs *RuleSet) bool {
	return slices.ContainsFunc(rs.LandUses, func(u LandUse) bool { return u.Turf && rs.table(u.ID, "N") != nil })
}

func givesAmounts(rs *RuleSet) bool {
	return slices.ContainsFunc(rs.Nutrients, func(t NutrientTable) bool {
		return t.By != "" && slices.ContainsFunc(t.Rows, func(r NutrientRow) bool { return r.Rate != "" && r.Rate.rat().Sign() > 0 })
	})
}

func givesAnything(rs *RuleSet) bool {
	return rs.Lime.gives() || len(rs.Sulfur) > 0 || givesAmounts(rs) || feedsLawns(rs)
}

// Every property holds for every rule set that can test it, and over them all
// every use of the land is drawn.
func TestProperties(t *testing.T) {
	for _, p := range properties() {
		t.Run(p.name, func(t *testing.T) {
			sets := 0
			for _, rs := range allLoaded(t) {
				if p.only != nil && !p.only(rs) {
					continue
				}
				sets++
				done := 0
				t.Run(rs.ID, func(t *testing.T) {
					rapid.Check(t, func(t *rapid.T) {
						if says := p.says(t, rs, honest, &done); says != "" {
							t.Fatal(says)
						}
					})
					if done == 0 {
						t.Error("nothing was tested")
					}
				})
			}
			t.Logf("%d rule sets", sets)
		})
	}
}

// spoilt are advisors with one fault each, and the property that must find it.
func spoilt() map[string]struct {
	property string
	by       advisor
} {
	type fault = struct {
		property string
		by       advisor
	}
	phOf := func(rec *normalize.Record) *big.Rat {
		for _, r := range rec.Results {
			if r.Analyte == "pH" {
				v, _ := ratOf(r.Value)
				return v
			}
		}
		return new(big.Rat)
	}
	change := func(id string, how func(*Line, *normalize.Record, Ask)) advisor {
		return func(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice {
			a := Advise(rec, okReport, rs, ask)
			a.Lines = slices.Clone(a.Lines)
			for i := range a.Lines {
				if id == "" || a.Lines[i].ID == id {
					how(&a.Lines[i], rec, ask)
				}
			}
			return a
		}
	}
	unlawful := func(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice {
		ask.Region = "" // as if the state had no law
		return Advise(rec, okReport, rs, ask)
	}
	return map[string]fault{
		"lime grows with the pH": {"no more lime for a higher pH", change("lime", func(l *Line, rec *normalize.Record, _ Ask) {
			if l.Need != "" && l.Need != "0" {
				l.Need = plain(mul(phOf(rec), rat(10, 1)), 3)
			}
		})},
		"a sweet soil is limed": {"no more lime for a higher pH", func(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice {
			a := Advise(rec, okReport, rs, ask)
			if phOf(rec).Cmp(rat(70, 10)) > 0 {
				a.Lines = append([]Line{{ID: "lime", Need: "500"}}, a.Lines...)
			}
			return a
		}},
		"the law is not known": {"nothing over a limit in force", unlawful},
		"nitrogen all at once": {"nothing over a limit in force", change("N", func(l *Line, _ *normalize.Record, _ Ask) { l.Parts = nil })},
		"five times the nitrogen": {"nothing over a limit in force", change("N", func(l *Line, _ *normalize.Record, _ Ask) {
			if n, ok := parseNum(l.Need); ok {
				l.Need = plain(mul(n, rat(5, 1)), 3)
				l.Parts = append(append(append([]Part{}, l.Parts...), l.Parts...), l.Parts...)
				l.Parts = append(append([]Part{}, l.Parts...), l.Parts...)
			}
		})},
		"fed in the closed months": {"nothing over a limit in force", change("", func(l *Line, _ *normalize.Record, _ Ask) { l.NotBefore = "" })},
		"enough is fed too": {"no more than maintenance at optimum", change("", func(l *Line, _ *normalize.Record, _ Ask) {
			if l.ID == "P2O5" || l.ID == "K2O" || l.ID == "Mg" {
				l.When, l.Need = Season, "9"
			}
		})},
		"a rich soil gets more": {"less for a richer soil", change("", func(l *Line, rec *normalize.Record, _ Ask) {
			for _, r := range rec.Results {
				if l.ID == map[string]string{"P": "P2O5", "K": "K2O", "Mg": "Mg"}[r.Analyte] && l.When != Not {
					l.Need = string(r.Value)
				}
			}
		})},
		"the printed number is rated": {"the printed unit changes nothing", func(rec *normalize.Record, rs *RuleSet, ask Ask) *Advice {
			raw := *rec
			raw.Results = nil
			for _, r := range rec.Results {
				c := *r
				if c.Printed.Number != "" {
					c.Value = c.Printed.Number
				}
				raw.Results = append(raw.Results, &c)
			}
			return Advise(&raw, okReport, rs, ask)
		}},
		"a large area gets a higher rate": {"areas scale linearly", change("", func(l *Line, _ *normalize.Record, ask Ask) {
			if ask.AreaSqFt != "" && l.Need != "" && l.Need != "0" {
				l.Need += "1"
			}
		})},
		"amounts for the area are those for a thousand": {"areas scale linearly", change("", func(l *Line, _ *normalize.Record, ask Ask) {
			if l.Product != nil && ask.AreaSqFt != "" {
				p := *l.Product
				p.PerArea = slices.Clone(p.PerArea)
				p.PerArea[0].Lb = p.Exact
				l.Product = &p
			}
		})},
	}
}

// A property that cannot fail tests nothing: each fault is found in every rule
// set in which it shows at all, and at least in one.
func TestPropertiesBite(t *testing.T) {
	byName := map[string]property{}
	for _, p := range properties() {
		byName[p.name] = p
	}
	found := map[string]int{}
	faults := spoilt()
	for _, what := range slices.Sorted(maps.Keys(faults)) {
		f := faults[what]
		p, ok := byName[f.property]
		if !ok {
			t.Fatal(f.property)
		}
		var in, not []string
		for _, rs := range allLoaded(t) {
			if p.only != nil && !p.only(rs) {
				continue
			}
			caught, shown, done := false, false, 0
			for seed := range 400 {
				says := ""
				rapid.Custom(func(rt *rapid.T) int {
					seen := func(rec *normalize.Record, set *RuleSet, ask Ask) *Advice {
						a, b := f.by(rec, set, ask), honest(rec, set, ask)
						shown = shown || !reflect.DeepEqual(a.Lines, b.Lines)
						return a
					}
					says = p.says(rt, rs, seen, &done)
					return 0
				}).Example(seed)
				if says != "" {
					caught = true
					break
				}
			}
			switch {
			case caught:
				in = append(in, rs.ID)
				found[f.property]++
			case shown:
				not = append(not, rs.ID)
			}
		}
		t.Logf("%s: found in %s", what, strings.Join(in, ", "))
		if len(in) == 0 || len(not) > 0 {
			t.Errorf("%s: found in %d rule sets, not found in %v", what, len(in), not)
		}
	}
	for _, p := range properties() {
		if found[p.name] == 0 {
			t.Errorf("no fault tests %q", p.name)
		}
	}
}

// Common sense, no source: a soil that is less acid never needs more lime.
func limeFalls(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	rec := drawnFor(t, rs)
	lo := rapid.IntRange(400, 860).Draw(t, "lower")
	hi := rapid.IntRange(lo, 860).Draw(t, "higher")
	at := func(v int) *big.Rat {
		return needOf(by(set(rec, "pH", new(big.Rat).SetFrac64(int64(v), 100).FloatString(2)), rs, Ask{On: "2026-04-01"}), "lime")
	}
	x, y := at(lo), at(hi)
	if x == nil || y == nil {
		return ""
	}
	if x.Sign() > 0 {
		*done++
	}
	if y.Cmp(x) > 0 {
		return fmt.Sprintf("pH %d gets %s lb of lime, pH %d gets %s lb", lo, x.FloatString(2), hi, y.FloatString(2))
	}
	return ""
}

// The laws are read here from their file alone, and not by way of the code that
// holds advice to them: what is in force on the day for a householder of the
// state, by topic.
func keepsTheLaw(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	rec := drawnFor(t, rs)
	var lawns []string
	for _, u := range rs.LandUses {
		if u.Turf && rs.table(u.ID, "N") != nil {
			lawns = append(lawns, u.Name)
		}
	}
	use := rapid.SampledFrom(lawns).Draw(t, "lawn")
	if rec.Sample.LandUse != use { // the draw was for another use: keep the soil's pH, which every use has
		rec = recordOf(use, append(rec.Results[:1:1], lawnResults(t, rs, use)...)...)
	}
	region := rapid.SampledFrom([]string{"CT", "FL", "MA", "MN", "NJ", "NY", "CX"}).Draw(t, "region")
	on := fmt.Sprintf("%d-%02d-%02d", rapid.IntRange(2024, 2030).Draw(t, "year"), rapid.IntRange(1, 12).Draw(t, "month"), rapid.IntRange(1, 28).Draw(t, "day"))
	rec.Sample.Sampled = rapid.SampledFrom([]string{on, "2026-03-01", "2024-01-01"}).Draw(t, "sampled")
	a := by(rec, rs, Ask{On: on, Region: region})
	for _, law := range rs.Laws.Laws {
		if law.Region != region || law.Who == professional || law.InForce.From > on || law.InForce.Until != "" && on > law.InForce.Until {
			continue
		}
		for _, l := range a.Lines {
			need, ok := parseNum(l.Need)
			if !ok || need.Sign() <= 0 || l.When == Not || len(l.Each) > 0 {
				continue
			}
			parts := int64(max(1, len(l.Parts)))
			once := quo(need, rat(parts, 1))
			over := func(x *big.Rat) bool { *done++; return x.Cmp(law.Figure.rat()) > 0 }
			bad := false
			switch {
			case law.Topic == "turf-n-once" && l.ID == "N", law.Topic == "turf-p2o5-once" && l.ID == "P2O5":
				bad = over(once)
			case law.Topic == "turf-n-year" && l.ID == "N", law.Topic == "turf-p2o5-year" && l.ID == "P2O5":
				bad = over(need)
			case law.Topic == "turf-closed" && slices.Contains(law.Closed.Nutrients, l.ID):
				*done++
				day := on
				if l.NotBefore != "" {
					day = l.NotBefore
				}
				md := day[5:]
				bad = day < on || md >= law.Closed.From || md <= law.Closed.To // every such law goes over the new year
			case law.Topic == "turf-p-by-test" && l.ID == "P2O5":
				*done++
				bad = law.Figure != "" && olderThan(rec.Sample.Sampled, on, string(law.Figure))
			}
			if bad {
				return fmt.Sprintf("%s, %s on %s: %s lb of %s in %d parts, not before %q, against %s", use, region, on, l.Need, l.ID, parts, l.NotBefore, law.ID)
			}
		}
	}
	return ""
}

// lawnResults are values by the first method of each table for a use.
func lawnResults(t *rapid.T, rs *RuleSet, use string) []*normalize.Result {
	var out []*normalize.Result
	id := rs.Use(use).ID
	for _, n := range []string{"P", "K"} {
		for i := range rs.Ratings {
			if r := &rs.Ratings[i]; r.Analyte == n && slices.Contains(r.For, id) {
				out = append(out, res(n, dec(t, "lawn "+n, 0, 1500, 1), r.Methods[0]))
				break
			}
		}
	}
	return out
}

// olderThan reports whether more than whole years lie between two days, by
// their digits alone.
func olderThan(from, to, years string) bool {
	var y, m, d, n int
	if _, err := fmt.Sscanf(from+" "+years, "%d-%d-%d %d", &y, &m, &d, &n); err != nil {
		return true
	}
	return fmt.Sprintf("%04d-%02d-%02d", y+n, m, d) < to
}

// A nutrient at or above optimum gets no more than the maintenance of its
// table, by a line, by feeding plants or by what is bought for another.
func keepsMaintenance(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	rec := drawnFor(t, rs)
	a := by(rec, rs, Ask{On: "2026-04-01", PlantAge: rapid.SampledFrom([]string{"", "0", "1", "4", "30"}).Draw(t, "age")})
	for _, g := range a.Ratings {
		n := map[string]string{"P": "P2O5", "K": "K2O", "Mg": "Mg", "Zn": "Zn"}[g.Analyte]
		if n == "" || rank(g.Class) < rank(Optimum) {
			continue
		}
		most := new(big.Rat)
		if tab := rs.table(a.LandUse.ID, n); tab != nil && tab.By == g.Analyte {
			most = tab.Maintenance.rat()
		}
		if need := needOf(a, n); need != nil {
			*done++
			if need.Cmp(most) > 0 {
				return fmt.Sprintf("%s is %s and gets %s of %s", g.Analyte, g.Class, need.FloatString(3), n)
			}
		}
		if a.Plan != nil && a.Plan.Gives[n] != "" && num(t, a.Plan.Gives[n]).Cmp(add(most, rat(1, 10000))) > 0 {
			return fmt.Sprintf("%s is %s and the plan gives %s of %s", g.Analyte, g.Class, a.Plan.Gives[n], n)
		}
		for _, l := range a.Lines {
			for _, f := range l.Each {
				*done++
				parts, _ := Grade(f.Grade).parts()
				if k := map[string]int{"P2O5": 1, "K2O": 2}[n]; k > 0 && rank(g.Class) > rank(Optimum) && parts[k].Sign() > 0 {
					return fmt.Sprintf("%s is %s and each plant gets %s", g.Analyte, g.Class, f.Grade)
				}
			}
		}
	}
	return ""
}

// Common sense, no source: a soil with more of it never gets more of it.
func ratesFall(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	var amounts []*NutrientTable
	for i := range rs.Nutrients {
		if rs.Nutrients[i].By != "" {
			amounts = append(amounts, &rs.Nutrients[i])
		}
	}
	tab := rapid.SampledFrom(amounts).Draw(t, "amounts")
	analyte, n := tab.By, tab.Nutrient
	use := rapid.SampledFrom(tab.For).Draw(t, "use of the land")
	rec := recordOf(use, res("pH", dec(t, "pH", 55, 70, 1), "ph-water-1-1"), res("CEC", dec(t, "CEC", 20, 200, 1), "summation"))
	for i := range rs.Ratings {
		if r := &rs.Ratings[i]; r.Analyte == analyte && slices.Contains(r.For, use) {
			rec.Results = append(rec.Results, res(analyte, "1", r.Methods[0]))
			break
		}
	}
	lo := rapid.IntRange(0, 200).Draw(t, "lower")
	hi := rapid.IntRange(lo, 220).Draw(t, "higher")
	x := needOf(by(set(rec, analyte, fmt.Sprint(lo)), rs, Ask{}), n)
	y := needOf(by(set(rec, analyte, fmt.Sprint(hi)), rs, Ask{}), n)
	if x == nil || y == nil {
		return ""
	}
	if x.Sign() > 0 {
		*done++
	}
	if y.Cmp(x) > 0 {
		return fmt.Sprintf("%s %d gets %s, %d gets %s", analyte, lo, x.FloatString(3), hi, y.FloatString(3))
	}
	return ""
}

// The same soil, printed in other units, is put on the schema by normalize and
// advised on: every class and every line is the same.
func unitChangesNothing(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	rec := drawnFor(t, rs)
	acre := &mappings.AreaBasis{DepthIn: "20/3", LbPerAcre: "2000000", Source: "mapping"}
	build := func(other bool) *normalize.Record {
		s := &mappings.SampleExtract{}
		for _, r := range rec.Results {
			rd := mappings.Reading{Analyte: r.Analyte, Method: r.Method, Number: string(r.Value), Words: r.Class, Unit: r.Unit, PrintedUnit: r.Unit}
			if r.Class != "" {
				rd.Number, rd.Unit, rd.PrintedUnit = "", "class", ""
			}
			if other && r.Unit == "mg/kg" {
				v, _ := ratOf(r.Value)
				switch len(r.Analyte+string(r.Value)) % 3 {
				case 0:
					rd.Unit, rd.Number, rd.Area = "lb/acre", plain(mul(v, rat(2, 1)), 6), acre
				case 1:
					rd.Unit, rd.Number = "g/kg", plain(quo(v, rat(1000, 1)), 9)
				default:
					rd.Unit, rd.Number = "mg/100g", plain(quo(v, rat(10, 1)), 6)
				}
				rd.PrintedUnit = rd.Unit
			}
			rd.Printed = rd.Number + rd.Words
			s.Readings = append(s.Readings, rd)
		}
		out := normalize.Build(&mappings.Extract{Source: ingest.SourceRef{Name: "a", SHA256: strings.Repeat("0", 64)}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{}).Records[0]
		out.ID, out.Sample.LandUse, out.Sample.Sampled = rec.ID, rec.Sample.LandUse, rec.Sample.Sampled
		return out
	}
	one, two := build(false), build(true)
	doubt := func(r *normalize.Record) bool {
		return r.Status != normalize.OK || slices.ContainsFunc(r.Results, func(x *normalize.Result) bool { return x.Status != normalize.OK })
	}
	if doubt(one) || doubt(two) {
		return "" // the checks of a record may doubt a drawn soil; what they say is about the printed page
	}
	a, b := by(one, rs, Ask{On: "2026-04-01", PlantAge: "3"}), by(two, rs, Ask{On: "2026-04-01", PlantAge: "3"})
	for i := range a.Ratings {
		x, y := a.Ratings[i], b.Ratings[i]
		if x.Class != "" {
			*done++
		}
		if x.Class != y.Class || x.Decided != y.Decided {
			return fmt.Sprintf("%s %s %s is %q, %s %s is %q", x.Analyte, x.Printed, x.PrintUnit, x.Class, y.Printed, y.PrintUnit, y.Class)
		}
	}
	if len(a.Lines) != len(b.Lines) || a.Outcome != b.Outcome {
		return "the printed unit changed what is advised"
	}
	for i := range a.Lines {
		if !reflect.DeepEqual(a.Lines[i], b.Lines[i]) {
			return "the printed unit changed " + a.Lines[i].ID
		}
	}
	return ""
}

// The rate never depends on the area, and pounds for an area are the rate
// times the area to within one step of rounding.
func areasScale(t *rapid.T, rs *RuleSet, by advisor, done *int) string {
	rec := drawnFor(t, rs)
	area := int64(rapid.IntRange(10, 90000).Draw(t, "area"))
	a, b := by(rec, rs, Ask{On: "2026-04-01"}), by(rec, rs, Ask{On: "2026-04-01", AreaSqFt: fmt.Sprint(area)})
	if len(a.Lines) != len(b.Lines) {
		return "the area changed what is advised"
	}
	for i, l := range b.Lines {
		if l.Need != a.Lines[i].Need || l.Working != a.Lines[i].Working || len(l.Parts) != len(a.Lines[i].Parts) {
			return fmt.Sprintf("the area changed the rate of %s from %s to %s", l.ID, a.Lines[i].Need, l.Need)
		}
		for _, p := range []*Amount{l.Amount, l.Product} {
			if p == nil {
				continue
			}
			*done++
			own := p.PerArea[0]
			if own.SqFt != fmt.Sprint(area) {
				return "the first amount is for " + own.SqFt + " square feet"
			}
			exact := quo(mul(num(t, p.Exact), rat(area, 1)), rat(1000, 1))
			d := new(big.Rat).Abs(sub(exact, num(t, own.Lb)))
			if step := add(mul(exact, rat(1, 10)), rat(1, 20)); d.Cmp(step) > 0 { // a step is at most a tenth, or 0.05 lb
				return fmt.Sprintf("%s for %d square feet: exactly %s, told %s", p.Of, area, exact.FloatString(4), own.Lb)
			}
		}
	}
	return ""
}
