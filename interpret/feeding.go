package interpret

import (
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
	rich := a.nitrateHigh()
	settled := a.plants(ask, rich)
	for _, n := range knownNutrients {
		if slices.Contains(settled, n) || n == "N" && rich {
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
	open := false // the table has no class for too much
	for _, g := range a.out.Ratings {
		if g.Analyte == "EC" {
			by = g.Basis
			open = len(g.Bands) > 0 && g.Bands[len(g.Bands)-1].Class != Excessive
		}
	}
	if open {
		a.saltsUnrated()
		return
	}
	if a.classes["EC"] != Excessive {
		// Seedlings feel it first; the caution for salts says the rest.
		a.line(Line{ID: "salts", When: First, What: "The soil holds more salt than is usual. Water it well before you sow or plant, where the ground drains well.", Basis: by})
		return
	}
	a.holdFeeding("The soil holds too much salt, and that would add to it.", by)
}
