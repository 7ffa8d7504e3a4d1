package letter

import (
	"regexp"
	"strconv"
	"strings"

	"example.org/windrow/interpret"
)

// actions sorts the lines into what to do, with the amounts where there are any.
func (v *view) actions(a *interpret.Advice) {
	for _, l := range a.Lines {
		switch {
		case l.ID == "OM":
			v.Also = append(v.Also, v.tr(l.What)) // "keep it up" is nothing to leave undone
		case l.When == interpret.Not:
			v.NotAtAll = append(v.NotAtAll, v.tr(l.What))
		case l.Product == nil && l.Amount == nil:
			v.Also = append(v.Also, v.tr(l.What))
		case l.When == interpret.First:
			v.First = append(v.First, v.amounts(l)...)
		default:
			v.Season = append(v.Season, v.amounts(l)...)
		}
		if l.When != interpret.Not && l.Note != "" {
			v.Notes = append(v.Notes, v.say("material", "name", upper(v.plain(l.ID)), "of", v.tr(l.Note)))
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
	what := upper(v.tr(p.Of))
	if l.Amount != nil && l.ID != "lime" && p != l.Amount {
		what = v.say("material", "name", upper(v.plain(l.ID)), "of", v.tr(p.Of))
	}
	what = wholeGrade.ReplaceAllString(what, "$1\u2011$2\u2011$3")
	if len(v.Columns) == 0 {
		for _, f := range p.PerArea {
			v.Columns = append(v.Columns, v.areaOf(f))
		}
	}
	values := func(fs []interpret.ForArea) []amount {
		var out []amount
		for _, f := range fs {
			x := amount{Lb: v.pounds(f.Lb), Cups: v.tons(f.Lb)}
			if f.Cups != "" {
				x.Cups = v.cups(f.Cups)
			}
			out = append(out, x)
		}
		return out
	}
	switch {
	case len(l.Parts) <= 1:
		return []amountRow{{what, v.tr(l.How), values(p.PerArea)}}
	case sameParts(l.Parts):
		return []amountRow{{what, v.tr(l.How) + " " + v.say("each_of", "n", strconv.Itoa(len(l.Parts))), values(l.Parts[0].PerArea)}}
	}
	var out []amountRow
	for i, part := range l.Parts {
		when := v.say("now") + " " + v.tr(l.How)
		if i > 0 {
			when = v.say("after_months", "n", strconv.Itoa(part.Months))
		}
		if part.Retest {
			when = v.say("after_retest", "n", strconv.Itoa(part.Months))
		}
		out = append(out, amountRow{what, when, values(part.PerArea)})
	}
	return out
}

// areaOf says for what area an amount is.
func (v *view) areaOf(f interpret.ForArea) string {
	switch {
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
