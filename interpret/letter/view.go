package letter

import (
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// view is what a page shows: words only, no decisions left.
type view struct {
	*tongue
	fine       map[string]bool // analytes of which nothing is to be added where they are medium
	Office     Office
	Contact    []string
	Sign       []string
	To         []string
	Dear       string
	About      []fact
	Bottom     []string
	Found      []found
	LabSays    bool     // the laboratory has words of its own for some of them
	Others     string   // what else is short or too much
	Rest       string   // what was measured and needs no line of its own
	Explain    []string // what stands behind words in the table
	Questions  []string
	Need       string // the heading of the questions
	Groups     []amountGroup
	Also       []string
	Notes      []string
	NotAtAll   []string
	Columns    []string
	Lead       *leadView
	LeadValue  string // in the unit of the table
	Cautions   []string
	Again      string
	Record     string
	ReadWith   string
	Sources    []source
	Disclosure []string
	Title      string
	Picture    string
	Small      []string // what the small print begins with, as sentences
	Fit        bool
	foreign    bool // something stays in English
}

type fact struct{ Name, Value string }

// A source is a publication in its own language, with how far it can be relied
// on; or words of ours in place of one.
type source struct {
	Text, Note string
	Ours       bool
}

type found struct {
	Name, Printed, Unit, Same string
	Means, Extra, Lab         string
	Differs                   bool // the laboratory's word is explained below the table
	Bar                       *bar
}

type leadView struct {
	Head    string
	Do      []string
	Refer   string
	History string
}

// An amountGroup is a part of the table of amounts.
type amountGroup struct {
	Name string
	Rows []amountRow
}

type amountRow struct {
	What, How string
	Bags      string // how many hold it, where that is not said with how
	Values    []amount
}

// An amount is a weight, and under it what helps to measure or buy it.
type amount struct {
	Lb    string
	Helps []string
}

// tr is what advice says, in the language of the letter.
func (v *view) tr(english string) string {
	s := v.tongue.tr(english)
	v.foreign = v.foreign || strings.ContainsRune(s, foreignFrom)
	return s
}

// Untranslated is what is said where something stays in English, else "".
func (v *view) Untranslated() string {
	if !v.foreign {
		return ""
	}
	return v.say("untranslated_note")
}

// Lang is the language for the page to declare.
func (v *view) Lang() string { return string(v.lang) }

// Wide is how many columns the table of amounts has.
func (v *view) Wide() int { return 2 + len(v.Columns) }

// For is the area that the amounts of a column are for, as it is headed.
func (v *view) For(column int) string {
	if column >= len(v.Columns) {
		return ""
	}
	return v.Columns[column]
}

// Say is one of the letter's own phrases, for a page.
func (v *view) Say(key string) string { return v.say(key) }

func newView(l *Letter) *view {
	a, rec, rep := l.Advice, l.Record.Once(), l.Report
	v := &view{tongue: tongueOf(l.Language), Office: l.Office, Sign: lines(l.Office.Signature), Record: a.Record, Fit: a.Outcome != interpret.AskOnly}
	if v.Office.Name == "" {
		v.Office.Name = v.say("title")
	}
	v.Contact = contact(l.Office)
	v.Picture = v.say("picture") + " " + v.say("ph_once")
	v.to(rec)
	v.about(a, rec, rep)
	v.ask(a, rec)
	v.Need = v.say("need")
	if waits(a) {
		v.Need = v.say("next")
	}
	v.found(a, rec)
	v.actions(a)
	v.bottom(a)
	v.leadText(a)
	for _, c := range a.Cautions {
		if v.Lead != nil && strings.HasPrefix(c.ID, "lead-") {
			v.Lead.Do = append(v.Lead.Do, v.tr(c.Text)) // said once, where lead is told of
		} else {
			v.Cautions = append(v.Cautions, v.tr(c.Text))
		}
	}
	if a.Again.Years > 0 && v.Fit {
		in := v.say("years." + strconv.Itoa(min(a.Again.Years, 5)))
		v.Again = v.say("again_in", "years", in)
		if a.Again.Year > 0 {
			v.Again = v.say("again_year", "years", in, "year", strconv.Itoa(a.Again.Year))
		}
		if a.Again.First != "" {
			v.Again = v.tr(a.Again.First)
		} else if a.Again.Why != "" {
			v.Again += " " + v.tr(a.Again.Why)
		}
		if a.Lead == nil || !a.Lead.NoFood {
			how := v.say("how_to_sample") // nobody is sent to dig where lead is high
			if slices.ContainsFunc(a.Cautions, func(c interpret.Said) bool { return c.ID == "deep-sample" }) {
				how = v.say("how_to_sample_top") // and not to the same depth as before
			}
			v.Again += " " + how
		}
	}
	v.small(a)
	return v
}

// small is the small print: how to trace a number, what the advice was read
// with and what it rests on.
func (v *view) small(a *interpret.Advice) {
	v.Small = []string{v.say("record", "id", a.Record), v.say("trace")}
	if len(v.Columns) > 0 {
		v.Small = append(v.Small, v.say("rounded"))
	}
	if a.On == "" {
		v.Small = append(v.Small, v.say("no_age"))
	}
	v.ReadWith = v.say("read_with", "title", v.tr(a.Rules.Title), "region", v.tr(a.Rules.Region)) + " " + v.say("guidance")
	v.sources(a)
	for _, d := range a.Disclosure {
		v.Disclosure = append(v.Disclosure, v.tr(d))
	}
}

// sources are what the advice was read from. How far each can be relied on is
// said where it was not simply read in the source, which is said once of all
// others.
func (v *view) sources(a *interpret.Advice) {
	for _, s := range a.Sources {
		var w []string
		for _, p := range s.Provenance {
			if p != interpret.Seen {
				w = append(w, v.tr(p.Words()))
			}
		}
		x := source{Text: s.Text}
		switch {
		case s.Key == "trade" || s.Key == "definition": // no publication, but words for how we know
			x.Ours, x.Text = true, v.tr(s.Text)
		case len(w) > 0:
			x.Note = " (" + strings.Join(w, "; ") + ")"
		}
		v.Sources = append(v.Sources, x)
	}
}

func (v *view) leadText(a *interpret.Advice) {
	l := a.Lead
	switch {
	case l == nil:
		return
	case l.Kind == "none":
		for _, d := range l.Do {
			v.Cautions = append(v.Cautions, v.tr(d))
		}
		return
	case lowScreen(l): // no alarm, so no frame
		v.Cautions = append(v.Cautions, v.say("lead_screen_head", "value", v.LeadValue)+". "+v.tr(strings.Join(l.Do, " ")))
		return
	}
	v.Lead = &leadView{Head: v.say("lead"), Refer: v.tr(l.Refer)}
	switch l.Kind {
	case "total":
		v.Lead.Head = v.say("lead_total", "value", v.LeadValue, "tier", v.tr(l.Tier))
	case "screen":
		v.Lead.Head = v.say("lead_screen_head", "value", v.LeadValue)
	}
	for _, d := range l.Do {
		v.Lead.Do = append(v.Lead.Do, v.tr(d))
	}
	var h []string
	for _, x := range l.History {
		h = append(h, v.tr(x))
	}
	if len(h) > 0 {
		v.Lead.History = v.say("lead_history", "list", strings.Join(h, "; "))
	}
}

// lowScreen reports whether lead was only screened, and found low.
func lowScreen(l *interpret.LeadAdvice) bool {
	return l.Kind == "screen" && !l.AskTest && l.Refer == "" && !l.NoFood
}

// contact is where to reach an office, in lines of which each holds what is
// near of kind.
func contact(o Office) []string {
	var out []string
	for _, l := range [][]string{{strings.Join(lines(o.Address), ", "), o.Phone}, {o.Email, o.Web}} {
		if s := strings.Trim(strings.Join(l, " · "), " ·"); s != "" {
			out = append(out, s)
		}
	}
	return out
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

func (v *view) longDate(iso string) string {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return v.date(t)
}

func (v *view) to(rec *normalize.Record) {
	v.Dear = v.say("dear_unknown")
	if c := rec.Client; c != nil {
		if c.Name != "" {
			v.To = append(v.To, c.Name)
			v.Dear = v.say("dear", "name", c.Name)
		}
		v.To = append(v.To, lines(strings.Replace(c.Address, ", ", "\n", 1))...)
	}
}

func (v *view) about(a *interpret.Advice, rec *normalize.Record, rep *normalize.Report) {
	s := rec.Sample
	add := func(key, val string) {
		if val != "" {
			v.About = append(v.About, fact{v.say(key), val})
		}
	}
	add("fact_date", v.longDate(a.On))
	add("fact_sample", s.ClientLabel)
	if s.DepthTopIn != "" {
		add("fact_layer", v.say("layer", "top", string(s.DepthTopIn), "bottom", string(s.DepthIn)))
	}
	use := v.name(a.LandUse.Said)
	if a.LandUse.Name != "" && !strings.EqualFold(a.LandUse.Name, a.LandUse.Said) {
		use = v.say("read_as", "said", use, "name", v.name(a.LandUse.Name))
	}
	if a.LandUse.From == "default" {
		use = v.say("assumed", "use", use)
	}
	add("fact_use", use)
	if a.AreaSqFt != "" {
		add("fact_area", v.size(a.AreaSqFt))
	}
	switch {
	case s.Sampled != "":
		add("fact_sampled", v.longDate(s.Sampled))
	case s.Received != "":
		add("fact_received", v.longDate(s.Received)) // the age of the sample was judged by it
	default:
		add("fact_reported", v.longDate(s.Reported))
	}
	lab := rep.Lab.Name
	if s.LabID != "" {
		lab = v.say("number", "lab", lab, "number", s.LabID)
	}
	add("fact_laboratory", lab)
	v.Title = v.say("title")
	if s.ClientLabel != "" {
		v.Title = v.say("title_of", "label", s.ClientLabel)
	}
}

// name is what a report may have said in its own words: in the language where
// that is known, else as it is.
func (v *view) name(s string) string {
	if v.memory == nil {
		return s
	}
	if to, ok := v.memory.one(s, v.tongue, 0); ok {
		return to
	}
	return s
}

func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
