package interpret

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// sweep gives advice on grounds that together reach every band of every
// table: for each use a value in the middle of each band of each analyte, each
// texture and exchange capacity that a table names, acid, fit and sweet soil,
// each buffer and acidity of each lime table, and each tier of lead. Each time
// the band that was aimed at must be the one that answers. It gives the rows
// that answered.
func sweep(t *testing.T, rs *RuleSet) map[string]bool {
	reached := map[string]bool{}
	gather := func(a *Advice) {
		add := func(bs []Basis) {
			for _, b := range bs {
				reached[b.Row] = true
			}
		}
		for _, r := range a.Ratings {
			add(r.Basis)
		}
		for _, l := range a.Lines {
			add(l.Basis)
			for _, o := range l.Instead {
				add(o.Basis)
			}
		}
		for _, c := range a.Cautions {
			add(c.Basis)
		}
		if a.Lead != nil {
			add(a.Lead.Basis)
		}
		for _, x := range a.Alarms {
			add(x.Basis)
		}
		for _, q := range a.Questions {
			add(q.Basis)
		}
		add(a.Again.Basis)
	}
	advise := func(use string, results ...*normalize.Result) *Advice {
		a := Advise(recordOf(use, results...), okReport, rs, Ask{On: "2026-04-01"})
		gather(a)
		return a
	}
	for i := range rs.Plants {
		t1 := &rs.Plants[i]
		for _, use := range t1.For {
			for j := range t1.Rows {
				r := &t1.Rows[j]
				values := map[string]string{wantsComplete: "1", wantsNitrogen: "45", "": "1"} // low, and for Mehlich-3 optimum in P
				rec := recordOf(use, res("pH", "6.3", "ph-water-1-1"))
				for _, n := range []string{"P", "K"} {
					v := values[r.Soil]
					if r.Soil == wantsNitrogen && n == "K" {
						v = "100"
					}
					for k := range rs.Ratings {
						if x := &rs.Ratings[k]; x.Analyte == n && slices.Contains(x.For, use) {
							rec.Results = append(rec.Results, res(n, v, x.Methods[0]))
							break
						}
					}
				}
				for _, age := range []int{r.FromYear - 1, r.FromYear + 39} { // the second so old that a cap bites
					if r.ToYear > 0 && age >= r.ToYear {
						continue
					}
					a := Advise(rec, okReport, rs, Ask{On: "2026-04-01", PlantAge: itoa(age), Plants: "2"})
					k := slices.IndexFunc(a.Lines, func(l Line) bool { return l.ID == "N" })
					if k < 0 || !slices.ContainsFunc(a.Lines[k].Basis, func(b Basis) bool { return b.Row == r.ID }) {
						t.Errorf("%s: %s does not answer for %s of %d years: %+v %+v", rs.ID, r.ID, use, age, a.Lines, a.Questions)
						continue
					}
					gather(a)
				}
			}
		}
	}
	for i := range rs.Lime.Caps {
		k := &rs.Lime.Caps[i]
		for _, use := range k.For {
			parts, _, b := rs.limeParts(use, mul(k.Over.rat(), rat(21, 20)))
			if len(parts) < 2 || len(b) != 1 {
				t.Errorf("%s: %s does not cut %s and a twentieth for %s: %v", rs.ID, k.ID, k.Over, use, parts)
				continue
			}
			reached[b[0].Row] = true
		}
	}
	phs := []string{"4.5", "5.2", "5.7", "6.3", "6.9", "7.2", "8.2"}
	for _, u := range rs.LandUses {
		base := []*normalize.Result{res("pH", "6.3", "ph-water-1-1")}
		for i := range rs.Ratings {
			table := &rs.Ratings[i]
			if !table.covers(u.ID) {
				continue
			}
			results := slices.Clone(base)
			if len(table.Textures) > 0 {
				tex := res("texture", "", "hydrometer")
				tex.Class = table.Textures[0]
				results = append(results, tex)
			}
			if table.CECFrom != "" || table.CECBelow != "" {
				cec := "20"
				if table.CECBelow != "" {
					cec = "3"
				}
				results = append(results, res("CEC", cec, "summation"))
			}
			for j := range table.Classes {
				c := &table.Classes[j]
				v := add(c.From.rat(), rat(1, 100))
				if c.Below != "" {
					v = quo(add(c.From.rat(), c.Below.rat()), rat(2, 1))
				}
				if x := table.Index; x != nil {
					v = quo(sub(sub(v, x.Constant.rat()), mul(x.PerPH.rat(), rat(63, 10))), x.PerValue.rat())
					if v.Sign() < 0 {
						results[0] = res("pH", "8.2", "ph-water-1-1")
						v = rat(1, 10)
					}
				}
				a := advise(u.Name, append(slices.Clone(results), res(table.Analyte, plain(v, 4), table.Methods[0]))...)
				k := slices.IndexFunc(a.Ratings, func(r Rating) bool { return r.Analyte == table.Analyte })
				if k < 0 || a.Ratings[k].Class != c.Class || a.Ratings[k].Basis[0].Row != c.ID {
					t.Errorf("%s: %s %s for %s does not answer by %s: %+v", rs.ID, table.Analyte, plain(v, 3), u.Name, c.ID, a.Ratings)
				}
			}
		}
		for _, ph := range phs {
			for _, tex := range []string{"", "sand", "sandy loam", "loam", "silt loam", "clay loam", "clay"} {
				results := []*normalize.Result{res("pH", ph, "ph-water-1-1")}
				if tex != "" {
					x := res("texture", "", "hydrometer")
					x.Class = tex
					results = append(results, x)
				}
				advise(u.Name, results...)
			}
		}
		for _, mg := range []string{"5", "500"} {
			for i := range rs.Lime.Rates {
				r := &rs.Lime.Rates[i]
				for _, ph := range []string{"4.6", "5.4"} {
					soil := []*normalize.Result{res("pH", ph, "ph-water-1-1"), res("Mg", mg, "mehlich-3-icp")}
					switch r.Kind {
					case kindTable:
						for j := range r.Rows {
							advise(u.Name, append(slices.Clone(soil), res("acidity", string(r.Rows[j].Acidity), r.Methods[0]))...)
						}
					case kindBufferTable:
						for j := range r.Rows {
							advise(u.Name, append(slices.Clone(soil), res("buffer_pH", string(r.Rows[j].Buffer), r.Methods[0]))...)
						}
					default:
						for _, b := range []string{"5.0", "5.6", "6.2", "6.5"} {
							advise(u.Name, append(slices.Clone(soil), res("buffer_pH", b, r.Methods[0]))...)
						}
					}
				}
			}
		}
		for _, h := range []*normalize.Result{res("As", "20", rs.Lead.TotalMethods[0]), res("As", "2", "mehlich-3"), res("Cd", "3", rs.Lead.TotalMethods[0]), res("NO3-N", "9", "kcl-2m")} {
			advise(u.Name, res("pH", "6.3", "ph-water-1-1"), h)
		}
		advise(u.Name, res("pH", "8.6", "ph-water-1-1"))
		deep := recordOf(u.Name, res("pH", "6.3", "ph-water-1-1"))
		deep.Sample.DepthIn = "12"
		gather(Advise(deep, okReport, rs, Ask{On: "2026-04-01"}))
		for i := range rs.Watch {
			w := &rs.Watch[i]
			method := "summation"
			if len(w.Methods) > 0 {
				method = w.Methods[0]
			}
			r := res(w.Analyte, plain(mul(w.From.rat(), rat(101, 100)), 4), method)
			r.Unit = w.Unit
			advise(u.Name, res("pH", "6.3", "ph-water-1-1"), r)
		}
		for i := range rs.Lead.Tiers {
			advise(u.Name, res("pH", "6.3", "ph-water-1-1"), res("Pb", plain(add(rs.Lead.Tiers[i].From.rat(), rat(1, 1)), 0), rs.Lead.TotalMethods[0]))
		}
		noMethod := res("Pb", "50", "")
		advise(u.Name, res("pH", "6.3", "ph-water-1-1"), noMethod)
		for i := range rs.Lead.Screens {
			advise(u.Name, res("pH", "6.3", "ph-water-1-1"), res("Pb", "90", rs.Lead.Screens[i].Methods[0]))
		}
	}
	for i := range rs.Nutrients {
		table := &rs.Nutrients[i]
		for _, use := range table.For {
			if rs.table(use, table.Nutrient) != table {
				continue
			}
			for j := range table.Rows {
				r := &table.Rows[j]
				l, q := rs.nutrientLine(UseRef{ID: use}, table.Nutrient, map[string]string{table.By: r.Class}, areas{per: []int{1000}}, heldTo{})
				switch {
				case r.Ask != "" && q != nil && q.Text == r.Ask && l == nil, r.Ask == "" && l != nil && l.Basis[0].Row == r.ID && l.Need == plain(r.Rate.rat(), 6):
					reached[r.ID] = true
				default:
					t.Errorf("%s: %s of %s for %s does not answer: %+v %+v", rs.ID, r.ID, table.Nutrient, use, l, q)
				}
			}
		}
	}
	return reached
}

// Every active row is exercised by the sweep or is listed as not exercised in
// the reference page, which is made anew from the files.
func TestEveryRowIsExercisedOrListed(t *testing.T) {
	var open []string
	rows, known := 0, map[string]bool{}
	for _, rs := range allLoaded(t) {
		reached := sweep(t, rs)
		for _, r := range rs.rowList() {
			rows++
			known[rs.ID+" "+r.id] = true
			if r.off {
				if reached[r.id] {
					t.Errorf("%s: %s is not in use, and answers", rs.ID, r.id)
				}
				continue
			}
			if !reached[r.id] {
				open = append(open, rs.ID+" "+r.id)
			}
		}
		for id := range reached {
			if !known[rs.ID+" "+id] && !strings.HasPrefix(id, "M") {
				t.Errorf("%s: the row %s answers but is not listed", rs.ID, id)
			}
		}
	}
	golden(t, "untested.txt", []byte(strings.Join(open, "\n")+"\n"))
	if !*update && strings.Join(open, "\n") != strings.TrimSpace(untestedRows) {
		t.Error("the list in the program is another one")
	}
	t.Logf("%d rows, %d not exercised", rows, len(open))
	if rows < 500 || len(open)*10 > rows {
		t.Errorf("%d rows, of which %d are not exercised", rows, len(open))
	}
}

func TestReferencePage(t *testing.T) {
	page := Reference(allLoaded(t))
	golden(t, "RULES.md", page)
	for _, rs := range allLoaded(t) {
		if !strings.Contains(string(page), fmt.Sprintf("\n## %s\n", rs.ID)) {
			t.Errorf("%s is not on the page", rs.ID)
		}
	}
	if !slices.Equal(page, Reference(allLoaded(t))) {
		t.Error("the page is another one each time")
	}
}
