package interpret

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

func (a *adviser) nutrients(ask Ask) {
	limeOpen := false
	limeDue := false
	for _, q := range a.out.Questions {
		if q.Blocks == "lime" || q.Blocks == "ph" || q.Blocks == "pH" {
			limeOpen = true
		}
	}
	for _, l := range a.out.Lines {
		if l.ID == "lime" && l.When == First {
			limeDue = true
		}
	}
	a.unrated()
	settled := a.plants(ask)
	for _, n := range knownNutrients {
		if slices.Contains(settled, n) {
			continue
		}
		l, q := a.rs.nutrientLine(a.out.LandUse, n, a.classes, a.area, a.held(n), a.rec.Results...)
		if a.rs.table(a.out.LandUse.ID, n) == nil {
			l, q = a.noRate(n)
		}
		if p := a.rs.plantsFor(a.out.LandUse.ID); q != nil && p != nil && q.Text == p.AskAge && ask.PlantAge != "" {
			q = &Question{Code: "rate-not-in-tables", Blocks: n, Text: "We have read no amount of phosphate or potash for this planting. Please call us about it."} // the age was told, and is not what is missing
		}
		if q != nil {
			a.ask(*q)
		}
		if n == "Mg" && limeOpen && !limeDue {
			a.magnesiumByLime()
		}
		if l == nil || n == "Mg" && (limeDue || limeOpen || l.When == Not) {
			continue // magnesium comes with the lime where lime is due
		}
		a.lawful(l)
		if l.When != Not {
			a.events["fertilizer"] = true
		}
		a.line(*l)
	}
	if rank(a.classes["P"]) > rank(Optimum) {
		a.events["high-p"] = true
	}
}

// magnesiumByLime says which lime to take where magnesium is low and how much
// lime is due is not known yet: no line on lime says so then.
func (a *adviser) magnesiumByLime() {
	for i := range a.rs.Lime.Choices {
		c := &a.rs.Lime.Choices[i]
		if c.Analyte != "Mg" || c.Magnesium != "with" || !slices.Contains(c.Classes, a.classes["Mg"]) {
			continue
		}
		a.line(Line{ID: "lime-kind", When: Season, What: "Magnesium is low. Where lime is due, take the kind that carries magnesium.", Basis: []Basis{basis(c.ID, c.Source, c.Provenance, c.At)}})
		return
	}
}

// noRate is what is said of a nutrient for which the rule set has no amounts:
// nothing is added where the soil has enough, else the client is asked.
func (a *adviser) noRate(nutrient string) (*Line, *Question) {
	nr, by := a.rs.NoRate, map[string]string{"P2O5": "P", "K2O": "K"}[nutrient]
	if nr == nil || nutrient == "Mg" || nutrient == "Zn" {
		return nil, nil
	}
	if rank(a.classes[by]) >= rank(Optimum) {
		l := &Line{ID: nutrient, When: Not, Need: "0", What: "Add no " + PlainName(nutrient) + ". Your soil has enough " + PlainName(by) + "."}
		for _, g := range a.out.Ratings {
			if g.Analyte == by && g.Class != "" {
				l.Basis = append(l.Basis, g.Basis...)
			}
		}
		l.Basis = append(l.Basis, basis(nr.ID, nr.Source, nr.Provenance, nr.At))
		return l, nil
	}
	if r := a.find(by); nutrient != "N" && (r == nil || a.classes[by] == "") {
		return nil, nil // it was not tested, or its own question says why it is not rated
	}
	return nil, &Question{Code: "rate-not-in-tables", Blocks: nutrient, Text: nr.Ask}
}

// unrated asks about the analytes that a nutrient table goes by and that were
// measured, but in a way that the tables can't rate. Results with a doubt
// have their own question.
func (a *adviser) unrated() {
	var reasons []string
	names := map[string][]string{}
	code := map[string]string{}
	for _, n := range []string{"P2O5", "K2O"} {
		by := map[string]string{"P2O5": "P", "K2O": "K"}[n]
		if t := a.rs.table(a.out.LandUse.ID, n); t != nil {
			by = t.By
		}
		if by == "" || a.classes[by] != "" {
			continue
		}
		r := a.find(by)
		if r == nil || r.Status != normalize.OK {
			continue
		}
		for _, g := range a.out.Ratings {
			if g.Analyte != by || g.Not == "" {
				continue
			}
			if names[g.Not] == nil {
				reasons = append(reasons, g.Not)
			}
			names[g.Not] = append(names[g.Not], PlainName(by))
			code[g.Not] = "not-rated"
			if unsettledOxide(r) == g.Not {
				code[g.Not] = "labeled-as-oxide"
			}
			if r.Method == "" {
				code[g.Not] = "method-not-stated"
			}
			break
		}
	}
	for _, why := range reasons {
		next := "Please call us about it."
		if code[why] == "method-not-stated" {
			next = "Please ask the laboratory which method it used."
		}
		if code[why] == "labeled-as-oxide" {
			next = "Please ask the laboratory for the amount of the element itself."
		}
		a.ask(Question{Code: code[why], Blocks: strings.Join(names[why], " "), Text: "We cannot advise on " + list(names[why]) + " yet. " + why + " " + next})
	}
}

// saltsUnrated warns where the report gives salts that may be too high and the
// tables can't tell: for want of the texture, from where they are excessive in
// some texture; or of the test method, from where they would be in every one, as
// the tables go by a thin suspension and thicker ones of the same soil show more.
func (a *adviser) saltsUnrated() {
	r := a.find("EC")
	if !usable(r) || r.Status != normalize.OK || r.Unit != unitOfAnalyte["EC"] {
		return
	}
	var least, most *big.Rat
	var by []Basis
	known := false
	for i := range a.rs.Ratings {
		t := &a.rs.Ratings[i]
		if t.Analyte != "EC" || !slices.Contains(t.For, a.out.LandUse.ID) {
			continue
		}
		known = known || slices.Contains(t.Methods, r.Method)
		for j := range t.Classes {
			if c := &t.Classes[j]; c.Class == Excessive {
				by = append(by, basis(c.ID, c.Source, c.Provenance, c.At))
				if from := c.From.rat(); least == nil || from.Cmp(least) < 0 {
					least = from
				}
				if from := c.From.rat(); most == nil || from.Cmp(most) > 0 {
					most = from
				}
			}
		}
	}
	bound := most
	if known {
		bound = least
	}
	if s, ok := spanOf(r); bound == nil || !ok || s.high != nil && s.high.Cmp(bound) < 0 {
		return
	}
	g := a.rs.rate(r, a.out.LandUse.ID, a.soil())
	a.more = append(a.more, Said{ID: "salts-unrated", Text: "The report gives the salts in this soil, and we can not say yet whether there is too much. " + g.Not + " Please call us before you plant or feed anything.", Basis: by})
}

// salts holds back all feeding where the soil is rated as holding too much
// salt: fertilizer, manure and compost are salts too.
func (a *adviser) salts() {
	if a.classes["EC"] == "" {
		a.saltsUnrated()
	}
	if rank(a.classes["EC"]) <= rank(Optimum) {
		return
	}
	a.events["salts"] = true
	var by []Basis
	for _, g := range a.out.Ratings {
		if g.Analyte == "EC" {
			by = g.Basis
		}
	}
	if a.classes["EC"] != Excessive {
		// Seedlings feel it first; the caution for salts says the rest.
		a.line(Line{ID: "salts", When: First, What: "The soil holds more salt than is usual. Water it well before you sow or plant, where the ground drains well.", Basis: by})
		return
	}
	delete(a.events, "fertilizer")
	for i := range a.out.Lines {
		l := &a.out.Lines[i]
		if l.ID == "OM" && l.When == Season {
			*l = Line{ID: l.ID, When: Not, What: "Add no manure or compost yet. The soil holds too much salt.", Basis: append(l.Basis, by...)}
		}
		if l.When != Not && slices.Contains(knownNutrients, l.ID) {
			*l = Line{ID: l.ID, When: Not, Need: "0", What: "Add no " + PlainName(l.ID) + " yet. The soil holds too much salt, and fertilizer would add to it.", Basis: append(l.Basis, by...)}
		}
	}
}
