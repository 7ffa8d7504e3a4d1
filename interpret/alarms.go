package interpret

// An Alarm is what comes before all other advice: a letter opens with it.
type Alarm struct {
	ID    string  `json:"id"`                           // metal-lead, metal-arsenic, metal-cadmium, salts, salts-unrated, sodium, ph-high or trace-high
	Text  string  `json:"text"`                         // what was found, one sentence
	Do    string  `json:"do"`                           // what to do first, one sentence
	Stop  bool    `json:"no_amounts"`                   // nothing is spread or dug in until that is done
	Again string  `json:"sample_again_first,omitempty"` // when to test again, one sentence; "" where it is in a year
	Basis []Basis `json:"basis"`
}

const (
	callFirst  = "Do not dig, lime or feed this soil before you have called your county health department."
	testFirst  = "Do not dig, lime or feed this soil before a laboratory has tested it for total lead."
	testSoon   = "Ask a laboratory for a test of total lead, and keep bare soil covered until then."
	askSodium  = "Ask the laboratory for a test of sodium and salts before you plant or add anything."
	callBefore = "Call us before you plant or add anything."
	noSaltMore = "Add no fertilizer, manure or compost, and do not plant before a new test."
	againMetal = "Send a new sample when those you have called ask for one, and in one year at the latest."
	againPlant = "Send a new sample before you plant or add anything."
)

// alarms gathers what comes before all other advice, the gravest first.
func (a *adviser) alarms() {
	if l := a.out.Lead; l != nil {
		switch {
		case l.NoFood:
			a.alarm(Alarm{ID: "metal-lead", Text: "Do not grow food in this soil, because the lead in it is too high.", Do: callFirst, Stop: l.CallFirst, Again: againMetal, Basis: l.Basis})
		case l.CallFirst:
			a.alarm(Alarm{ID: "metal-lead", Text: "The lead in this soil is high enough to take care.", Do: callFirst, Stop: true, Again: againMetal, Basis: l.Basis})
		case l.AskTest && !a.out.LandUse.Food:
			a.alarm(Alarm{ID: "metal-lead", Text: "The lead screen is high enough to look closer.", Do: testSoon, Again: againPlant, Basis: l.Basis})
		case l.AskTest:
			a.alarm(Alarm{ID: "metal-lead", Text: "The lead screen is high enough to look closer.", Do: testFirst, Stop: true, Again: againPlant, Basis: l.Basis})
		}
	}
	for _, s := range a.more {
		switch s.ID {
		case "arsenic-do":
			a.alarm(Alarm{ID: "metal-arsenic", Text: "Arsenic in this soil is high enough to look closer.", Do: callFirst, Stop: true, Again: againMetal, Basis: s.Basis})
		case "cadmium-do":
			a.alarm(Alarm{ID: "metal-cadmium", Text: "Cadmium in this soil is high enough to look closer.", Do: callFirst, Stop: true, Again: againMetal, Basis: s.Basis})
		}
	}
	if a.classes["EC"] == Excessive {
		for _, g := range a.out.Ratings {
			if g.Analyte == "EC" && g.Class == Excessive {
				a.alarm(Alarm{ID: "salts", Text: "The soil holds too much salt.", Do: noSaltMore, Again: againPlant, Basis: g.Basis})
				break
			}
		}
	}
	a.sodium()
	a.traces()
}

func (a *adviser) alarm(x Alarm) { a.out.Alarms = append(a.out.Alarms, x) }

// stopped tells what has to be done before any amount is given, and reports
// whether there is such a thing.
func (a *adviser) stopped() bool {
	for _, x := range a.out.Alarms {
		if x.Stop {
			a.line(Line{ID: "stop", When: First, What: x.Do + " We give amounts of lime and fertilizer after that.", Basis: x.Basis[:1]})
			return true
		}
	}
	return false
}
