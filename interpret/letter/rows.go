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
var restRows = []string{"S", "Zn", "Mn", "Cu", "B", "Fe", "Mo", "Al", "Na", "EC", "NO3-N"}

// besideRows are what amounts or cautions may rest on that has no class of its
// own.
var besideRows = []string{"buffer_pH", "acidity", "texture", "CEC", "As", "Cd", "Cr", "Ni", "Se", "Hg"}

// enough are the analytes of which there may be enough, and not only too much.
var enough = []string{"S", "Zn", "Mn", "Cu", "B", "Fe", "Mo"}

// beside tells in one sentence what else the report says, so that who checks
// an amount finds what it rests on; "" where there is nothing.
func (v *view) beside(rec *normalize.Record) string {
	var parts []string
	for _, res := range rec.Results {
		if slices.Contains(besideRows, res.Analyte) && res.Missing == "" {
			parts = append(parts, strings.TrimSpace(v.plain(res.Analyte)+" "+v.name(res.Printed.Text)+" "+strings.TrimPrefix(res.Printed.Unit, "pH")))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return v.say("beside", "list", v.join(parts, "and"))
}

// rest tells in one sentence what else was measured and is not told of above,
// so that nobody who compares the letter with the report misses it.
func (v *view) rest(a *interpret.Advice, rec *normalize.Record) {
	var parts []string
	for _, res := range rec.Results {
		if !slices.Contains(restRows, res.Analyte) || res.Missing != "" {
			continue
		}
		rating := interpret.Rating{LabWord: res.Printed.Rating, LabClass: res.Printed.Class}
		told := false
		for _, r := range a.Ratings {
			if r.Analyte == res.Analyte && r.Printed == res.Printed.Text {
				rating.Class = r.Class
				told = r.Class != interpret.Optimum && v.has("trace."+r.Class)
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
		v.Rest = v.beside(rec)
	}
	if len(parts) > 0 {
		v.Rest = strings.TrimSpace(v.Rest + " " + v.say("rest", "list", v.join(parts, "and")))
	}
}
