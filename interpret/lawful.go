package interpret

import (
	"math/big"
	"slices"
	"strings"
	"time"
)

// heldTo is what the laws of a region allow of a nutrient, nil where they set
// no limit.
type heldTo struct {
	year, once *big.Rat
	yearBy     Basis
	onceBy     []Basis
}

func (l *Law) basis() Basis { return basis(l.ID, l.Source, l.Provenance, l.At) }

// held gathers the limits on one nutrient. Where a law caps the soluble part of
// nitrogen, the most at one time is what has just so much in it at the least
// share of slow nitrogen that the law asks for.
func (a *adviser) held(nutrient string) heldTo {
	h := heldTo{}
	hundred := rat(100, 1)
	slow := new(big.Rat)
	for _, l := range a.laws {
		if l.Topic == topicSlow {
			slow = l.Figure.rat()
		}
	}
	once := func(most *big.Rat, by *Law) {
		if h.once == nil || most.Cmp(h.once) < 0 {
			h.once, h.onceBy = most, []Basis{by.basis()}
		}
	}
	for _, l := range a.laws {
		switch {
		case nutrient == "N" && l.Topic == topicNOnce, nutrient == "P2O5" && l.Topic == topicPOnce:
			once(l.Figure.rat(), l)
		case nutrient == "N" && l.Topic == topicSoluble && slow.Cmp(hundred) < 0:
			once(quo(l.Figure.rat(), quo(sub(hundred, slow), hundred)), l)
		case nutrient == "N" && l.Topic == topicNYear, nutrient == "P2O5" && l.Topic == topicPYear:
			if h.year == nil || l.Figure.rat().Cmp(h.year) < 0 {
				h.year, h.yearBy = l.Figure.rat(), l.basis()
			}
		}
	}
	return h
}

// lawful holds a line on a nutrient against the rules that are no amounts:
// phosphorus only by a test young enough, and the closed part of the year.
func (a *adviser) lawful(l *Line) {
	if l.When == Not {
		return
	}
	for _, law := range a.laws {
		switch law.Topic {
		case topicPTest:
			if l.ID == "P2O5" && law.Figure != "" && (a.out.On == "" || tooOld(a.rec.Sample.Sampled, a.out.On, law.Figure.rat())) {
				*l = Line{ID: l.ID, When: Not, Need: "0", What: "Add no " + PlainName(l.ID) + ". " + law.Text, Basis: append(l.Basis, law.basis())}
				return
			}
		case topicClosed:
			if slices.Contains(law.Closed.Nutrients, l.ID) && law.Closed.holds(a.out.On) {
				l.NotBefore = law.Closed.opens(a.out.On)
				l.From = a.rs.firstDay(a.out.LandUse.ID, l.ID, l.NotBefore, law.Closed)
				wait := "Not now: wait until " + longDate(l.From) + ". "
				l.What, l.How = wait+l.What, wait+l.How
				l.Basis = append(l.Basis, law.basis())
			}
		}
	}
}

// firstDay is the first day from one on that the table of a nutrient means,
// outside of the days that are closed: where grass is fed in early fall, a
// client who may spread in March again still waits until September.
func (rs *RuleSet) firstDay(use, nutrient, day string, closed *Closed) string {
	t := rs.table(use, nutrient)
	at, err := time.Parse(time.DateOnly, day)
	if t == nil || len(t.Months) == 0 || err != nil {
		return day
	}
	for range 366 {
		if d := at.Format(time.DateOnly); slices.Contains(t.Months, int(at.Month())) && !closed.holds(d) {
			return d
		}
		at = at.AddDate(0, 0, 1)
	}
	return day
}

// guard holds every line once more against the laws, by the same test that a
// plan of anyone's is put to. What would break one is not advised: the way to
// an amount must have a fault, and a person has to look.
func (a *adviser) guard() {
	slow := new(big.Rat)
	for _, l := range a.laws {
		if l.Topic == topicSlow {
			slow = l.Figure.rat()
		}
	}
	for i := range a.out.Lines {
		l := &a.out.Lines[i]
		need, ok := parseNum(l.Need)
		if l.When == Not || !ok || l.ID != "N" && l.ID != "P2O5" {
			continue
		}
		s := Spread{On: a.out.On, SlowPct: slow, TestedOn: a.rec.Sample.Sampled, PNeeded: rank(a.classes["P"]) < rank(Optimum)}
		if l.NotBefore != "" {
			s.On = l.NotBefore
		}
		each := quo(need, rat(int64(max(1, len(l.Parts))), 1))
		if l.ID == "N" {
			s.N, s.NSoFar = each, sub(need, each)
		} else {
			s.P2O5, s.PSoFar = each, sub(need, each)
		}
		if broken := Broken(a.laws, s); len(broken) > 0 {
			a.ask(Question{Code: "against-the-law", Blocks: l.ID, Text: "What our tables say about " + PlainName(l.ID) + " does not fit the law of your state. " + broken[0].Text + " Please call us before you spread any."})
			*l = Line{ID: l.ID, When: Not, Need: "0", What: "Add no " + PlainName(l.ID) + ". " + broken[0].Text, Basis: append(l.Basis, broken[0].basis())}
		}
	}
}

// lawsSaid tells the laws that bind what is advised, in one paragraph.
func (a *adviser) lawsSaid() {
	if !a.events["fertilizer"] || len(a.laws) == 0 {
		return
	}
	feeds := map[string]bool{}
	for _, l := range a.out.Lines {
		feeds[l.ID] = l.When != Not
	}
	s := Said{ID: "law-" + a.laws[0].Region}
	var texts []string
	for _, l := range a.laws {
		phosphorus := l.Topic == topicPOnce || l.Topic == topicPYear || l.Topic == topicPTest
		nitrogen := l.Topic == topicNOnce || l.Topic == topicSoluble || l.Topic == topicNYear || l.Topic == topicSlow
		if phosphorus && !feeds["P2O5"] || nitrogen && !feeds["N"] {
			continue
		}
		texts = append(texts, l.Text)
		s.Basis = append(s.Basis, l.basis())
	}
	if len(texts) > 0 {
		s.Text = strings.Join(texts, " ")
		a.out.Cautions = append(a.out.Cautions, s)
	}
}
