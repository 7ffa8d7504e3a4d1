package pipeline

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"

	"example.org/windrow/interpret"
)

// An AdviceChange is one thing that is advised otherwise on a sample.
type AdviceChange struct {
	Record  string `json:"record"`
	Sample  string `json:"sample"`
	What    string `json:"what"` // outcome, land use, rating, line, question, lead, caution or wording
	Analyte string `json:"analyte,omitempty"`
	Old     string `json:"old"`
	New     string `json:"new"`
	Because string `json:"because"` // rules, where the rule set is another; else values, where the report differs; else register, where another row of it was used or used otherwise; else software
}

// AdviceChanges are what differs between two versions of the advice on one
// record. What follows from the dates for which they were given is among it.
func AdviceChanges(old, now *interpret.Advice, sample string) ([]AdviceChange, error) {
	return adviceChanges(old, now, sample, true)
}

// adviceChanges are what differs between two advices on one record, given for
// the same date. Where the rows of the rule set stand and which bytes it has
// is no difference.
func adviceChanges(old, now *interpret.Advice, sample string, differs bool) ([]AdviceChange, error) {
	because := "software"
	switch {
	case old.Rules.SHA256 != now.Rules.SHA256:
		because = "rules"
	case differs:
		because = "values"
	case !reflect.DeepEqual(old.Register, now.Register):
		because = "register"
	}
	var out []AdviceChange
	add := func(what, analyte, a, b string) {
		if a != b {
			out = append(out, AdviceChange{Record: now.Record, Sample: sample, What: what, Analyte: analyte, Old: a, New: b, Because: because})
		}
	}
	add("outcome", "", string(old.Outcome), string(now.Outcome))
	add("land use", "", old.LandUse.Name, now.LandUse.Name)
	each(old.Ratings, now.Ratings, func(r interpret.Rating) string { return r.Analyte + " " + r.Detail }, func(id, a, b string) {
		add("rating", strings.TrimSpace(id), a, b)
	}, func(r interpret.Rating) string {
		if r.Class == "" {
			return "not rated"
		}
		return r.Class
	})
	each(old.Lines, now.Lines, func(l interpret.Line) string { return l.ID }, func(id, a, b string) { add("line", id, a, b) }, func(l interpret.Line) string {
		text := l.What
		for _, am := range []*interpret.Amount{l.Amount, l.Product} {
			if am != nil && len(am.PerArea) > 0 {
				p := am.PerArea[0]
				text += "; " + am.Of + ": " + p.Lb + " lb for " + p.SqFt + " sq ft"
			}
		}
		return text
	})
	each(old.Questions, now.Questions, func(q interpret.Question) string { return q.Code }, func(_, a, b string) { add("question", "", a, b) }, func(q interpret.Question) string { return q.Text })
	each(old.Cautions, now.Cautions, func(s interpret.Said) string { return s.ID }, func(_, a, b string) { add("caution", "", a, b) }, func(s interpret.Said) string { return s.Text })
	add("lead", "Pb", leadWords(old.Lead), leadWords(now.Lead))
	if len(out) > 0 {
		return out, nil
	}
	a, err := plainAdvice(old)
	if err != nil {
		return nil, err
	}
	b, err := plainAdvice(now)
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(a, b) {
		add("wording", "", "as it was", "other words, working or sources")
	}
	return out, nil
}

// each compares two lists entry by entry; where one has no entry of a key its
// words are "".
func each[T any](old, now []T, key func(T) string, differ func(id, a, b string), words func(T) string) {
	was := map[string]string{}
	for _, x := range old {
		was[key(x)] += words(x)
	}
	is := map[string]string{}
	for _, x := range now {
		is[key(x)] += words(x)
	}
	done := map[string]bool{}
	for _, list := range [][]T{now, old} {
		for _, x := range list {
			if k := key(x); !done[k] {
				done[k] = true
				differ(k, was[k], is[k])
			}
		}
	}
}

func leadWords(l *interpret.LeadAdvice) string {
	if l == nil {
		return ""
	}
	return strings.TrimSpace(l.Tier + " " + strings.Join(l.Do, " "))
}

// plainAdvice is an advice as JSON without the places and bytes of its rule
// set.
func plainAdvice(a *interpret.Advice) ([]byte, error) {
	b, err := adviceJSON(a)
	if err != nil {
		return nil, err
	}
	var o map[string]any
	if err := json.Unmarshal(b, &o); err != nil {
		return nil, err
	}
	delete(o, "rules")
	dropPlaces(o)
	return json.Marshal(o)
}

func dropPlaces(v any) {
	switch v := v.(type) {
	case map[string]any:
		delete(v, "at")
		for _, x := range v {
			dropPlaces(x)
		}
	case []any:
		for _, x := range v {
			dropPlaces(x)
		}
	}
}
