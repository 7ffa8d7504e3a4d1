package interpret

import (
	"math/big"
	"strings"
)

// plan chooses fertilizers for the nutrients that lines advise. Without a list
// of products, or without anything to give, there is no plan.
func (a *adviser) plan() {
	list := a.rs.Products
	w, feedings := a.wants()
	if list == nil || w.rate == [3]*big.Rat{} {
		return
	}
	var products []*Fertilizer
	for i := range list.Fertilizers {
		f := &list.Fertilizers[i]
		if f.Organic == (list.Prefer == preferOrganic) && f.fitFor(a.out.LandUse) && a.slowEnough(f) {
			products = append(products, f)
		}
	}
	near := list.NearEnough
	m := blend(products, w, quo(near.Percent.rat(), rat(100, 1)))
	if m == nil {
		return
	}
	p := &Plan{Products: []PlanItem{}, Feedings: feedings, Gives: map[string]string{}, Basis: []Basis{basis(near.ID, near.Source, near.Provenance, near.At)}}
	var working []string
	for j, at := range m.of {
		f := products[at]
		p.Products = append(p.Products, a.planItem(f, m.lb[j]))
		p.Basis = append(p.Basis, basis(f.ID, f.Source, f.Provenance, f.At))
		if f.FirstSeason != nil {
			s := f.FirstSeason
			p.Basis = append(p.Basis, basis(s.ID, s.Source, s.Provenance, s.At))
		}
		working = append(working, plain(m.lb[j], 3)+" lb of "+string(f.Grade))
	}
	p.Working = strings.Join(working, " and ") + " on 1000 sq ft give"
	sep := " "
	for n, name := range labelOrder {
		if m.gives[n].Sign() > 0 {
			p.Gives[name] = plain(m.gives[n], 4)
			p.Working += sep + plain(m.gives[n], 3) + " lb of " + PlainName(name)
			sep = ", "
		}
		if r := w.rate[n]; r != nil && m.gives[n].Cmp(r) < 0 {
			if p.Short == nil {
				p.Short = map[string]string{}
			}
			p.Short[name] = plain(sub(r, m.gives[n]), 4)
		}
	}
	if feedings > 1 {
		p.Note = "Give it in " + itoa(feedings) + " equal parts over the season."
	}
	p.disclose()
	a.out.Plan = p
}

// wants are the rates of the lines, and in how many parts the season's amounts
// are given. A nutrient that is not advised, or is asked about, must not be
// given along with another.
func (a *adviser) wants() (w want, feedings int) {
	feedings = 1
	for _, l := range a.out.Lines {
		for n, name := range labelOrder {
			need, ok := parseNum(l.Need)
			if l.ID != name || l.When == Not || !ok || need.Sign() <= 0 {
				continue
			}
			w.rate[n] = need
			feedings = max(feedings, len(l.Parts))
		}
	}
	if a.out.LandUse.Turf {
		w.totalN = a.held("N").year
	}
	return w, feedings
}

// slowEnough reports whether the law of the region lets a fertilizer onto the
// land: one with nitrogen must have the slow share that the law asks for.
func (a *adviser) slowEnough(f *Fertilizer) bool {
	g, _ := f.Grade.parts()
	for _, l := range a.laws {
		if l.Topic == topicSlow && g[0].Sign() > 0 && f.SlowPercent.rat().Cmp(l.Figure.rat()) < 0 {
			return false
		}
	}
	return true
}

func (a *adviser) planItem(f *Fertilizer, rate *big.Rat) PlanItem {
	var cup *big.Rat
	if f.Cup != nil {
		cup = f.Cup.LbPerCup.rat()
	}
	it := PlanItem{ID: f.ID, Grade: string(f.Grade), Amount: *a.area.amount(f.Name, rate, true, cup)}
	if own := a.area.own; own != nil && f.BagLb != "" {
		bags := quo(quo(mul(rate, own), rat(1000, 1)), f.BagLb.rat())
		quarters := mul(bags, rat(4, 1))
		up := roundDown(quarters, rat(1, 1))
		if up.Cmp(quarters) < 0 {
			up = add(up, rat(1, 1))
		}
		it.Bags, it.BagLb = plain(quo(up, rat(4, 1)), 2), string(f.BagLb)
		if f.Price != "" {
			it.Cost = mul(bags, f.Price.rat()).FloatString(2)
		}
	}
	return it
}
