package letter

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// main are the analytes that have a line in the table; the others are told
// in a sentence, and only where something is wrong with them.
var mainRows = []string{"pH", "OM", "P", "K", "Mg", "Ca"}

func (v *view) found(a *interpret.Advice, rec *normalize.Record) {
	v.fine = fine(a)
	var differ, opposed, estimated, others []string
	reasons := map[string]string{} // why something is not rated, by what it was said of
	for _, r := range a.Ratings {
		if !slices.Contains(mainRows, r.Analyte) {
			if key := v.traceKey(r); v.has(key) && r.Class != interpret.Optimum {
				value := v.of(resultOf(rec, r)).inline()
				if w := v.labWord(r); w != "" {
					value += "; " + v.say("lab_word", "word", w)
				}
				others = append(others, v.say("other", "name", upper(v.plain(r.Analyte)), "class", v.say(key), "value", value))
			}
			continue
		}
		fig := v.of(resultOf(rec, r))
		f := found{Name: v.rowName(r.Analyte), Printed: fig.number, Unit: fig.unit, Same: fig.same, Bar: v.newBar(r)}
		if r.Analyte == "pH" {
			f.Unit = ""
		}
		if r.Class == "" {
			f.Means, f.Extra = v.say("not_rated"), v.tr(r.Not)
			if of, told := reasons[r.Not]; told {
				f.Extra = v.say("same_reason", "name", of)
			} else {
				reasons[r.Not] = v.plain(r.Analyte)
			}
		} else {
			f.Means = v.class(r)
			if r.Close != "" {
				near := r
				near.Class = r.NextClass
				f.Extra = v.say("close", "class", strings.ToLower(strings.SplitN(v.class(near)+",", ",", 2)[0]))
			}
		}
		if r.Estimate != nil {
			f.Means = v.say("from_estimate", "class", f.Means)
			estimated = append(estimated, v.plain(r.Analyte))
		}
		f.Lab = v.labWord(r)
		if r.Differs != "" || otherWord(r) {
			f.Differs = true
			differ = append(differ, v.plain(r.Analyte))
			if apart(r) {
				opposed = append(opposed, v.plain(r.Analyte))
			}
		}
		v.Found = append(v.Found, f)
	}
	v.Others = strings.Join(others, " ")
	v.lead(a.Lead, rec)
	v.metals(a, rec)
	v.rest(a, rec)
	v.LabSays = slices.ContainsFunc(v.Found, func(f found) bool { return f.Lab != "" })
	if !slices.ContainsFunc(v.Found, func(f found) bool { return f.Bar != nil }) {
		v.Picture = v.say("ph_once")
	}
	if len(estimated) > 0 {
		v.Explain = append(v.Explain, v.say("estimated", "names", v.join(estimated, "and")))
	}
	if len(differ) > 0 {
		text := v.say("differ", "names", v.join(differ, "and"))
		if len(opposed) > 0 {
			text += " " + v.say("opposed", "names", v.join(opposed, "and"))
		}
		v.Explain = append(v.Explain, text)
	}
}

// traceKey is the phrase for a class of what has no line of its own: salts are
// nothing that a person adds, and of some elements plants suffer.
func (v *view) traceKey(r interpret.Rating) string {
	switch {
	case r.Analyte == "EC":
		return "salts." + r.Class
	case slices.Contains([]string{"B", "Cu", "Zn"}, r.Analyte) && v.has("harm."+r.Class):
		return "harm." + r.Class
	}
	return "trace." + r.Class
}

// plain is an analyte or nutrient in plain words.
func (v *view) plain(id string) string {
	if key := "name." + id; v.has(key) {
		return v.say(key)
	}
	return v.name(interpret.PlainName(id))
}

// rowName is what a line of the table is called.
func (v *view) rowName(id string) string {
	if id == "pH" {
		return v.say("soil_ph")
	}
	return upper(v.plain(id))
}

// class says a class so that it can't be misread.
func (v *view) class(r interpret.Rating) string {
	if key := "organic." + r.Class; r.Analyte == "OM" && v.has(key) {
		return v.say(key)
	}
	if r.Class == interpret.Medium && v.fine[r.Analyte] {
		return v.say("medium_fine")
	}
	return v.say("class." + r.Class)
}

// fine are the analytes of which nothing is to be added where they are medium:
// a class called a little short would ask for what no line of the letter
// gives. Calcium comes with lime, and no table of ours gives it by itself.
func fine(a *interpret.Advice) map[string]bool {
	mg := slices.ContainsFunc(a.Lines, func(l interpret.Line) bool { return l.ID == "Mg" && l.When != interpret.Not })
	return map[string]bool{"Ca": true, "Mg": !mg}
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

func number(s string) (float64, bool) {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return 0, false
	}
	f, _ := r.Float64()
	return f, true
}
