package letter

import (
	"slices"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// labWord is the laboratory's own word for a value; a mark, such as V, with
// what it stands for.
func (v *view) labWord(r interpret.Rating) string {
	word := r.LabWord
	switch low := strings.ToLower(word); {
	case word == "":
		return ""
	case len([]rune(word)) <= 2 && r.LabClass != "":
		return v.say("mark_means", "word", word, "class", v.name(r.LabClass))
	case v.name(low) != low:
		word += " (" + v.name(low) + ")"
	case v.memory != nil && r.LabClass != "" && v.name(r.LabClass) != r.LabClass:
		word += " (" + v.name(r.LabClass) + ")" // such as "4 High" of a scale with numbers
	}
	return word
}

// apart reports whether the laboratory and we disagree on whether the soil has
// enough, and not only on a word: one says too little, the other enough or
// more.
func apart(r interpret.Rating) bool {
	few := []string{interpret.VeryLow, interpret.Low, "deficient"}
	plenty := []string{interpret.Optimum, interpret.High, interpret.Excessive, "high", "very high", "sufficient", "right"}
	return slices.Contains(few, r.Class) && slices.Contains(plenty, r.LabClass) || slices.Contains(plenty, r.Class) && slices.Contains(few, r.LabClass)
}

// likeClass are the classes of a laboratory's word that say the same as one of
// ours.
var likeClass = map[string][]string{
	interpret.VeryLow:   {"very low", "deficient"},
	interpret.Low:       {"low", "deficient"},
	interpret.Medium:    {"medium"},
	interpret.Optimum:   {"optimum", "sufficient", "right"},
	interpret.High:      {"high"},
	interpret.Excessive: {"very high", "excessive"},
	interpret.TooAcid:   {"too acid", "very low", "low"}, interpret.InRange: {"right", "optimum", "sufficient"},
	interpret.TooAlkaline: {"too alkaline", "high", "very high", "excessive"},
}

// otherWord reports whether the laboratory's word is another than ours, even if
// both mean too little, so that a reader who sees two words is told why.
func otherWord(r interpret.Rating) bool {
	return r.Class != "" && r.LabClass != "" && !slices.Contains(likeClass[r.Class], r.LabClass)
}

// lead gives lead its line in the table, as printed; what to do about it
// stands by itself.
func (v *view) lead(l *interpret.LeadAdvice, rec *normalize.Record) {
	if l == nil {
		return
	}
	v.LeadValue = strings.Replace(l.Value, "mg/kg", shortUnit("mg/kg"), 1)
	if l.Kind == "none" {
		return
	}
	for _, r := range rec.Results {
		if r.Analyte != "Pb" || r.Missing != "" {
			continue
		}
		fig := v.of(r)
		f := found{Name: v.say("lead"), Printed: fig.number, Unit: fig.unit, Same: fig.same, Means: v.say("lead_means")}
		if l.Kind == "screen" {
			f.Name = v.say("lead_screen")
		}
		if lowScreen(l) {
			f.Means = v.say("lead_low")
		}
		if r.Printed.Rating != "" {
			f.Lab = v.labWord(interpret.Rating{LabWord: r.Printed.Rating, LabClass: r.Printed.Class})
		}
		v.Found = append(v.Found, f)
	}
}

// restRows are what is measured beside the main nutrients.
var restRows = []string{"S", "Zn", "Mn", "Cu", "B", "Fe", "Mo", "Al", "Na", "base_sat_Na", "SAR", "EC", "NO3-N"}

// besideRows are what amounts or cautions may rest on that has no class of its
// own.
var besideRows = []string{"buffer_pH", "acidity", "texture", "CEC", "As", "Cd", "Cr", "Ni", "Se", "Hg"}

// enough are the analytes of which there may be enough, and not only too much.
var enough = []string{"S", "Zn", "Mn", "Cu", "B", "Fe", "Mo"}

// beside tells in one sentence what else the report says, so that who checks
// an amount finds what it rests on; "" where there is nothing.
func (v *view) beside(a *interpret.Advice, rec *normalize.Record) string {
	var parts []string
	metals := metalRows(a)
	decides := deciding(a)
	for _, res := range rec.Results {
		if (slices.Contains(besideRows, res.Analyte) && !slices.Contains(metals, res.Analyte) || slices.Contains(decides, res.Analyte)) && res.Missing == "" {
			parts = append(parts, strings.TrimSpace(v.plain(res.Analyte)+" "+v.name(res.Printed.Text)+" "+strings.TrimPrefix(res.Printed.Unit, "pH")))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return v.say("beside", "list", v.join(parts, "and"))
}

// deciding are the analytes that have no class and decided something all the
// same, so that none of them is told as no part of the advice.
func deciding(a *interpret.Advice) []string {
	var out []string
	for _, x := range a.Alarms {
		switch x.ID {
		case "sodium", "ph-high":
			out = append(out, "Na", "base_sat_Na", "SAR")
		case "salts-unrated":
			out = append(out, "EC")
		}
	}
	for _, c := range a.Cautions {
		if c.ID == "salts-if-sandy" {
			out = append(out, "EC")
		}
	}
	for _, q := range a.Questions {
		if q.Code == "nitrate-high" {
			out = append(out, "NO3-N")
		}
	}
	return slices.DeleteFunc(out, func(id string) bool {
		return slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool { return r.Analyte == id && r.Class != "" && r.Class != interpret.Optimum })
	})
}

// metalRows are the metals that something is said of, and so have a line in
// the table as lead has.
func metalRows(a *interpret.Advice) []string {
	var out []string
	for id, of := range map[string]string{"arsenic": "As", "cadmium": "Cd"} {
		if slices.ContainsFunc(a.Cautions, func(c interpret.Said) bool { return c.ID == id+"-do" || c.ID == id+"-ask" }) {
			out = append(out, of)
		}
	}
	return out
}

// metals gives a metal that something is said of its line, as printed.
func (v *view) metals(a *interpret.Advice, rec *normalize.Record) {
	ids := metalRows(a)
	for _, r := range rec.Results {
		if slices.Contains(ids, r.Analyte) && r.Missing == "" {
			fig := v.of(r)
			v.Found = append(v.Found, found{Name: upper(v.plain(r.Analyte)), Printed: fig.number, Unit: fig.unit, Same: fig.same, Means: v.say("lead_low")})
		}
	}
}

// untested tells of phosphorus and potassium that the report does not have,
// where advice is given all the same; "" for none.
func (v *view) untested(a *interpret.Advice, rec *normalize.Record) string {
	if a.Outcome == interpret.AskOnly || len(a.Alarms) > 0 {
		return ""
	}
	var names []string
	for _, id := range []string{"P", "K"} {
		if !slices.ContainsFunc(rec.Results, func(r *normalize.Result) bool { return r.Analyte == id }) && !slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool { return r.Analyte == id }) {
			names = append(names, v.plain(id))
		}
	}
	if len(names) == 0 {
		return ""
	}
	return v.say("untested", "list", v.join(names, "and"))
}

// rest tells in one sentence what else was measured and is not told of above,
// so that nobody who compares the letter with the report misses it.
func (v *view) rest(a *interpret.Advice, rec *normalize.Record) {
	var parts []string
	decides := deciding(a)
	for _, res := range rec.Results {
		if slices.Contains(decides, res.Analyte) {
			continue
		}
		if !slices.Contains(restRows, res.Analyte) || res.Missing != "" {
			continue
		}
		rating := interpret.Rating{LabWord: res.Printed.Rating, LabClass: res.Printed.Class}
		told := false
		for _, r := range a.Ratings {
			if r.Analyte == res.Analyte && r.Printed == res.Printed.Text {
				rating.Class = r.Class
				told = r.Class != interpret.Optimum && v.has(v.traceKey(r))
			}
		}
		if told {
			continue
		}
		s := strings.TrimSpace(v.plain(res.Analyte) + " " + v.of(res).inline())
		var says []string
		if key := "trace." + rating.Class; v.has(key) && slices.Contains(enough, res.Analyte) {
			says = append(says, strings.ToLower(v.say(key)))
		}
		if w := v.labWord(rating); w != "" {
			says = append(says, v.say("lab_word", "word", w))
		}
		if len(says) > 0 {
			s += " (" + strings.Join(says, "; ") + ")"
		}
		parts = append(parts, s)
	}
	if len(v.Found) > 0 {
		v.Rest = strings.TrimSpace(v.untested(a, rec) + " " + v.beside(a, rec))
	}
	if len(parts) > 0 {
		v.Rest = strings.TrimSpace(v.Rest + " " + v.say("rest", "list", v.join(parts, "and")))
	}
}
