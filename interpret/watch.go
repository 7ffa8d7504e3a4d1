package interpret

import (
	"math/big"
	"slices"

	"example.org/windrow/normalize"
)

// A Watch is a figure from which something in the soil stands out, whatever
// grows there, and what is said then. A table of ratings says how much of a
// nutrient is enough; this says when a person has to be asked before anything
// is spread, or what the soil is not to get more of.
type Watch struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Hazard     string     `yaml:"hazard" rule:"required"` // sodium, salts, nitrate, organic or not-soil
	Analyte    string     `yaml:"analyte" rule:"required"`
	Unit       string     `yaml:"unit" rule:"required"`
	Methods    []string   `yaml:"methods"`              // none means by whatever method
	From       Num        `yaml:"from" rule:"required"` // this much and more
	Text       string     `yaml:"text" rule:"required"` // what is said; of sodium and salts one sentence that leads the letter
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// The kinds of a watch: what follows where its figure is reached.
const (
	watchSodium  = "sodium"   // nothing is spread before the office was asked
	watchSalts   = "salts"    // no feeding before the office was asked; for tests that no table of salts is made for
	watchNitrate = "nitrate"  // no nitrogen before the office was asked
	watchOrganic = "organic"  // no more organic matter
	watchNotSoil = "not-soil" // what was tested is no soil of the ground
)

var watchKinds = []string{watchSodium, watchSalts, watchNitrate, watchOrganic, watchNotSoil}

// watched is the row of a kind whose figure a result reaches, the one that
// leads furthest up where there are several, with the result; nil for none. A
// limit reaches a figure if its value does.
func (a *adviser) watched(kind string) (*Watch, *normalize.Result) {
	var found *Watch
	var by *normalize.Result
	for i := range a.rs.Watch {
		w := &a.rs.Watch[i]
		if w.Hazard != kind {
			continue
		}
		for _, r := range a.rec.Results {
			if r.Analyte != w.Analyte || r.Unit != w.Unit || r.Status != normalize.OK || r.Missing != "" || len(w.Methods) > 0 && !slices.Contains(w.Methods, r.Method) {
				continue
			}
			s, ok := spanOf(r)
			if !ok || s.high != nil && s.high.Cmp(w.From.rat()) < 0 || r.Censored == "<" {
				continue
			}
			if found == nil || found.From.rat().Cmp(w.From.rat()) < 0 {
				found, by = w, r
			}
		}
	}
	return found, by
}

func (w *Watch) basis() Basis { return basis(w.ID, w.Source, w.Provenance, w.At) }

// sodiumKnown reports whether the record tells by a share or ratio how much
// sodium the soil holds, so that nobody is sent for that test again; measured
// reports whether it was measured at all.
func (a *adviser) sodiumKnown() (known, measured bool) {
	for _, r := range a.rec.Results {
		if r.Missing != "" || r.Value == "" || r.Status != normalize.OK {
			continue
		}
		known = known || r.Analyte == "SAR" || r.Analyte == "base_sat_Na"
		measured = measured || r.Analyte == "Na"
	}
	return known, known || measured
}

// sodiumShare is the share of the exchange capacity that sodium takes, in
// percent, worked out where the laboratory gives the two and not the share: 1
// cmol(+) of sodium is 229.9 mg. nil where one of them is not known.
func (a *adviser) sodiumShare() *big.Rat {
	na, cec := a.find("Na"), a.soil().cec
	if !usable(na) || na.Unit != unitOfAnalyte["Na"] || na.Censored != "" || cec == nil || cec.Sign() <= 0 || a.find("base_sat_Na") != nil {
		return nil
	}
	v, ok := ratOf(na.Value)
	if !ok {
		return nil
	}
	return quo(mul(v, rat(1000, 2299)), cec) // x 100 percent / 229.9
}

// sodium looks for too much of it: by a share or ratio that was measured, by
// the share that sodium and exchange capacity make, or by a pH that hardly
// comes about otherwise.
func (a *adviser) sodium() {
	if w, _ := a.watched(watchSodium); w != nil {
		a.alarm(Alarm{ID: "sodium", Text: w.Text, Do: callBefore, Stop: true, Again: againPlant, Basis: []Basis{w.basis()}})
		a.events["sodium-high"] = true
		delete(a.events, "sodium") // its caution asks for a test that was made
		return
	}
	if share := a.sodiumShare(); share != nil {
		for i := range a.rs.Watch {
			if w := &a.rs.Watch[i]; w.Hazard == watchSodium && w.Analyte == "base_sat_Na" && share.Cmp(w.From.rat()) >= 0 {
				b := w.basis()
				b.Provenance = Inferred // the figure is for exchangeable sodium, and the share is worked out
				a.alarm(Alarm{ID: "sodium", Text: "The soil may hold too much sodium.", Do: callBefore, Stop: true, Again: againPlant, Basis: []Basis{b}})
				a.events["sodium-high"] = true
				delete(a.events, "sodium")
				return
			}
		}
	}
	if !a.events["sodium"] {
		return
	}
	x := Alarm{ID: "sodium", Text: "So high a pH may mean that the soil holds too much sodium.", Do: askSodium, Stop: true, Again: againPlant}
	known, measured := a.sodiumKnown()
	switch {
	case known: // and it is not too much
		x.ID, x.Text, x.Do = "ph-high", "The pH of this soil is very high.", callBefore
		delete(a.events, "sodium")
	case measured:
		x.Do = callBefore
		delete(a.events, "sodium")
	}
	for i := range a.rs.Cautions {
		if c := &a.rs.Cautions[i]; slices.Contains(c.When, "sodium") {
			x.Basis = []Basis{basis(c.ID, c.Source, c.Provenance, c.At)}
			a.alarm(x)
			break
		}
	}
}

// notSoil asks what was sampled where so much of it is organic that it is peat,
// compost or potting mix: every table is made for soil of the ground.
func (a *adviser) notSoil() {
	if w, _ := a.watched(watchNotSoil); w != nil {
		a.ask(Question{Code: "not-soil", Blocks: "all", Text: w.Text, Basis: []Basis{w.basis()}})
	}
}

// saltsUnrated asks the client to call where the report gives salts that may be
// too high and the tables can't tell, for want of the texture, of a table for
// the test method, or of a class for too much. All feeding waits for the answer. Where the texture alone is
// missing and sandy soil alone could hold too much, that is said instead.
func (a *adviser) saltsUnrated() {
	w, r := a.watched(watchSalts)
	if w == nil {
		a.saltsIfSandy()
		return
	}
	why := a.rs.rate(r, a.out.LandUse.ID, a.soil()).Not
	if why == "" {
		why = "It is above what our tables call usual, and they do not say from where on it is too much."
	}
	by := []Basis{w.basis()}
	a.alarm(Alarm{ID: "salts-unrated", Text: w.Text, Do: "Call us before you plant or feed anything.", Basis: by})
	a.more = append(a.more, Said{ID: "salts-unrated", Text: "We cannot say yet whether the soil holds too much salt. " + why + " Until we can, add no fertilizer, manure or compost.", Basis: by})
	a.holdFeeding("We have to know first whether the soil holds too much salt.", by)
}

// saltsIfSandy tells what to do if the soil is sandy, where its texture is not
// known and that alone decides whether its salts are more than usual.
func (a *adviser) saltsIfSandy() {
	r := a.find("EC")
	if !usable(r) || r.Unit != unitOfAnalyte["EC"] || a.texture() != "" {
		return
	}
	s, ok := spanOf(r)
	if !ok || r.Censored == "<" {
		return
	}
	for i := range a.rs.Ratings {
		t := &a.rs.Ratings[i]
		if t.Analyte != "EC" || !t.covers(a.out.LandUse.ID) || !slices.Contains(t.Methods, r.Method) || !slices.Contains(fold2(t.Textures), "sand") {
			continue
		}
		for j := range t.Classes {
			if c := &t.Classes[j]; c.Class == High && s.low.Cmp(c.From.rat()) >= 0 {
				a.more = append(a.more, Said{ID: "salts-if-sandy", Text: "If your soil is sandy, it holds more salt than is usual in sand. Then water it well before you sow or plant, where the ground drains well.", Basis: []Basis{basis(c.ID, c.Source, c.Provenance, c.At)}})
			}
		}
	}
}

// holdFeeding turns every line that feeds the soil into one that says to wait,
// and why: fertilizer, manure and compost are salts too.
func (a *adviser) holdFeeding(why string, by []Basis) {
	delete(a.events, "fertilizer")
	delete(a.events, "low-organic-matter")
	for i := range a.out.Lines {
		l := &a.out.Lines[i]
		switch {
		case l.ID == "OM":
			*l = Line{ID: l.ID, When: Not, What: "Add no manure or compost yet. " + why, Basis: append(l.Basis, by...)}
		case l.When != Not && slices.Contains(knownNutrients, l.ID):
			*l = Line{ID: l.ID, When: Not, Need: "0", What: "Add no " + PlainName(l.ID) + " yet. " + why, Basis: append(l.Basis, by...)}
		}
	}
}

// nitrateHigh asks before nitrogen is added where the soil held plenty when it
// was sampled, and reports whether it did.
func (a *adviser) nitrateHigh() bool {
	w, _ := a.watched(watchNitrate)
	if w == nil {
		return false
	}
	a.ask(Question{Code: "nitrate-high", Blocks: "N", Text: w.Text, Basis: []Basis{w.basis()}})
	return true
}

// harmful are the trace elements of which plants suffer from too much, as far
// as the classes above optimum can say so.
var harmful = []string{"B", "Zn", "Cu"}

// scarce are the trace elements that a client may be tempted to add.
var scarce = []string{"Zn", "Cu", "B", "Fe", "Mn"}

// traces says what to do about trace elements that stand out: no table of ours
// gives amounts of them, except of zinc.
func (a *adviser) traces() {
	var much, little []string
	var muchBy, littleBy []Basis
	for _, g := range a.out.Ratings {
		switch r := rank(g.Class); {
		case r > rank(Optimum) && slices.Contains(harmful, g.Analyte) && !slices.Contains(much, PlainName(g.Analyte)):
			much, muchBy = append(much, PlainName(g.Analyte)), append(muchBy, g.Basis...)
		case r >= 0 && r <= rank(Low) && slices.Contains(scarce, g.Analyte) && !slices.Contains(little, PlainName(g.Analyte)):
			if g.Analyte == "Zn" && a.rs.table(a.out.LandUse.ID, "Zn") != nil {
				continue
			}
			little, littleBy = append(little, PlainName(g.Analyte)), append(littleBy, g.Basis...)
		}
	}
	if len(much) > 0 {
		a.alarm(Alarm{ID: "trace-high", Text: "The soil holds so much " + list(much) + " that plants may suffer.", Do: "Add no more of that, and call us before you plant.", Basis: muchBy})
		a.more = append(a.more, Said{ID: "trace-high", Text: "The soil holds much " + list(much) + ". Read the labels of what you spread, manure and compost too, and take none that carries more of it.", Basis: muchBy})
	}
	if len(little) > 0 {
		a.more = append(a.more, Said{ID: "trace-low", Text: "The soil holds little " + list(little) + ". Add none before you have asked us: the right amount is small, and too much harms plants.", Basis: littleBy})
	}
}

// watch checks that a figure can be reached and leads somewhere.
func (c *checker) watch() {
	for i := range c.rs.Watch {
		w := &c.rs.Watch[i]
		c.oneOf("hazard", w.Of("hazard"), w.Hazard, watchKinds)
		c.methods(w.Of("methods"), w.Methods)
		units := map[string]string{"SAR": "ratio", "base_sat_Na": "%"}
		unit, ok := unitOfAnalyte[w.Analyte]
		if !ok {
			if unit, ok = units[w.Analyte]; !ok {
				c.oneOf("analyte", w.Of("analyte"), w.Analyte, append(analytes(), keys(units)...))
				continue
			}
		}
		c.unit(w.Of("unit"), w.Unit, unit)
		if w.From.rat().Sign() <= 0 {
			c.fault("watch-unclear", w.Of("from"), "a figure from which something stands out must be above 0", "", string(w.From), "")
		}
	}
}
