package letter

import (
	"slices"
	"strings"

	"example.org/windrow/interpret"
)

// buy tells what else could be bought in place of the single fertilizers of
// the table, where the office's list has fewer products that do as well. It is
// said that the two are never to be given together.
func (v *view) buy(a *interpret.Advice) {
	p := a.Plan
	if p == nil || len(p.Products) == 0 || len(v.Columns) == 0 || !another(p, a.Lines) {
		return
	}
	var items []string
	for _, it := range p.Products {
		if len(it.PerArea) == 0 {
			return
		}
		at := it.PerArea[0]
		s := v.say("buy_item", "amount", v.pounds(at.Lb), "name", v.tr(it.Of))
		switch {
		case it.Bags == "":
		case strings.HasPrefix(it.Bags, "0.") || it.Bags == "1":
			s += " (" + v.say("buy_bag", "bags", quarters(it.Bags), "size", it.BagLb) + ")"
		default:
			s += " (" + v.say("buy_bags", "bags", quarters(it.Bags), "size", it.BagLb) + ")"
		}
		items = append(items, s)
	}
	v.Buy = v.say("buy", "area", upper(v.areaOf(p.Products[0].PerArea[0])), "list", v.join(items, "and"))
	var short []string
	for _, n := range []string{"N", "P2O5", "K2O"} {
		if p.Short[n] != "" {
			short = append(short, v.plain(n))
		}
	}
	if len(short) > 0 {
		v.Buy += " " + v.say("buy_short", "names", v.join(short, "and"))
	}
	if p.Note != "" {
		v.Buy += " " + v.tr(p.Note)
	}
	for _, d := range p.Disclosure {
		v.Disclosure = append(v.Disclosure, v.tr(d))
	}
}

// another reports whether a plan has other products than the lines.
func another(p *interpret.Plan, lines []interpret.Line) bool {
	for _, it := range p.Products {
		if !slices.ContainsFunc(lines, func(l interpret.Line) bool { return l.Product != nil && l.Product.Exact == it.Exact }) {
			return true
		}
	}
	return false
}

// quarters writes a number of quarters as a person does.
func quarters(n string) string {
	whole, part, _ := strings.Cut(n, ".")
	if whole == "0" {
		whole = ""
	}
	return whole + map[string]string{"": "", "25": "¼", "5": "½", "75": "¾"}[part]
}
