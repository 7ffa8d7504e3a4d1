package interpret

import (
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// usable reports whether advice may rest on a result: it has a number, and
// nothing is wrong with it.
func usable(r *normalize.Result) bool {
	return r != nil && r.Missing == "" && r.Value != "" && r.Status == normalize.OK && r.Method != ""
}

// adviser gathers the advice on one record.
type adviser struct {
	rs      *RuleSet
	rec     *normalize.Record // each test once
	out     *Advice
	area    areas
	classes map[string]string
	events  map[string]bool // occasions for cautions
	laws    []*Law          // of the region, for this use of the land
	more    []Said          // cautions that hang on a value: of totals of metals, and of salts
	blocked bool
	// hopeless says that the soil can't be made fit for what grows there, so
	// that nobody is asked how to feed it.
	hopeless bool
	planted  bool // bushes or trees stand there already, as far as was told
}

// Advise says what to do about a record. It asks a question wherever advice
// would be a guess: a held record, a flagged or doubtful result, a missing
// buffer pH where lime is due, an unknown land use or method, an old sample.
// Amounts are exact until they are printed (see RoundLb). The same arguments
// give the same advice; none of them is changed.
func Advise(rec *normalize.Record, rep *normalize.Report, rs *RuleSet, ask Ask) *Advice {
	rec = rec.Once()
	a := &adviser{rs: rs, rec: rec, classes: map[string]string{}, events: map[string]bool{"always": true}}
	a.out = &Advice{Schema: AdviceSchema, Record: rec.ID, Report: rep.ID, On: ask.On, Questions: []Question{}, Ratings: []Rating{}, Lines: []Line{}, Cautions: []Said{},
		Sources: []Cited{}, Rests: map[Provenance]int{}, Disclosure: []string{},
		Rules: RulesRef{ID: rs.ID, Title: rs.Title, Region: rs.Region, File: rs.File, SHA256: rs.SHA256, Overridden: rs.Overridden}}
	ask = a.register(ask)
	a.planted = ask.PlantAge != "" || ask.Plants != ""
	a.useOf(ask)
	if a.out.LandUse.Turf {
		a.laws = rs.Laws.In(ask.Region, householder, ask.On)
	}
	a.areaOf(ask)
	a.fit(rep, ask)
	if rec.Status != normalize.Held && rep.Status != normalize.Held {
		a.notSoil()
		a.rate()
		a.lead()
		a.hazards()
		if rec.Sample.DepthTopIn == "" {
			a.alarms()
		}
		switch {
		case a.blocked:
		case a.out.Lead != nil && a.out.Lead.NoFood && a.out.LandUse.Food:
			a.line(Line{ID: "lead", When: First, What: "Grow no food here. We give no advice on lime or fertilizer for food crops in this soil.", Basis: a.out.Lead.Basis[:1]})
		case a.stopped():
		default:
			a.ph()
			if !a.hopeless {
				a.nutrients(ask)
			}
			a.organic()
			a.salts()
			a.guard()
			a.plan()
		}
		a.cautions()
		a.again(ask)
	}
	a.close()
	return a.out
}

func (a *adviser) ask(q Question) {
	if q.Blocks == "all" {
		a.blocked = true
	}
	for i := range a.out.Questions {
		if o := &a.out.Questions[i]; o.Text == q.Text {
			if !slices.Contains(strings.Fields(o.Blocks), q.Blocks) {
				o.Blocks += " " + q.Blocks
			}
			return // one answer settles both, as with the amounts of N, P and K for a field
		}
	}
	a.out.Questions = append(a.out.Questions, q)
}

// Use is the land use that a rule set has for what anyone calls it, nil when it
// has none.
func (rs *RuleSet) Use(said string) *LandUse {
	var found *LandUse
	for i, l := range rs.LandUses {
		if said != "" && (fold(l.ID) == fold(said) || fold(l.Name) == fold(said) || slices.Contains(fold2(l.Covers), fold(said))) {
			found = &rs.LandUses[i]
		}
	}
	return found
}

// useOf finds the rule set's land use for what was asked or reported.
func (a *adviser) useOf(ask Ask) {
	u := UseRef{Said: ask.LandUse, From: "asked"}
	if u.Said == "" {
		u.Said, u.From = a.rec.Sample.LandUse, "report"
		if u.Said == "" {
			u.Said = a.rec.Sample.LandUseText
		}
		if slices.Contains(a.rec.Sample.DefaultsUsed, "land_use") {
			u.From = "default"
		}
	}
	switch {
	case u.Said == "":
		u.From = ""
	case a.out.Register.took("land_use"):
		u.From = "register"
	}
	if l := a.rs.Use(u.Said); l != nil {
		u.ID, u.Name, u.Established, u.Food, u.Turf, u.PerSqFt = l.ID, l.Name, l.Established, l.Food, l.Turf, l.Per
		u.LimeHow = l.LimeHow
	}
	a.out.LandUse = u
	a.area.per = u.PerSqFt
	switch {
	case u.Said == "":
		a.ask(Question{Code: "land-use-missing", Blocks: "all", Text: "What do you grow on this ground? The report does not say, and the advice is different for a vegetable garden, a lawn and a bed of native plants."})
	case u.ID == "":
		a.ask(Question{Code: "land-use-unknown", Blocks: "all", Text: a.whoSays() + " that this ground is used for “" + u.Said + "”. Our tables do not cover that use yet. Please call us, and a person will help you. If it is really a " + a.useNames() + ", tell us."})
	}
}

func (a *adviser) useNames() string {
	var n []string
	for _, l := range a.rs.LandUses {
		n = append(n, l.Name)
	}
	if len(n) < 2 {
		return strings.Join(n, "")
	}
	return strings.Join(n[:len(n)-1], ", ") + " or " + n[len(n)-1]
}

func (a *adviser) areaOf(ask Ask) {
	if ask.AreaSqFt == "" {
		return
	}
	r, ok := parseNum(ask.AreaSqFt)
	if !ok || r.Sign() <= 0 || strings.Contains(ask.AreaSqFt, "/") || r.Cmp(rat(100_000_000, 1)) > 0 {
		a.ask(Question{Code: "area-unclear", Blocks: "area", Text: "We could not read the size of your area. Please tell us in square feet: length times width."})
		return
	}
	a.out.AreaSqFt = plain(r, 1)
	a.area.own = r
}

// fit asks what stands in the way of advising on the record at all.
func (a *adviser) fit(rep *normalize.Report, ask Ask) {
	rec := a.rec
	if rec.Status == normalize.Held || rep.Status == normalize.Held {
		a.ask(Question{Code: "record-held", Blocks: "all", Text: "A person in our office still has to look at this report before we can advise. We will write again."})
		return
	}
	for _, f := range rec.Checks {
		if f.Severity == ingest.Flag || f.Severity == ingest.Hold {
			a.ask(Question{Code: "record-doubtful", Blocks: "all", Text: "Something in this report does not fit together: " + sentence(f.What) + " We ask the laboratory first, and advise when we know."})
		}
	}
	if a.below() {
		return
	}
	a.age(ask)
	a.treated(ask)
	for _, r := range rec.Results {
		switch {
		case (r.Status == normalize.Held || r.Status == normalize.Flagged) && slices.Contains(advisedOn, r.Analyte):
			why := "it needs a second look"
			if len(r.Findings) > 0 {
				why = r.Findings[0].What
			}
			a.ask(Question{Code: "result-doubtful", Blocks: r.Analyte, Text: "We do not advise on " + PlainName(r.Analyte) + " yet. " + sentence(why) + " Please ask the laboratory, or send a new sample."})
		case r.Analyte == "pH" && r.Value != "":
			if v, ok := ratOf(r.Value); ok && (v.Cmp(rat(35, 10)) < 0 || v.Cmp(rat(95, 10)) > 0) {
				a.ask(Question{Code: "ph-impossible", Blocks: "all", Text: "A pH of " + string(r.Value) + " is not one that farm or garden soil has. Please send a new sample."})
			}
		}
	}
}

// below refuses a layer from below the surface: tables of lime and fertilizer
// are made for the top one (common practice, no source). What else could be
// asked, such as what grows there, would change nothing.
func (a *adviser) below() bool {
	s := a.rec.Sample
	if s.DepthTopIn != "" {
		a.out.Questions = slices.DeleteFunc(a.out.Questions, func(q Question) bool { return strings.HasPrefix(q.Code, "land-use-") || q.Code == "area-unclear" })
		a.ask(Question{Code: "below-surface", Blocks: "all", Text: "This sample is of the soil from " + string(s.DepthTopIn) + " to " + string(s.DepthIn) + " inches deep. Our tables are for the top layer, so we give no advice on lime or fertilizer from it. Please see the letter on the top layer."})
	}
	return s.DepthTopIn != ""
}

// advisedOn are the analytes that advice rests on. A doubt about another one
// is the record's business and holds nothing back here.
var advisedOn = []string{"pH", "buffer_pH", "acidity", "OM", "P", "K", "Mg", "Ca", "Pb", "texture"}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

func (a *adviser) age(ask Ask) {
	s := a.rec.Sample
	taken := s.Sampled
	if taken == "" {
		taken = s.Received
	}
	if taken == "" {
		taken = s.Reported
	}
	on, errOn := time.Parse(time.DateOnly, ask.On)
	if ask.On == "" {
		return
	}
	if errOn != nil {
		a.ask(Question{Code: "date-unclear", Blocks: "all", Text: "The date of this letter is not a date: " + ask.On + "."})
		return
	}
	if from, err := time.Parse(time.DateOnly, a.rs.InForce.From); err == nil && on.Before(from) {
		a.ask(Question{Code: "rules-not-in-force", Blocks: "all", Text: "Our tables were not yet in force on " + longDate(ask.On) + "."})
	}
	if a.rs.InForce.Until != "" && ask.On > a.rs.InForce.Until {
		a.ask(Question{Code: "rules-not-in-force", Blocks: "all", Text: "Our tables are in force only until " + longDate(a.rs.InForce.Until) + ". We must look for newer ones before we advise."})
	}
	if taken == "" {
		a.ask(Question{Code: "sample-undated", Blocks: "all", Text: "When was the soil sampled? The report gives no date, and we do not advise on samples older than " + itoa(a.rs.StaleYears) + " years."})
		return
	}
	at, err := time.Parse(time.DateOnly, taken)
	if err != nil {
		a.ask(Question{Code: "sample-undated", Blocks: "all", Text: "When was the soil sampled? We could not read the date on the report."})
		return
	}
	if at.After(on) {
		a.ask(Question{Code: "sample-future", Blocks: "all", Text: "The report says that the soil was sampled on " + longDate(taken) + ", which is later than the date of this letter. Please tell us the right date."})
	}
	if at.AddDate(a.rs.StaleYears, 0, 0).Before(on) {
		a.ask(Question{Code: "sample-old", Blocks: "all", Text: "The soil was sampled on " + longDate(taken) + ". That is more than " + itoa(a.rs.StaleYears) + " years ago, and soil changes. Please take a new sample and send it in."})
	}
}

// treated refuses a sample that was taken so soon after lime, fertilizer or
// manure that it shows what was spread, and not the soil.
func (a *adviser) treated(ask Ask) {
	if ask.Treated == "" || a.rs.Retest.WeeksAfter == 0 {
		return
	}
	spread, err := time.Parse(time.DateOnly, ask.Treated)
	taken, err2 := time.Parse(time.DateOnly, a.rec.Sample.Sampled)
	switch {
	case err != nil:
		a.ask(Question{Code: "treated-unclear", Blocks: "all", Text: "We could not read the date on which lime, fertilizer or manure was last spread. Please tell us again."})
	case err2 != nil:
		a.ask(Question{Code: "sample-undated", Blocks: "all", Text: "When was the soil sampled? We could not read the date on the report."})
	case !taken.Before(spread) && taken.Before(spread.AddDate(0, 0, 7*a.rs.Retest.WeeksAfter)):
		a.ask(Question{Code: "sample-after-treatment", Blocks: "all", Text: "The soil was sampled less than " + itoa(a.rs.Retest.WeeksAfter) + " weeks after lime, fertilizer or manure was spread. The test then shows what was spread, and not the soil. Please take a new sample and send it in."})
	case taken.Before(spread):
		a.ask(Question{Code: "treated-since", Blocks: "all", Text: "Lime, fertilizer or manure was spread after the soil was sampled, so the test no longer shows what the soil holds. Please take a new sample and send it in."})
	}
}

// longDate is a date as a person writes it.
func longDate(iso string) string {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return t.Format("January 2, 2006")
}

// rate rates what the rule set has scales for, in the order that a letter
// shows them.
func (a *adviser) rate() {
	target := a.rs.phFor(a.out.LandUse.ID)
	always := []string{"pH", "OM", "P", "K", "Mg", "Ca", "Zn", "Cu"}
	for _, id := range append(always, "S", "B", "Fe", "Mn", "NO3-N", "EC", "Na") {
		for _, r := range a.rec.Results {
			if r.Analyte != id {
				continue
			}
			var g Rating
			switch {
			case a.rec.Sample.DepthTopIn != "":
				if !slices.Contains(always, id) {
					continue
				}
				g = newRating(r)
				g.Not = "The tables we use are for the top layer of soil."
			case a.out.LandUse.ID == "":
				g = newRating(r)
				g.Not = "It depends on what you grow."
			case id == "pH" && target != nil:
				g = a.rs.ratePH(r, target)
			case id == "pH":
				g = newRating(r)
				g.Not = "The tables we use give no pH for this use of the land."
			default:
				g = a.rs.rate(r, a.out.LandUse.ID, a.soil())
				if g.Class == "" && !slices.Contains(always, id) {
					continue // nobody asked how these are, and the tables do not say
				}
			}
			if g.Class != "" && r.Status == normalize.Flagged {
				g.Not = "There is a doubt about this value, so it is not rated."
				g.Class, g.Word, g.Decided, g.ToNext, g.NextClass, g.Close, g.Differs, g.Bands, g.Basis = "", "", "", "", "", "", "", nil, nil
				g.Estimate = nil
			}
			if g.Class != "" && a.classes[id] == "" {
				a.classes[id] = g.Class
			} else if g.Class != "" && a.classes[id] != g.Class {
				a.ask(Question{Code: "two-results", Blocks: id, Text: "The report gives " + PlainName(id) + " twice, and the two do not agree. Please ask the laboratory which one is right."})
			}
			a.out.Ratings = append(a.out.Ratings, g)
		}
	}
	for id := range a.classes {
		for _, q := range a.out.Questions {
			if q.Code == "two-results" && q.Blocks == id {
				delete(a.classes, id)
			}
		}
	}
}

func (a *adviser) line(l Line) { a.out.Lines = append(a.out.Lines, l) }

// ph advises lime or sulfur, never both, or leaves the pH alone.
func (a *adviser) ph() {
	use := a.out.LandUse
	t := a.rs.phFor(use.ID)
	if t == nil {
		a.ask(Question{Code: "ph-not-in-tables", Blocks: "ph", Text: a.rs.AskPH})
		return
	}
	r := a.find("pH", t.Methods...)
	if r == nil {
		a.ask(Question{Code: "ph-missing", Blocks: "ph", Text: "The report gives no pH, so we cannot say whether lime is needed. Please ask for a pH test."})
		return
	}
	b := []Basis{basis(t.ID, t.Source, t.Provenance, t.At)}
	class := a.classes["pH"]
	if class == "" {
		if r.Status == normalize.OK {
			want := "a pH in water."
			if r.Censored != "" {
				want = "the pH itself. The report gives only a limit."
			}
			a.ask(Question{Code: "ph-not-usable", Blocks: "ph", Text: "We cannot say whether lime is needed from this report. Please ask the laboratory for " + want})
		}
		return
	}
	s, ok := spanOf(r)
	if !ok {
		return
	}
	limit := s.value == nil
	switch {
	case limit && class == TooAcid && t.LimeBelow != "":
		a.ask(Question{Code: "ph-limit", Blocks: "lime", Text: "Your soil needs lime. The amount depends on the pH, and the report gives only a limit for it. Please ask the laboratory for the pH itself."})
	case limit && class == TooAlkaline && t.AcidifyAbove != "":
		a.ask(Question{Code: "ph-limit", Blocks: "ph", Text: "The pH is too high for a " + use.Name + ", and the report gives only a limit for it. Please ask the laboratory for the pH itself."})
	case !limit && t.LimeBelow != "" && s.value.Cmp(t.LimeBelow.rat()) < 0:
		n, q := a.rs.limeNeed(use.ID, s, t, a.only("buffer_pH"), a.only("acidity"))
		if q != nil {
			a.ask(*q)
			return
		}
		n.basis = append(b, n.basis...)
		a.events["lime"] = true
		a.line(a.rs.limeLine(use, n, a.area, a.classes))
	case !limit && t.AcidifyAbove != "" && s.value.Cmp(t.AcidifyAbove.rat()) > 0:
		l, q := a.rs.sulfurLine(use, s, a.texture(), calcareous(a.find("carbonate")), a.area)
		if q != nil {
			a.ask(*q)
		}
		if l != nil && l.When != Not && a.planted {
			a.events["sulfur"] = true // for the cautions
			a.ask(Question{Code: "sulfur-planted", Blocks: "ph", Text: "The pH is too high for a " + use.Name + ", and the bed is planted already. Add no sulfur and dig nothing in. Please call us first."})
			return
		}
		if l != nil {
			l.Basis = append(b, l.Basis...)
			a.events["sulfur"] = l.When != Not
			a.hopeless = l.When == Not
			a.line(*l)
		}
	case class == TooAlkaline:
		a.line(Line{ID: "lime", When: Not, Need: "0", What: t.Above, Basis: b})
	case class == TooAcid && t.AskBelow != "":
		a.ask(Question{Code: "ask-us-pH", Blocks: "ph", Text: t.AskBelow})
	case class == TooAcid:
		a.line(Line{ID: "lime", When: Not, Need: "0", What: t.Below, Basis: b})
	default:
		a.line(Line{ID: "lime", When: Not, Need: "0", What: "Add no lime. The pH is right for a " + use.Name + ".", Basis: b})
	}
}

// only is the result of an analyte that the record has just one usable of for
// each method; nil when there is none. Results with a doubt are left out: the
// doubt has its own question.
func (a *adviser) only(analyte string) *normalize.Result {
	var methods []string
	for i := range a.rs.Lime.Rates {
		methods = append(methods, a.rs.Lime.Rates[i].Methods...)
	}
	r := a.find(analyte, methods...)
	if r == nil || r.Missing != "" || r.Value == "" {
		return nil
	}
	if r.Status != normalize.OK {
		return nil
	}
	return r
}

func (a *adviser) organic() {
	if w, _ := a.watched(watchOrganic); w != nil {
		a.line(Line{ID: "OM-much", When: Not, What: w.Text, Basis: []Basis{w.basis()}})
		return
	}
	for i := range a.rs.Organic {
		o := &a.rs.Organic[i]
		if !slices.Contains(o.For, a.out.LandUse.ID) || !slices.Contains(o.Classes, a.classes["OM"]) || a.classes["OM"] == "" {
			continue
		}
		l := Line{ID: "OM", When: Season, What: o.Advice, Basis: []Basis{basis(o.ID, o.Source, o.Provenance, o.At)}}
		if rank(a.classes["OM"]) >= rank(Medium) {
			l.When = Not
		} else if rank(a.classes["P"]) > rank(Optimum) && o.NotIfHighP != "" {
			l.What = o.NotIfHighP
		} else {
			a.events["low-organic-matter"] = true
		}
		a.line(l)
	}
}

func (a *adviser) lead() {
	l, qs := a.rs.leadAdvice(a.rec.Results, a.out.On)
	for _, q := range qs {
		a.ask(q)
	}
	if l.Kind == "none" && !a.out.LandUse.Food {
		return
	}
	a.out.Lead = l
	if l.Kind == "screen" || l.Kind == "total" {
		a.events["lead-"+l.Kind] = true
	}
}

func (a *adviser) cautions() {
	a.lawsSaid()
	a.out.Cautions = append(a.out.Cautions, a.more...)
	for i := range a.rs.Cautions {
		c := &a.rs.Cautions[i]
		if len(c.For) > 0 && !slices.Contains(c.For, a.out.LandUse.ID) {
			continue
		}
		if slices.ContainsFunc(c.When, func(w string) bool { return a.events[w] }) {
			a.out.Cautions = append(a.out.Cautions, Said{ID: c.ID, Text: c.Text, Basis: []Basis{basis(c.ID, c.Source, c.Provenance, c.At)}})
		}
	}
}

func (a *adviser) again(ask Ask) {
	r := &a.rs.Retest
	a.out.Again = Again{Years: r.Years, Why: "Soil changes slowly.", Basis: []Basis{basis(r.ID, r.Source, r.Provenance, r.At)}}
	for _, l := range a.out.Lines {
		if l.When == First && (l.ID == "lime" || l.ID == "sulfur") {
			a.out.Again.Years, a.out.Again.Why = r.YearsAfterLime, "A new pH shows what the "+l.ID+" has done."
		}
	}
	if len(a.out.Alarms) > 0 {
		x := a.out.Alarms[0]
		a.out.Again.Years, a.out.Again.First, a.out.Again.Why = 1, x.Again, ""
		a.out.Again.Basis = append(a.out.Again.Basis, x.Basis[:1]...)
	}
	if on, err := time.Parse(time.DateOnly, ask.On); err == nil {
		a.out.Again.Year = on.Year() + a.out.Again.Years
	}
}
