package interpret

import (
	"encoding/csv"
	"math/big"
	"os"
	"regexp"
	"strings"
	"testing"

	"example.org/windrow/normalize/unit"
)

// A checkSet tells which rule set a published check of a rating is worked with: the name in the check, the id of the set, the land use and the method,
// and what of the soil it says.
type checkSet struct {
	name, set, uses string // uses: words of the check's land use and ours, as a=b
	method          string
	soil            ground
}

var setOfCheck = []checkSet{
	{"Delaware (UD)", "delaware-mehlich-3", "agronomic and general=field-crop", "mehlich-3", ground{}},
	{"Tri-State 2020 (IN, MI, OH)", "tri-state-2020", "corn and soybean=corn-soybean|field crops, CEC over 5=corn-soybean", "mehlich-3", ground{cec: rat(12, 1)}},
	{"Pennsylvania (Penn State)", "pennsylvania-lawn", "home lawn=lawn", "mehlich-3", ground{}},
	{"Massachusetts (UMass)", "massachusetts-modified-morgan", "home grounds (tree/shrub form)=trees-shrubs", "modified-morgan", ground{}},
	{"DTPA general (Havlin/Herrera)", "nebraska-2017", "general=corn", "dtpa", ground{}},
	{"South Carolina (Clemson)", "mehlich-3-home", "sand (<15 % clay)=vegetable-garden|loam (15-26 % clay)=vegetable-garden", "ph-water-1-2", ground{}},
}

var soilOfCheck = regexp.MustCompile(`land_use=(sand|loam|clay loam|clay) \(`)

// workedBySet works a check of a rating with the rule set of its publication;
// ok is false where there is none.
func workedBySet(t *testing.T, in, want string) (ok bool) {
	name, rest, found := strings.Cut(strings.TrimPrefix(in, "rule_set="), "; analyte=")
	m := inputs.FindStringSubmatch("analyte=" + rest)
	if !found || m == nil {
		return false
	}
	for _, s := range setOfCheck {
		if s.name != name {
			continue
		}
		use := ""
		for _, u := range strings.Split(s.uses, "|") {
			if from, to, _ := strings.Cut(u, "="); from == m[4] {
				use = to
			}
		}
		if use == "" {
			return false
		}
		analyte := m[1]
		soil := s.soil
		if analyte == "soluble salts" {
			analyte, soil.texture = "EC", soilOfCheck.FindStringSubmatch(in)[1]
		}
		g := setNamed(t, s.set).rate(res(analyte, m[5], s.method), use, soil)
		word := g.Word
		if word == "" {
			word = g.Class
		}
		want = strings.SplitN(strings.SplitN(want, " (", 2)[0], ":", 2)[0]
		if word != want {
			t.Errorf("%s: %q (%s), published %q", in, word, g.Not, want)
		}
		return true
	}
	return false
}

// brokenBy are the rows of the laws that a householder's plan would break.
func brokenBy(t *testing.T, region string, s Spread) string {
	var ids []string
	for _, l := range Broken(loaded(t).Laws.In(region, householder, s.On), s) {
		ids = append(ids, l.ID)
	}
	return strings.Join(ids, " ")
}

// moreHandlers are further checks, one test each; the source stands in the
// row that is printed with a failure.
func moreHandlers() map[string]func(*testing.T) {
	law := func(region, want string, s Spread) func(*testing.T) {
		return func(t *testing.T) {
			if got := brokenBy(t, region, s); got != want {
				t.Errorf("breaks %q, want %q", got, want)
			}
		}
	}
	may := "2026-05-10"
	georgia := func(region, use, analyte, lbAcre, want string) func(*testing.T) {
		return func(t *testing.T) {
			v := quo(num(t, lbAcre), rat(2, 1))
			g := setNamed(t, "georgia-"+region).rate(res(analyte, plain(v, 3), "mehlich-1"), use, ground{})
			word := g.Word
			if word == "" {
				word = g.Class
			}
			if word != want {
				t.Errorf("%q, published %q", word, want)
			}
		}
	}
	california := func(t *testing.T, use, want string) {
		if g := setNamed(t, "california-olsen").rate(res("P", "14", "olsen"), use, ground{}); g.Word != want {
			t.Errorf("%s: %q, published %q", use, g.Word, want)
		}
	}
	adamsEvans := &LimeRate{ID: "L138", Kind: kindHydrogen, Methods: []string{"adams-evans-buffer"}, Unit: unitTonsAcre, K: "4", Ceiling: "8.00", Source: "definition", Provenance: Memory}
	hydrogen := func(ph, bph, target, want string) func(*testing.T) {
		return func(t *testing.T) {
			v := num(t, ph)
			n, q := adamsEvans.fromBuffer("vegetable-garden", span{low: v, high: v, value: v}, &PHTarget{Target: Num(target)}, res("buffer_pH", bph, "adams-evans-buffer"))
			if q != nil {
				t.Fatal(q.Text)
			}
			within(t, mul(quo(n.rate, tonsAcre), rat(2000, 1)), want, "5") // lb CaCO3/acre
		}
	}
	mn := func(value, ph, want, class string) func(*testing.T) {
		return func(t *testing.T) {
			rs := loaded(t)
			for i := range rs.Ratings {
				if x := rs.Ratings[i].Index; x != nil {
					v := num(t, value)
					within(t, x.of(span{low: v, high: v, value: v}, num(t, ph)).value, want, "0.05")
				}
			}
			if g := rs.rate(res("Mn", value, "mehlich-3"), "lawn", ground{ph: num(t, ph)}); g.Word != class || !strings.Contains(g.Decided, want) {
				t.Errorf("%+v", g)
			}
		}
	}
	product := func(id string) *Fertilizer { return &Fertilizer{Grade: Grade(id)} }
	extension := SulfurRule{For: []string{"blueberry"}, To: "5.0", Columns: []Column{{Textures: []string{"sand"}}, {Textures: []string{"silt loam", "clay"}}},
		Steps: []Step{{From: "6.0", To: "5.0", Rates: []Num{"10", "20"}}}, OnceOver: "30", FirstPart: "2/3", Months: 3, Hopeless: Hopeless{PH: "7.5"}}
	acre := func(lb string) *big.Rat { return quo(Num(lb).rat(), rat(4356, 100)) }
	bean := NutrientTable{ID: "bean", For: []string{"bean"}, Unit: unitPerThousand, Use: useAlways, When: "Before planting."}
	rateOf := func(t *testing.T, nutrient, by, class string, rates map[string]string) *big.Rat {
		tab := bean
		tab.Nutrient, tab.By = nutrient, by
		for _, c := range []string{VeryLow, Low, Medium, Optimum} {
			tab.Rows = append(tab.Rows, NutrientRow{ID: c, Class: c, Rate: Num(plain(acre(rates[c]), 6))})
		}
		rs := &RuleSet{Nutrients: []NutrientTable{tab}}
		l, _ := rs.nutrientLine(UseRef{ID: "bean"}, nutrient, map[string]string{by: class}, areas{per: []int{1000}}, heldTo{})
		return num(t, l.Need)
	}
	beanP := map[string]string{VeryLow: "80", Low: "80", Medium: "80", Optimum: "0"}
	beanK := map[string]string{VeryLow: "100", Low: "80", Medium: "80", Optimum: "0"}
	return map[string]func(*testing.T){
		"C028": band("18", "index 2-", "R288", "R289", "R290", "R291", "R292", "R293"),
		"C032": band("18", "sidedress 80 lb N/acre", "R329", "R330", "R331", "R332", "R333"),
		"C033": band("18", "sidedress 120 lb N/acre", "R334", "R335", "R336", "R337", "R338"),
		"C034": band("19", "rate - 45 lb N/acre", "R339", "R340", "R341", "R342", "R343"),
		"C035": mn("10", "6.5", "40.4", "adequate"),
		"C036": mn("2", "7.0", "2.8", "deficient"),
		"C037": func(t *testing.T) { // the index 50 is K/2.8, and the bands of index and ppm meet there
			within(t, quo(num(t, "140"), num(t, "2.8")), "50", "1")
			for i, edge := range []string{"26", "51", "101"} {
				rs := setNamed(t, "delaware-mehlich-3")
				for _, table := range rs.Ratings {
					by := map[string]string{"P": "1", "K": "2.8", "Mg": "2.2", "Ca": "18"}[table.Analyte]
					if table.Analyte == "EC" {
						continue // the table of salts is not Delaware's, and has no index
					}
					within(t, quo(table.Classes[i+1].From.rat(), num(t, by)), edge, "1")
				}
			}
		},
		"C040": func(t *testing.T) {
			for i := range loaded(t).Lime.Rates {
				if r := &loaded(t).Lime.Rates[i]; r.Kind == kindEquation {
					within(t, mul(r.K.rat(), sub(r.Ceiling.rat(), num(t, "6.30"))), "1.2", "0.001")
				}
			}
		},
		"C046": func(t *testing.T) { // a table written for 90 %, a product of 80 %
			r := LimeRate{Kind: kindBufferTable, Methods: []string{"smp-buffer"}, Unit: unitTonsAcre, OfPercent: "90", Goals: []Num{"6.5"}, Rows: []LimeRow{{ID: "x", Buffer: "6.7", Rates: []Num{"2.0"}}}}
			v := num(t, "5.5")
			n, q := r.fromBuffer("field", span{low: v, high: v, value: v}, &PHTarget{Target: "6.5"}, res("buffer_pH", "6.7", "smp-buffer"))
			if q != nil {
				t.Fatal(q.Text)
			}
			within(t, quo(ProductRate(n.rate, rat(80, 1)), tonsAcre), "2.25", "0.005")
		},
		"C051": hydrogen("5.0", "7.60", "6.5", "2023"),
		"C052": hydrogen("5.5", "7.75", "6.0", "545"),
		"C057": func(t *testing.T) {
			r, _ := extension.rate(num(t, "6.0"), "sand")
			within(t, quo(r, rat(10, 1)), "1", "0")
		},
		"C058": func(t *testing.T) {
			r, _ := extension.rate(num(t, "6.0"), "silt loam")
			within(t, quo(r, rat(10, 1)), "2", "0")
		},
		"C060": aluminumOfSulfur,
		"C061": instead("iron sulfate", "8.67"),
		"C066": func(t *testing.T) {
			for i, want := range []string{"4.0", "2.4", "1.6"} {
				within(t, mul(product("10-6-4").supply()[i], rat(40, 1)), want, "0")
			}
		},
		"C068": TestBlendOfAPublicQuestion,
		"C070": law("NJ", "M49", Spread{On: may, N: rat(1, 1), SlowPct: rat(30, 1)}),
		"C071": law("NJ", "M50", Spread{On: may, N: rat(9, 10), SlowPct: rat(20, 1)}),
		"C072": law("NJ", "", Spread{On: may, N: rat(9, 10), SlowPct: rat(25, 1)}),
		"C073": law("NJ", "M51", Spread{On: may, N: rat(9, 10), SlowPct: rat(25, 1), NSoFar: rat(27, 10)}),
		"C074": law("NJ", "M57", Spread{On: may, P2O5: rat(1, 2), PNeeded: false, TestedOn: "2026-03-01"}),
		"C075": law("NJ", "M54", Spread{On: "2026-11-20", N: rat(1, 2), SlowPct: rat(30, 1)}),
		"C076": law("NJ", "", Spread{On: "2026-11-20", Other: []string{"lime"}}),
		"C077": law("NY", "M59", Spread{On: "2026-12-15", N: rat(1, 2)}),
		"C079": law("CT", "M62", Spread{On: may, P2O5: rat(1, 2), PNeeded: true, TestedOn: "2023-05-01"}),
		"C089": georgia("coastal-plain", "st-augustine-lawn", "K", "155", "high"),
		"C090": georgia("coastal-plain", "vegetables", "K", "155", "medium"),
		"C091": georgia("piedmont", "st-augustine-lawn", "Mg", "100", "medium"),
		"C092": georgia("piedmont", "vegetables", "Mg", "100", "low"),
		"C093": func(t *testing.T) {
			georgia("coastal-plain", "vegetables", "P", "45", "medium")(t)
			georgia("piedmont", "vegetables", "P", "45", "high")(t)
		},
		"C094": func(t *testing.T) {
			california(t, "lettuce", "response likely")
			california(t, "canning-tomato", "no response")
		},
		"C101": func(t *testing.T) { within(t, ProductRate(rat(3, 1), rat(24, 1)), "12.5", "0.05") },
		"C105": func(t *testing.T) { // the same nutrients as a pound of 10-10-10
			for grade, want := range map[string]string{"6-6-6": "1.67", "8-8-8": "1.25", "13-13-13": "0.75"} {
				within(t, quo(product("10-10-10").supply()[0], product(grade).supply()[0]), want, "0.03")
			}
		},
		"C106": func(t *testing.T) { within(t, rateOf(t, "P2O5", "P", VeryLow, beanP), "1.84", "0.01") },
		"C107": func(t *testing.T) { within(t, rateOf(t, "K2O", "K", VeryLow, beanK), "2.30", "0.01") },
		"C108": func(t *testing.T) { within(t, rateOf(t, "P2O5", "P", Optimum, beanP), "0", "0") },
		"C110": func(t *testing.T) {
			p, months, b := setNamed(t, "georgia-coastal-plain").limeParts("st-augustine-lawn", rat(80, 1))
			if len(p) != 2 || p[0].Cmp(rat(40, 1)) != 0 || months != 4 || b[0].Row != "L224" {
				t.Errorf("%v %d %v", p, months, b)
			}
		},
		"C113": func(t *testing.T) { // 125 lb of Epsom salts are not 25 lb of magnesium
			for _, tab := range loaded(t).Nutrients {
				if tab.Nutrient == "Mg" {
					within(t, quo(mul(rat(125, 1), tab.Material.Percent.rat()), rat(100, 1)), "12", "0.5")
					if ProductRate(rat(25, 1), tab.Material.Percent.rat()).Cmp(rat(250, 1)) < 0 {
						t.Error("25 lb of magnesium are told in too little Epsom salts")
					}
				}
			}
		},
		"C115": func(t *testing.T) { // lb/acre is halved: the built-in bands of New Jersey are
			g := loaded(t).rate(res("P", plain(quo(num(t, "60"), rat(2, 1)), 1), "mehlich-3"), "lawn", ground{})
			if g.Value != "30" || g.Class != Medium { // 46 to 71 lb/acre is printed as medium
				t.Errorf("%+v", g)
			}
		},
	}
}

// aluminumOfSulfur works the pounds of aluminum sulfate, Al2(SO4)3 with 18
// H2O, for the sulfur of a pound from the atomic weights. No rule set offers
// it, as aluminum can injure what is not a hydrangea.
func aluminumOfSulfur(t *testing.T) {
	w := func(el string) *big.Rat { return unit.Standard().Weights[el].Weight }
	add := func(sum *big.Rat, n int64, x *big.Rat) *big.Rat {
		return sum.Add(sum, new(big.Rat).Mul(big.NewRat(n, 1), x))
	}
	salt := add(add(add(add(new(big.Rat), 2, w("Al")), 3, w("S")), 12+18, w("O")), 36, w("H"))
	within(t, new(big.Rat).Quo(salt, new(big.Rat).Mul(big.NewRat(3, 1), w("S"))), "6.93", "0.02")
}

// instead checks how much of another material does what sulfur does.
func instead(name, want string) func(*testing.T) {
	return func(t *testing.T) {
		tex := res("texture", "", "hydrometer")
		tex.Class = "silt loam"
		a := Advise(recordOf("blueberry", res("pH", "6.5", "ph-water-1-1"), tex), okReport, loaded(t), Ask{})
		for _, l := range a.Lines {
			for _, o := range l.Instead {
				if o.Of == name {
					within(t, quo(num(t, o.Exact), num(t, l.Need)), want, "0.02")
					return
				}
			}
		}
		t.Errorf("%s is not told: %+v", name, a.Lines)
	}
}

// band works a check of a publication that no built-in rule set holds: its
// bands are read from the published rows, and rated as any table is.
func band(value, want string, ids ...string) func(*testing.T) {
	return func(t *testing.T) {
		f, err := os.Open("../testdata/published/interpretation-rows.csv")
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		all, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		table := RatingTable{Analyte: "P", Unit: "mg/kg"}
		for i, id := range ids {
			for _, r := range all {
				if r[0] == id {
					table.Classes = append(table.Classes, Class{ID: id, Class: classOrder[min(i, len(classOrder)-1)], Word: r[3], From: Num(r[1]), Below: Num(r[2])})
				}
			}
		}
		if len(table.Classes) != len(ids) {
			t.Fatalf("%d of %d rows", len(table.Classes), len(ids))
		}
		var g Rating
		v := num(t, value)
		classify(&g, &table, span{low: v, high: v, value: v, half: rat(1, 2)})
		if g.Word != want {
			t.Errorf("%s is %q, published %q", value, g.Word, want)
		}
	}
}
