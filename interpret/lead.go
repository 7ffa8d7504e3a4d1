package interpret

import (
	"slices"

	"example.org/windrow/normalize"
)

// untilKnown is said where a lead figure can't be relied on.
const untilKnown = "The lead figure on this report is not settled. Until it is, grow no leafy or root crops there, and keep children off bare soil."

// leadAdvice reads lead. A result by a total method is set against the tiers;
// one by an extract is a screen, which leads to nothing but a request for a
// test of total lead. The two are never compared with each other's figures. The
// history tells the figures up to a day, all of them where it is "". The tiers
// are those known now, whatever the day: soil was not safer before a rule.
func (rs *RuleSet) leadAdvice(results []*normalize.Result, on string) (*LeadAdvice, []Question) {
	l := &rs.Lead
	out := &LeadAdvice{Kind: "none", Do: []string{l.Unknown.Text}, Basis: []Basis{basis(l.Unknown.ID, l.Unknown.Source, l.Unknown.Provenance, l.Unknown.At)}}
	var questions []Question
	best := 0
	for _, r := range results {
		if r.Analyte != "Pb" {
			continue
		}
		if r.Method == "" {
			questions = append(questions, Question{Code: "lead-method", Blocks: "lead", Text: "The report gives a lead figure but does not say whether it is total lead. Please ask the laboratory."})
			if best == 0 {
				out = &LeadAdvice{Kind: "open", Do: []string{untilKnown}, Basis: out.Basis}
			}
			continue
		}
		if r.Status != normalize.OK && r.Missing == "" && best == 0 {
			out = &LeadAdvice{Kind: "open", Do: []string{untilKnown}, Basis: out.Basis}
		}
		if !usable(r) || r.Unit != l.Unit {
			continue
		}
		s, ok := spanOf(r)
		if !ok || s.low.Sign() < 0 {
			continue
		}
		if slices.Contains(l.TotalMethods, r.Method) {
			t := l.tier(s)
			if best < 2 {
				best = 2
				out = &LeadAdvice{}
			}
			if t == nil || out.Value != "" && out.rank(l) >= l.rankOf(t) {
				continue
			}
			*out = LeadAdvice{Kind: "total", Value: r.Censored + string(r.Value) + " " + r.Unit, Tier: t.Name, NoFood: t.NoFood, CallFirst: t.CallFirst, Do: t.Do, Refer: t.Refer,
				Basis: []Basis{basis(t.ID, t.Source, t.Provenance, t.At)}}
			for i := range l.History {
				h := &l.History[i]
				if on != "" && h.Date > on {
					continue // not yet known then
				}
				now := h.Now
				if h.Until != "" && on != "" && on < h.Until {
					now = "in force on the day of this letter"
				}
				out.History = append(out.History, h.Date[:4]+": "+string(h.Figure)+" "+l.Unit+", "+h.What+" ("+now+")")
				out.Basis = append(out.Basis, basis(h.ID, h.Source, h.Provenance, h.At))
			}
			continue
		}
		for i := range l.Screens {
			k := &l.Screens[i]
			if best >= 2 || !slices.Contains(k.Methods, r.Method) || s.high == nil {
				continue
			}
			best = 1
			est := add(mul(k.Slope.rat(), s.high), k.Intercept.rat())
			out = &LeadAdvice{Kind: "screen", Value: r.Censored + string(r.Value) + " " + r.Unit,
				Working: string(k.Slope) + " x " + string(r.Value) + " + " + string(k.Intercept) + " = " + plain(est, 1) + ", against " + string(k.AskAt) + " from which a test of total lead is asked for",
				Basis:   []Basis{basis(k.ID, k.Source, k.Provenance, k.At)}}
			if est.Cmp(k.AskAt.rat()) >= 0 {
				out.AskTest = true
				out.Do = []string{"The lead screen is high enough to look closer. Ask a laboratory for a test of total lead before you grow food here.", "Until then keep bare soil covered, and keep small children off it."}
			} else {
				out.Do = []string{"The lead screen is low. It is not a test of total lead. If the ground is near an old painted house, a busy road or an old orchard, ask for one."}
			}
		}
	}
	return out, questions
}

// tier is the band that a value lies in; a limit counts as its upper end,
// which is the careful side.
func (l *Lead) tier(s span) *LeadTier {
	v := s.high
	if v == nil {
		return &l.Tiers[len(l.Tiers)-1]
	}
	for i := range l.Tiers {
		t := &l.Tiers[i]
		if v.Cmp(t.From.rat()) >= 0 && (t.Below == "" || v.Cmp(t.Below.rat()) < 0) {
			return t
		}
	}
	return nil
}

func (l *Lead) rankOf(t *LeadTier) int {
	for i := range l.Tiers {
		if l.Tiers[i].Name == t.Name {
			return i
		}
	}
	return -1
}

func (a *LeadAdvice) rank(l *Lead) int {
	for i := range l.Tiers {
		if l.Tiers[i].Name == a.Tier {
			return i
		}
	}
	return -1
}
