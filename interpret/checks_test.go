package interpret

import (
	"encoding/csv"
	"maps"
	"math/big"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret/rules"
	"example.org/windrow/normalize"
)

// loaded is the default rule set.
func loaded(t testing.TB) *RuleSet {
	t.Helper()
	return allLoaded(t)[0]
}

var loadOnce = sync.OnceValues(func() ([]*RuleSet, []*ingest.Reason) { return LoadRules(rules.FS) })

// allLoaded are the built-in rule sets. Nothing writes to a rule set, so the
// tests share them.
func allLoaded(t testing.TB) []*RuleSet {
	t.Helper()
	sets, faults := loadOnce()
	for _, f := range faults {
		t.Error(f)
	}
	if len(sets) == 0 {
		t.Fatal("no rule set was loaded")
	}
	return sets
}

func setNamed(t testing.TB, id string) *RuleSet {
	t.Helper()
	for _, rs := range allLoaded(t) {
		if rs.ID == id {
			return rs
		}
	}
	t.Fatal("there is no rule set " + id)
	return nil
}

func res(analyte, value, method string) *normalize.Result {
	u := unitOfAnalyte[analyte]
	return &normalize.Result{Analyte: analyte, Status: normalize.OK, Method: method, MethodName: method, Basis: analyte, Unit: u,
		Value: normalize.Decimal(value), Printed: normalize.Printed{Text: value, Number: normalize.Decimal(value), Unit: u}}
}

func recordOf(use string, rs ...*normalize.Result) *normalize.Record {
	return &normalize.Record{ID: "R1-1", Status: normalize.OK, Sample: normalize.Sample{LandUse: use, Sampled: "2026-03-01"}, Results: rs}
}

var okReport = &normalize.Report{ID: "R1", Status: normalize.OK}

type fatal interface{ Fatalf(string, ...any) }

func num(t fatal, s string) *big.Rat {
	r, ok := parseNum(s)
	if !ok {
		t.Fatalf("%q is no number", s)
	}
	return r
}

// within checks a figure against a published one and its tolerance.
func within(t *testing.T, got *big.Rat, want, tolerance string) {
	t.Helper()
	if d := new(big.Rat).Abs(sub(got, num(t, want))); d.Cmp(num(t, tolerance)) > 0 {
		t.Errorf("got %s, published %s, tolerance %s", got.FloatString(4), want, tolerance)
	}
}

// tennessee is the sulfur rule for blueberries (University of Tennessee, read
// in the source) without the row of the rule set, so that what the checks
// compare is not the file itself. TestRowsAreThosePublished holds the two
// together.
var tennessee = SulfurRule{ID: "L204", For: []string{"blueberry"}, To: "5.5", PerTenth: "2",
	Factors:  []Factor{{Textures: []string{"silt loam"}, By: "1"}, {Textures: []string{"clay"}, By: "4/3"}, {Textures: []string{"sand"}, By: "2/3"}},
	OnceOver: "30", FirstPart: "2/3", Months: 3, Hopeless: Hopeless{ID: "L215", PH: "7.5", Advice: "Do not try to lower the pH of this bed. Use a raised bed.", Source: "rhs-acid", Provenance: Seen}, Source: "utk-blueberry", Provenance: Seen}

func sulfur(t *testing.T, ph, texture string) *Line {
	t.Helper()
	rs := &RuleSet{Sulfur: []SulfurRule{tennessee}}
	v := num(t, ph)
	l, q := rs.sulfurLine(UseRef{ID: "blueberry"}, span{low: v, high: v, value: v}, texture, false, areas{per: []int{1000}})
	if q != nil {
		t.Fatal(q.Text)
	}
	return l
}

func leadOf(rs *RuleSet, value, method string) *LeadAdvice {
	l, _ := rs.leadAdvice([]*normalize.Result{res("Pb", value, method)}, "")
	return l
}

// handlers hold one test for each published check that the built-in tables
// and the engine cover. The source is named in the CSV's own row, which is
// printed with a failure.
func handlers(rs *RuleSet) map[string]func(*testing.T) {
	rateOf := func(kind string) *LimeRate {
		for i := range rs.Lime.Rates {
			if rs.Lime.Rates[i].Kind == kind {
				return &rs.Lime.Rates[i]
			}
		}
		return nil
	}
	fromBuffer := func(t *testing.T, ph, bph, target string) *big.Rat {
		v := num(t, ph)
		n, q := rateOf(kindEquation).fromBuffer("vegetable-garden", span{low: v, high: v, value: v}, &PHTarget{Target: Num(target)}, res("buffer_pH", bph, "mehlich-buffer"))
		if q != nil {
			t.Fatal(q.Text)
		}
		return n.rate
	}
	fromTable := func(t *testing.T, acidity, target string) *big.Rat {
		n := rateOf(kindTable).fromTable(res("acidity", acidity, "mehlich-buffer"), &PHTarget{Target: Num(target)})
		if n == nil {
			t.Fatal("the table has no row")
		}
		return n.rate
	}
	parts := func(t *testing.T, use, lb string, n int, each string) {
		p, _, _ := rs.limeParts(use, num(t, lb))
		if len(p) != n || p[0].Cmp(num(t, each)) != 0 {
			t.Errorf("%d parts of %s", len(p), p[0].FloatString(2))
		}
	}
	product := func(rate, percent string, thousands string, want, tol string) func(*testing.T) {
		return func(t *testing.T) {
			within(t, mul(ProductRate(num(t, rate), num(t, percent)), num(t, thousands)), want, tol)
		}
	}
	tier := func(value, want string, noFood bool) func(*testing.T) {
		return func(t *testing.T) {
			l := leadOf(rs, value, "total-digestion")
			if l.Kind != "total" || l.Tier != want || l.NoFood != noFood {
				t.Errorf("%+v", l)
			}
		}
	}
	return map[string]func(*testing.T){
		"C038": func(t *testing.T) { within(t, quo(fromBuffer(t, "5.0", "6.30", "6.0"), tonsAcre), "0.75", "0.02") },
		"C039": func(t *testing.T) {
			within(t, quo(fromBuffer(t, "5.4", "6.20", "6.5"), tonsAcre), "1.467", "0.01")
			within(t, fromBuffer(t, "5.4", "6.20", "6.5"), "67.3", "0.1")
		},
		"C041": func(t *testing.T) {
			within(t, fromTable(t, "6.5", "6.5"), "110", "0")
			if p, _, _ := rs.limeParts("lawn", fromTable(t, "6.5", "6.5")); len(p) < 2 {
				t.Error("110 lb is not split")
			}
		},
		"C042": func(t *testing.T) { within(t, fromTable(t, "9.0", "7.0"), "210", "0") },
		"C043": func(t *testing.T) {
			a := Advise(recordOf("lawn", res("pH", "6.6", "ph-water-1-1"), res("acidity", "3.3", "mehlich-buffer")), okReport, rs, Ask{On: "2026-04-01"})
			for _, l := range a.Lines {
				if l.ID == "lime" && l.When != Not {
					t.Error(l.What)
				}
			}
		},
		"C044": product("75", "80", "1", "94", "0.5"),
		"C045": product("5", "70", "1", "7", "0.2"),
		"C047": func(t *testing.T) { parts(t, "vegetable-garden", "150", 2, "75") },
		"C048": func(t *testing.T) { parts(t, "vegetable-garden", "240", 3, "80") },
		"C049": func(t *testing.T) {
			p := splitMost(num(t, "4"), num(t, "1.5"))
			if len(p) != 3 || p[2].Cmp(num(t, "1")) != 0 {
				t.Error(p)
			}
		},
		"C050": func(t *testing.T) {
			within(t, tonsAcre, "45.91", "0.01")
			within(t, quo(tonsAcre, rat(10, 1)), "4.59", "0.01")
		},
		"C053": func(t *testing.T) {
			a := Advise(recordOf("vegetable garden", res("pH", "5.2", "ph-water-1-1"), res("buffer_pH", "6.2", "")), okReport, rs, Ask{On: "2026-04-01"})
			if !asks(a, "buffer-kind-unknown") && !asks(a, "buffer-other") {
				t.Error(a.Questions)
			}
		},
		"C054": func(t *testing.T) { within(t, num(t, sulfur(t, "6.5", "silt loam").Need), "20", "0.1") },
		"C055": func(t *testing.T) { within(t, num(t, sulfur(t, "6.2", "clay").Need), "18.7", "0.1") },
		"C056": func(t *testing.T) {
			l := sulfur(t, "7.2", "silt loam")
			within(t, num(t, l.Need), "34", "0.1")
			if len(l.Parts) != 2 || !l.Parts[1].Retest {
				t.Fatal(l.Parts)
			}
			within(t, num(t, l.Parts[0].PerArea[0].Lb), "22.7", "0.75") // rounded down to a whole pound for weighing
		},
		"C059": func(t *testing.T) {
			if l := sulfur(t, "7.8", "clay"); l.When != Not || l.Need != "0" {
				t.Error(l)
			}
		},
		"C062": product("1.0", "28", "6", "21.4", "0.1"),
		"C063": product("1.0", "24", "5", "20.8", "0.1"),
		"C064": product("2.5", "10", "1", "25", "0"),
		"C065": product("2.5", "5", "1", "50", "0"),
		"C067": product("1", "35", "1", "2.86", "0.01"),
		"C069": product("1", "12", "1", "8.33", "0.05"),
		"C078": func(t *testing.T) {
			rec := recordOf("lawn", res("pH", "6.5", "ph-water-1-1"), res("P", "5", "mehlich-3-icp"))
			rec.Sample.Sampled = "2022-04-01"
			a := Advise(rec, okReport, rs, Ask{On: "2026-04-02"})
			if a.Outcome != AskOnly || !asks(a, "sample-old") || len(a.Lines) != 0 {
				t.Error(a.Outcome, a.Questions)
			}
		},
		"C080": tier("150", "extra care", false),
		"C081": func(t *testing.T) {
			tier("250", "above the federal screening level", false)(t)
			if l := leadOf(rs, "250", "total-digestion"); !strings.Contains(l.Refer, "health department") || !strings.Contains(strings.Join(l.Do, " "), "Cover bare soil") {
				t.Error(l)
			}
		},
		"C082": tier("450", "no food in this soil", true),
		"C083": func(t *testing.T) {
			tier("700", "call today", true)(t)
			if l := leadOf(rs, "700", "total-digestion"); !strings.Contains(l.Refer, "today") {
				t.Error(l.Refer)
			}
		},
		"C084": func(t *testing.T) { screen(t, rs, "125", "mehlich-3", "= 201.5,") },
		"C085": func(t *testing.T) { screen(t, rs, "30", "modified-morgan", "= 205,") },
		"C086": func(t *testing.T) {
			if g := rs.rate(res("P", "20", "olsen"), "vegetable-garden", ground{}); g.Class != "" || !strings.Contains(g.Not, "another test method") {
				t.Error(g)
			}
		},
		"C087": func(t *testing.T) {
			r := res("P", "", "mehlich-3-icp")
			r.Printed = normalize.Printed{Text: "40", Number: "40"}
			if g := rs.rate(r, "vegetable-garden", ground{}); g.Class != "" || g.Not == "" {
				t.Error(g)
			}
		},
		"C102": product("1", "3", "1", "33", "0.5"),
		"C103": product("1", "12", "1", "8", "0.5"),
		"C104": product("2.5", "5", "1", "50", "0.5"),
		"C111": func(t *testing.T) {
			p := splitMost(num(t, "12"), num(t, "5"))
			if len(p) != 3 || p[0].Cmp(num(t, "5")) != 0 || p[2].Cmp(num(t, "2")) != 0 {
				t.Error(p)
			}
		},
		"C112": func(t *testing.T) { within(t, mul(rat(1, 2), tonsAcre), "22.96", "0.01") },
	}
}

func screen(t *testing.T, rs *RuleSet, value, method, working string) {
	t.Helper()
	l := leadOf(rs, value, method)
	if l.Kind != "screen" || !l.AskTest || l.Tier != "" || l.NoFood || !strings.Contains(l.Working, working) {
		t.Errorf("%+v", l)
	}
}

func asks(a *Advice, code string) bool {
	for _, q := range a.Questions {
		if q.Code == code {
			return true
		}
	}
	return false
}

var inputs = regexp.MustCompile(`analyte=([^;]+); method=([^;]+); unit=([^;]+); land_use=(.+); value=([0-9.]+)$`)

// rateCheck is a check of a rating in the New Jersey tables, which are the
// built-in ones.
func rateCheck(t *testing.T, rs *RuleSet, in, want string) {
	m := inputs.FindStringSubmatch(in)
	if m == nil {
		t.Fatal("the check is written otherwise than expected: " + in)
	}
	analyte, method, unit, use, value := m[1], "mehlich-3", m[3], "vegetable-garden", num(t, m[5])
	texture := ""
	if analyte == "organic matter" {
		analyte, method, texture = "OM", "loi", strings.SplitN(m[4], " (", 2)[0]
	}
	if unit == "lb/acre" {
		value = quo(value, rat(2, 1)) // a slice of 2,000,000 lb per acre
	}
	g := rs.rate(res(analyte, plain(value, 4), method), use, ground{texture: texture})
	word := g.Word
	if word == "" {
		word = g.Class
	}
	if want = strings.SplitN(want, " (", 2)[0]; word != want {
		t.Errorf("%s: %q (class %q), published %q", in, word, g.Class, want)
	}
}

// TestPublishedChecks works every published check. A new row of the table needs
// a test.
func TestPublishedChecks(t *testing.T) {
	f, err := os.Open("../testdata/published/interpretation-checks.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rs := loaded(t)
	h := handlers(rs)
	maps.Copy(h, moreHandlers())
	maps.Copy(h, lastHandlers())
	used := map[string]bool{}
	covered := 0
	var not []string
	for _, row := range rows[1:] {
		id, area, in, want, source := row[0], row[1], row[2], row[3], row[5]
		switch {
		case area == "rating" && strings.HasPrefix(in, "rule_set=New Jersey (Rutgers); "):
			covered++
			t.Run(id, func(t *testing.T) { t.Log(source); rateCheck(t, rs, in, want) })
		case area == "rating" && strings.HasPrefix(in, "rule_set=") && slices.ContainsFunc(setOfCheck, func(s checkSet) bool { return strings.HasPrefix(in, "rule_set="+s.name+";") }):
			covered++
			t.Run(id, func(t *testing.T) {
				t.Log(source)
				if !workedBySet(t, in, want) {
					t.Error("the check is written otherwise than expected: " + in)
				}
			})
		case h[id] != nil:
			covered++
			used[id] = true
			t.Run(id, func(t *testing.T) { t.Log(in, "|", want, "|", source); h[id](t) })
		default:
			not = append(not, id+" "+area)
		}
	}
	for id := range h {
		if !used[id] {
			t.Errorf("%s is tested but is not in the published table", id)
		}
	}
	t.Logf("%d of %d published checks covered; not covered: %s", covered, len(rows)-1, strings.Join(not, ", "))
	if len(not) > 0 {
		t.Errorf("%d checks are not covered", len(not))
	}
}
