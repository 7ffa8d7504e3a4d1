package letter

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/interpret"
)

// buy tells what else could be bought in place of the single fertilizers of
// the table, where the office's list has other products that do as well. It is
// said that the two are never to be given together. Each amount is that of the
// plan, for the whole season.
func (v *view) buy(a *interpret.Advice) {
	p := a.Plan
	if p == nil || len(v.Columns) == 0 || !another(p, a.Lines) {
		return
	}
	g := amountGroup{Name: v.say("buy")}
	before := ""
	for _, it := range p.Products {
		row := amountRow{What: wholeGrade.ReplaceAllString(upper(v.tr(it.Of)), "$1\u2011$2\u2011$3"), Values: v.values(it.PerArea)}
		how := v.feeding(it, p, a.Lines)
		if row.How = how; how == before && how != "" {
			row.How = v.say("same_way")
		}
		before = how
		row.inBags(v.bagsOf(it))
		g.Rows = append(g.Rows, row)
	}
	v.Groups = append(v.Groups, g)
	var short []string
	for _, n := range labelled {
		if p.Short[n] != "" {
			short = append(short, v.plain(n))
		}
	}
	if len(short) > 0 {
		v.Notes = append(v.Notes, v.say("buy_short", "names", v.join(short, "and")))
	}
	for _, d := range p.Disclosure {
		v.Disclosure = append(v.Disclosure, v.tr(rowNames.ReplaceAllString(d, "")))
	}
}

// rowNames are the rows of the rule set that a disclosure names. They stand in
// the advice, and tell a client nothing.
var rowNames = regexp.MustCompile(` \(rows [^)]*\)`)

// labelled are the nutrients in the order of the numbers on a label.
var labelled = []string{"N", "P2O5", "K2O"}

// feeding is when and how a product is given: as the first nutrient that it
// carries, or as one of them that must wait. The amount is the whole season's,
// so it is said in how many parts it goes on.
func (v *view) feeding(it interpret.PlanItem, p *interpret.Plan, lines []interpret.Line) string {
	var by *interpret.Line
	for i, n := range strings.Split(it.Grade, "-") {
		at := slices.IndexFunc(lines, func(l interpret.Line) bool {
			return i < len(labelled) && l.ID == labelled[i] && l.When != interpret.Not
		})
		if percent, ok := number(n); !ok || percent == 0 || at < 0 {
			continue
		}
		if by == nil || by.NotBefore < lines[at].NotBefore {
			by = &lines[at]
		}
	}
	if by == nil {
		return ""
	}
	how := v.tr(by.How)
	switch {
	case p.Feedings > 1 && len(by.Parts) <= 1:
		how = v.say("same_times") // in as many parts as the others, not as the line has it
	case by.NotBefore != "" && len(how) > 80:
		how = v.say("not_now", "date", v.longDate(by.Since())) + " " + v.say("as_for", "name", v.plain(by.ID))
	case by.NotBefore != "":
	case len(how) > 40:
		how = v.say("as_for", "name", v.plain(by.ID)) // said in full a few lines above
	}
	if p.Feedings > 1 {
		how += " " + v.say("split", "n", strconv.Itoa(p.Feedings))
	}
	return strings.TrimSpace(how)
}

// bags adds to a line how many bags hold it, where the plan has just that
// product.
func (v *view) bags(rows []amountRow, l interpret.Line, p *interpret.Plan) []amountRow {
	if p == nil || l.Product == nil || len(rows) != 1 {
		return rows
	}
	at := slices.IndexFunc(p.Products, func(it interpret.PlanItem) bool { return same(it, l) && it.Bags != "" })
	if at >= 0 {
		rows[0].inBags(v.bagsOf(p.Products[at]))
	}
	return rows
}

// inBags says in how many bags a product comes: behind the manner of giving it
// where that is short, else under the name, where there is room.
func (r *amountRow) inBags(bags string) {
	if len([]rune(r.How)) > 36 {
		r.Bags = bags
		return
	}
	r.How = strings.TrimSpace(r.How + " " + bags)
}

// bagsOf is how many bags hold what the client's area takes, which the advice
// rounds up to quarters; "" where no bag or area is known.
func (v *view) bagsOf(it interpret.PlanItem) string {
	if it.Bags == "" {
		return ""
	}
	if strings.HasPrefix(it.Bags, "0.") || it.Bags == "1" {
		return v.say("bag", "size", it.BagLb) // a part of a bag could be taken for the amount
	}
	return v.say("bags", "bags", quarters(it.Bags), "size", it.BagLb)
}

// same reports whether a product of a plan is just that of a line.
func same(it interpret.PlanItem, l interpret.Line) bool {
	return l.Product != nil && l.Product.Exact == it.Exact
}

// another reports whether a plan has other products than the lines.
func another(p *interpret.Plan, lines []interpret.Line) bool {
	return slices.ContainsFunc(p.Products, func(it interpret.PlanItem) bool {
		return !slices.ContainsFunc(lines, func(l interpret.Line) bool { return same(it, l) })
	})
}

// quarters writes a number of quarters as a person does.
func quarters(n string) string {
	whole, part, _ := strings.Cut(n, ".")
	if whole == "0" {
		whole = ""
	}
	return whole + map[string]string{"": "", "25": "¼", "5": "½", "75": "¾"}[part]
}
