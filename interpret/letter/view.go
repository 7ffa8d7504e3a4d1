package letter

import (
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// view is what the template shows: words only, no decisions left.
type view struct {
	Office     Office
	Addresses  []string
	Sign       []string
	Date       string
	To         []string
	Dear       string
	About      []fact
	Bottom     []string
	Found      []found
	Others     []string
	Rest       string // what was measured and needs no line of its own
	Questions  []string
	First      []amountRow
	Season     []amountRow
	Also       []string
	Notes      []string
	NotAtAll   []string
	Columns    []string
	Lead       *interpret.LeadAdvice
	LeadValue  string // in the unit of the table
	Cautions   []string
	Again      string
	Record     string
	Rules      interpret.RulesRef
	Sources    []source
	Disclosure []string
	Explain    []string
	Title      string
	Picture    string
	PH         string
	Trace      string
	Guidance   string
	Rounded    string
	NoDate     string
	Fit        bool
}

type fact struct{ Name, Value string }

type found struct {
	Name, Printed, Unit, Same string
	Means, Extra, Lab         string
	Bar                       *bar
}

type amountRow struct {
	What, How string
	Values    []amount
}

type amount struct{ Lb, Cups string }

type source struct{ Text, Words string }

func newView(a *interpret.Advice, rec *normalize.Record, rep *normalize.Report, office Office) *view {
	v := &view{Office: office, Addresses: []string{strings.Join(lines(office.Address), ", ")}, Sign: lines(office.Signature), Date: longDate(a.On),
		Record: a.Record, Rules: a.Rules, Lead: a.Lead, Disclosure: a.Disclosure, Picture: sayPicture, PH: sayPHOnce,
		Trace: sayTrace, Guidance: sayGuidance, Rounded: sayRounded, Fit: a.Outcome != interpret.AskOnly}
	if a.On == "" {
		v.NoDate = sayNoAge
	}
	v.to(rec)
	v.about(a, rec, rep)
	for _, q := range a.Questions {
		v.Questions = append(v.Questions, q.Text)
	}
	v.found(a, rec)
	v.actions(a)
	v.Bottom = bottom(a)
	if l := a.Lead; l != nil && l.Kind == "none" {
		v.Lead = nil
		v.Cautions = append(v.Cautions, l.Do...)
	}
	for _, c := range a.Cautions {
		v.Cautions = append(v.Cautions, c.Text)
	}
	if a.Again.Years > 0 && v.Fit {
		v.Again = "Send a new sample in " + years(a.Again.Years)
		if a.Again.Year > 0 {
			v.Again += ", in " + strconv.Itoa(a.Again.Year)
		}
		v.Again += ". " + a.Again.Why + " " + sayShallow
	}
	for _, s := range a.Sources {
		var w []string
		for _, p := range s.Provenance {
			w = append(w, p.Words())
		}
		words := " (" + strings.Join(w, "; ") + ")"
		if s.Key == "trade" || s.Key == "definition" {
			words = ""
		}
		v.Sources = append(v.Sources, source{s.Text, words})
	}
	return v
}

func years(n int) string {
	if n == 1 {
		return "one year"
	}
	return [...]string{"no", "one", "two", "three", "four", "five"}[min(n, 5)] + " years"
}

func lines(s string) []string {
	var out []string
	for l := range strings.SplitSeq(s, "\n") {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

func longDate(iso string) string {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return t.Format("January 2, 2006")
}

func (v *view) to(rec *normalize.Record) {
	v.Dear = "Dear grower,"
	if c := rec.Client; c != nil {
		if c.Name != "" {
			v.To = append(v.To, c.Name)
			v.Dear = "Dear " + c.Name + ","
		}
		v.To = append(v.To, lines(strings.Replace(c.Address, ", ", "\n", 1))...)
	}
}

func (v *view) about(a *interpret.Advice, rec *normalize.Record, rep *normalize.Report) {
	s := rec.Sample
	add := func(n, val string) {
		if val != "" {
			v.About = append(v.About, fact{n, val})
		}
	}
	add("Sample", s.ClientLabel)
	use := a.LandUse.Said
	if a.LandUse.Name != "" && !strings.EqualFold(a.LandUse.Name, use) {
		use += " (read as " + a.LandUse.Name + ")"
	}
	if a.LandUse.From == "default" {
		use += " (our assumption, please correct it)"
	}
	add("Used for", use)
	if a.AreaSqFt != "" {
		add("Area", thousands(a.AreaSqFt)+" sq ft")
	}
	switch {
	case s.Sampled != "":
		add("Sampled", longDate(s.Sampled))
	case s.Received != "":
		add("Received", longDate(s.Received)) // the age of the sample was judged by it
	default:
		add("Reported", longDate(s.Reported))
	}
	add("Laboratory", strings.TrimSuffix(rep.Lab.Name+", no. "+s.LabID, ", no. "))
	v.Title = "Soil test letter"
	if s.ClientLabel != "" {
		v.Title += ": " + s.ClientLabel
	}
}

// main are the analytes that have a line in the table; the others are told
// in a sentence, and only where something is wrong with them.
var mainRows = []string{"pH", "OM", "P", "K", "Mg", "Ca"}

func (v *view) found(a *interpret.Advice, rec *normalize.Record) {
	var differ, estimated []string
	for _, r := range a.Ratings {
		if !slices.Contains(mainRows, r.Analyte) {
			if n, ok := traceName[r.Class]; ok && r.Class != interpret.Optimum {
				v.Others = append(v.Others, upper(interpret.PlainName(r.Analyte))+": "+n+" ("+r.Printed+" "+r.PrintUnit+").")
			}
			continue
		}
		f := found{Name: upper(interpret.PlainName(r.Analyte)), Printed: r.Printed, Unit: r.PrintUnit, Bar: newBar(r)}
		if r.Analyte == "pH" {
			f.Name, f.Unit = "Soil pH", ""
		}
		if r.Value != "" && !sameUnit(r.PrintUnit, r.Unit) {
			f.Same = "= " + r.Censored + r.Value + " " + shortUnit(r.Unit)
		}
		f.Means = className[r.Class]
		if r.Analyte == "OM" {
			f.Means = organicName[r.Class]
		}
		if r.Class == "" {
			f.Means, f.Extra = "Not rated", r.Not
		} else if r.Close != "" {
			f.Extra = "Very close to the line with “" + plainClass(r.NextClass) + "”."
		}
		if r.Estimate != nil {
			f.Means += " (from an estimate)"
			estimated = append(estimated, interpret.PlainName(r.Analyte))
		}
		f.Lab = labWord(r)
		if r.Differs != "" || otherWord(r) {
			f.Lab += " (see the note at the end)"
			differ = append(differ, interpret.PlainName(r.Analyte))
		}
		v.Found = append(v.Found, f)
	}
	v.lead(a.Lead, rec)
	v.rest(a, rec)
	if !slices.ContainsFunc(v.Found, func(f found) bool { return f.Bar != nil }) {
		v.Picture = ""
	}
	if len(estimated) > 0 {
		v.Explain = append(v.Explain, "The laboratory tested "+join(estimated, "and")+" in another way than our tables are made for. "+sayEstimated)
	}
	if len(differ) > 0 {
		v.Explain = append(v.Explain, "For "+join(differ, "and")+" "+sayDiffer)
	}
}

func plainClass(c string) string {
	return strings.ToLower(strings.SplitN(className[c]+",", ",", 2)[0])
}

func sameUnit(printed, unit string) bool {
	p := strings.ToLower(strings.ReplaceAll(printed, " ", ""))
	switch unit {
	case "mg/kg":
		return p == "ppm" || p == "mg/kg"
	case "%":
		return p == "%" || p == "percent" || p == "pct"
	case "pH":
		return true
	}
	return p == strings.ToLower(unit)
}

func shortUnit(u string) string {
	if u == "mg/kg" {
		return "ppm"
	}
	return u
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// bottom is the bottom line: what matters most, in two sentences.
func bottom(a *interpret.Advice) []string {
	if a.Outcome == interpret.AskOnly {
		out := []string{sayNotYet, saySeeBelow}
		if a.Lead != nil && a.Lead.NoFood {
			out[0] = sayNoFood
		}
		return out
	}
	var one string
	var add, none []string
	limeOpen, feedOpen := false, false
	for _, q := range a.Questions {
		limeOpen = limeOpen || q.Blocks == "lime"
		feedOpen = feedOpen || q.Blocks != "lime" && q.Blocks != "area"
	}
	acid := false
	for _, l := range a.Lines {
		name := interpret.PlainName(l.ID)
		switch {
		case l.ID == "lime" && l.When == interpret.First:
			one = sayLime
		case l.ID == "sulfur" && l.When == interpret.First:
			one = saySulfur
		case slices.Contains([]string{"N", "P2O5", "K2O", "Mg"}, l.ID) && l.When == interpret.Season:
			add = append(add, name)
		case slices.Contains([]string{"P2O5", "K2O"}, l.ID):
			none = append(none, name)
		}
	}
	if limeOpen {
		acid, one = true, sayLimeOpen
	}
	if a.Lead != nil && a.Lead.NoFood {
		return []string{sayNoFood, sayCallHealth}
	} else if a.Lead != nil && a.Lead.Refer != "" {
		one = sayLead
	}
	two := sayNothing
	if len(a.Questions) > 0 {
		two = sayNoneNow
	}
	if len(add) > 0 {
		two = "This season, add " + join(add, "and")
		if len(none) > 0 {
			two += ", but no " + join(none, "or")
		}
		two += "."
	} else if one != "" {
		two = sayNoFeed
		if feedOpen {
			two = sayNoFeedNow
		}
	}
	if one == "" {
		one = sayFair
		if !rated(a, "pH", "P", "K") {
			one = sayPartOnly
		} else if !short(a) {
			one = sayGood
		}
		if len(add) == 0 && a.LandUse.Established {
			one = sayLeave
		}
	}
	if len(a.Questions) > 0 && !acid {
		two += " " + sayPartOpen
		if len(a.Questions) > 1 {
			two = strings.Replace(two, "We need one thing", "We need a few things", 1)
		}
	}
	return []string{one, two}
}

// rated reports whether all of the analytes have a class.
func rated(a *interpret.Advice, analytes ...string) bool {
	for _, id := range analytes {
		if !slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool { return r.Analyte == id && r.Class != "" }) {
			return false
		}
	}
	return true
}

// short reports whether any nutrient is below optimum.
func short(a *interpret.Advice) bool {
	for _, r := range a.Ratings {
		switch r.Class {
		case interpret.VeryLow, interpret.Low, interpret.Medium:
			if r.Analyte != "OM" && r.Analyte != "Ca" {
				return true
			}
		}
	}
	return false
}

func join(n []string, word string) string {
	if len(n) == 1 {
		return n[0]
	}
	return strings.Join(n[:len(n)-1], ", ") + " " + word + " " + n[len(n)-1]
}

// actions sorts the lines into what to do, with the amounts where there are any.
func (v *view) actions(a *interpret.Advice) {
	for _, l := range a.Lines {
		switch {
		case l.ID == "OM":
			v.Also = append(v.Also, l.What) // "keep it up" is nothing to leave undone
		case l.When == interpret.Not:
			v.NotAtAll = append(v.NotAtAll, l.What)
		case l.Product == nil && l.Amount == nil:
			v.Also = append(v.Also, l.What)
		case l.When == interpret.First:
			v.First = append(v.First, v.amounts(l)...)
		default:
			v.Season = append(v.Season, v.amounts(l)...)
		}
		if l.When != interpret.Not && l.Note != "" {
			v.Notes = append(v.Notes, upper(interpret.PlainName(l.ID))+": "+l.Note)
		}
	}
}

// amounts are the rows of the table of amounts for one line: one row, or one
// for each application.
func (v *view) amounts(l interpret.Line) []amountRow {
	p := l.Product
	if p == nil {
		p = l.Amount
	}
	what := upper(p.Of)
	if l.Amount != nil && l.ID != "lime" && p != l.Amount {
		what = upper(interpret.PlainName(l.ID)) + ": " + p.Of
	}
	what = wholeGrade.ReplaceAllString(what, "$1\u2011$2\u2011$3")
	if len(v.Columns) == 0 {
		for _, f := range p.PerArea {
			c := "for each " + thousands(f.SqFt) + " sq ft"
			if f.SqFt == acre {
				c = "for each acre"
			}
			if f.Own {
				c = "for your " + thousands(f.SqFt) + " sq ft"
			}
			v.Columns = append(v.Columns, c)
		}
	}
	values := func(fs []interpret.ForArea) []amount {
		var out []amount
		for _, f := range fs {
			x := amount{Lb: thousands(f.Lb) + " lb", Cups: tons(f.Lb)}
			if f.Cups != "" {
				x.Cups = "about " + f.Cups + cups(f.Cups)
			}
			out = append(out, x)
		}
		return out
	}
	switch {
	case len(l.Parts) <= 1:
		return []amountRow{{what, l.How, values(p.PerArea)}}
	case sameParts(l.Parts):
		return []amountRow{{what, l.How + " This much each of " + strconv.Itoa(len(l.Parts)) + " times.", values(l.Parts[0].PerArea)}}
	}
	var out []amountRow
	for i, part := range l.Parts {
		when := "Now. " + l.How
		if i > 0 {
			when = "After " + strconv.Itoa(part.Months) + " months."
		}
		if part.Retest {
			when = "After " + strconv.Itoa(part.Months) + " months, if a new pH test still asks for it."
		}
		out = append(out, amountRow{what, when, values(part.PerArea)})
	}
	return out
}

// acre is an acre in square feet; by definition.
const acre = "43560"

// tons is an amount of a ton and more in tons, as it is bought, or "".
func tons(lb string) string {
	f, ok := number(lb)
	if !ok || f < 2000 {
		return ""
	}
	return "about " + strconv.FormatFloat(f/2000, 'f', 1, 64) + " tons"
}

// wholeGrade finds the three numbers of a label, so that a line does not
// break inside them.
var wholeGrade = regexp.MustCompile(`(\d)-(\d+)-(\d)`)

func cups(n string) string {
	if n == "0.5" || n == "1" {
		return " cup"
	}
	return " cups"
}

// sameParts reports whether every application is alike and none has a date.
func sameParts(ps []interpret.Part) bool {
	for _, p := range ps {
		if p.Months != 0 || p.Retest {
			return false
		}
	}
	return true
}

// thousands puts commas into a whole number.
func thousands(s string) string {
	whole, frac, ok := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if ok {
		return whole + "." + frac
	}
	return whole
}

func number(s string) (float64, bool) {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return 0, false
	}
	f, _ := r.Float64()
	return f, true
}
