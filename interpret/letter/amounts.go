package letter

import (
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/interpret"
)

// actions sorts the lines into what to do, with the amounts where there are
// any, and what may be taken instead below them.
func (v *view) actions(a *interpret.Advice) {
	var first, season []amountRow
	var instead []amountGroup
	for _, l := range a.Lines {
		switch {
		case l.ID == "OM":
			v.Also = append(v.Also, v.tr(l.What)) // "keep it up" is nothing to leave undone
		case l.When == interpret.Not:
			v.NotAtAll = append(v.NotAtAll, v.tr(l.What))
		case l.Product == nil && l.Amount == nil:
			v.Also = append(v.Also, v.tr(l.What))
		case l.When == interpret.First:
			first = append(first, v.amounts(l)...)
			instead = append(instead, v.instead(l)...)
		default:
			season = append(season, v.bags(v.amounts(l), l, a.Plan)...)
		}
		if l.When != interpret.Not && l.Note != "" {
			name := v.plain(l.ID)
			if len(l.Each) > 0 {
				name = v.say("fertilizer")
			}
			v.Notes = append(v.Notes, v.say("material", "name", upper(name), "of", v.tr(l.Note)))
		}
	}
	if limeOverCalcium(a) {
		v.Notes = append(v.Notes, v.say("lime_calcium"))
	}
	if len(first) > 0 {
		v.Groups = append(append(v.Groups, amountGroup{v.say("first"), first}), instead...)
	}
	if len(season) > 0 {
		v.Groups = append(v.Groups, amountGroup{v.say("season"), season})
	}
	v.buy(a)
	if v.Fit && len(v.Groups)+len(v.Also) == 0 && len(a.Questions) == 0 {
		v.Also = append(v.Also, v.say("buy_nothing"))
	}
}

// limeOverCalcium reports whether lime is advised where the table calls calcium
// plenty, which a reader may take for a contradiction.
func limeOverCalcium(a *interpret.Advice) bool {
	lime := slices.ContainsFunc(a.Lines, func(l interpret.Line) bool { return l.ID == "lime" && l.When == interpret.First })
	return lime && slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool {
		return r.Analyte == "Ca" && (r.Class == interpret.High || r.Class == interpret.Excessive)
	})
}

// amounts are the rows of the table of amounts for one line: one row, or one
// for each application.
func (v *view) amounts(l interpret.Line) []amountRow {
	p := l.Product
	if p == nil {
		p = l.Amount
	}
	what := upper(v.tr(p.Of))
	if l.Amount != nil && l.ID != "lime" && p != l.Amount {
		what = v.say("material", "name", upper(v.plain(l.ID)), "of", v.tr(p.Of))
	}
	what = wholeGrade.ReplaceAllString(what, "$1\u2011$2\u2011$3")
	if len(v.Columns) == 0 {
		for _, f := range columnsOf(p.PerArea) {
			v.Columns = append(v.Columns, v.areaOf(f))
		}
	}
	switch {
	case len(l.Parts) <= 1:
		return []amountRow{{What: what, How: v.tr(l.How), Values: v.values(p.PerArea)}}
	case sameParts(l.Parts):
		return []amountRow{{What: what, How: v.tr(l.How) + " " + v.say("each_of", "n", strconv.Itoa(len(l.Parts))), Values: v.values(l.Parts[0].PerArea)}}
	}
	var out []amountRow
	for i, part := range l.Parts {
		when := v.say("now") + " " + v.tr(l.How)
		if l.NotBefore != "" {
			when = v.tr(l.How) // it says since when
		}
		if i > 0 {
			when = v.say("after_months", "n", strconv.Itoa(part.Months))
		}
		if part.Retest {
			when = v.say("after_retest", "n", strconv.Itoa(part.Months))
		}
		out = append(out, amountRow{What: what, How: when, Values: v.values(part.PerArea)})
	}
	return out
}

// columnsOf are the two areas that a letter tells amounts for: the client's own
// with one to compare by, or the first two. More would be the same rate again,
// and the record has them all.
func columnsOf(fs []interpret.ForArea) []interpret.ForArea { return fs[:min(2, len(fs))] }

// values are one amount for each area, with cups and tons where they are told.
func (v *view) values(fs []interpret.ForArea) []amount {
	var out []amount
	for _, f := range columnsOf(fs) {
		x := amount{Lb: v.pounds(f.Lb)}
		if t := v.tons(f.Lb); t != "" {
			x.Helps = append(x.Helps, t)
		}
		if f.Cups != "" {
			x.Helps = append(x.Helps, v.cups(f.Cups))
		}
		out = append(out, x)
	}
	return out
}

// instead are other materials that do the same as a line, each the whole
// amount.
func (v *view) instead(l interpret.Line) []amountGroup {
	if len(l.Instead) == 0 {
		return nil
	}
	g := amountGroup{Name: v.say("instead_of_any", "name", v.plain(l.ID))}
	if len(l.Instead) == 1 {
		g.Name = v.say("instead_of", "name", v.plain(l.ID))
	}
	for _, o := range l.Instead {
		how := v.tr(o.Note)
		if len(l.Parts) > 1 {
			how += " " + v.say("split_same")
		}
		g.Rows = append(g.Rows, amountRow{What: upper(v.tr(o.Of)), How: strings.TrimSpace(how), Values: v.values(o.PerArea)})
	}
	return []amountGroup{g}
}

// areaOf says for what area an amount is.
func (v *view) areaOf(f interpret.ForArea) string {
	switch {
	case f.Own && v.size(f.SqFt) != v.say("sq_ft", "area", thousands(f.SqFt)):
		return v.say("own_acres", "area", v.size(f.SqFt))
	case f.Own:
		return v.say("own", "area", thousands(f.SqFt))
	case f.SqFt == acre:
		return v.say("per_acre")
	}
	return v.say("per", "area", thousands(f.SqFt))
}

// pounds is a weight.
func (v *view) pounds(lb string) string {
	if lb == "1" {
		return v.say("lb_one", "n", lb)
	}
	return v.say("lb", "n", thousands(lb))
}

// size is how large an area is: from half an acre up in acres, with its square
// feet where it is no round number of hundredths.
func (v *view) size(sqFt string) string {
	whole, ok := new(big.Rat).SetString(sqFt)
	per, _ := new(big.Rat).SetString(acre)
	if !ok || whole.Cmp(new(big.Rat).Quo(per, big.NewRat(2, 1))) < 0 {
		return v.say("sq_ft", "area", thousands(sqFt))
	}
	acres := new(big.Rat).Quo(whole, per)
	n := strings.TrimRight(strings.TrimRight(acres.FloatString(2), "0"), ".")
	switch back, _ := new(big.Rat).SetString(n); {
	case back.Cmp(acres) != 0:
		return v.say("about_acres", "area", thousands(sqFt), "n", thousands(n))
	case n == "1":
		return v.say("acres_one")
	}
	return v.say("acres", "n", thousands(n))
}

// acre is an acre in square feet; by definition.
const acre = "43560"

// tons is an amount of a ton and more in tons, as it is bought, or "".
func (v *view) tons(lb string) string {
	f, ok := number(lb)
	if !ok || f < 2000 {
		return ""
	}
	return v.say("tons", "n", strconv.FormatFloat(f/2000, 'f', 1, 64))
}

// wholeGrade finds the three numbers of a label, so that a line does not
// break inside them.
var wholeGrade = regexp.MustCompile(`(\d)-(\d+)-(\d)`)

func (v *view) cups(n string) string {
	if n == "0.5" || n == "1" {
		return v.say("cup", "n", n)
	}
	return v.say("cups", "n", n)
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
