package interpret

import (
	_ "embed" // the list of rows that no test has reached
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// untestedRows are the rows of the built-in rule sets that the sweep of the
// tests gave no advice from, a line each: id of the rule set, id of the row. A
// test writes it and holds it to what the sweep finds.
//
//go:embed untested.txt
var untestedRows string

// Reference is the page about rule sets that the repository keeps: what each
// is for, the figures it holds with what they rest on, and which of them no
// test has exercised yet. The same rule sets give the same page.
func Reference(sets []*RuleSet) []byte {
	untested := map[string]bool{}
	for _, l := range strings.Split(strings.TrimSpace(untestedRows), "\n") {
		untested[l] = true
	}
	var b strings.Builder
	b.WriteString("# The rule sets\n\n")
	b.WriteString("This page is made by `windrow rules reference`; a test compares it with the files. A row is a figure or a sentence with a source. What it rests on:\n\n")
	for _, p := range Provenances {
		fmt.Fprintf(&b, "- **%s**: %s\n", p, p.Words())
	}
	b.WriteString("\nA row that is neither read nor computed answers only where nothing firm does, and every use of one is told in the advice.\n")
	b.WriteString("\n| Rule set | Region | Rows |")
	for _, p := range Provenances {
		fmt.Fprintf(&b, " %s |", p)
	}
	b.WriteString(" Not exercised |\n|---|---|--:|" + strings.Repeat("--:|", len(Provenances)) + "--:|\n")
	for _, rs := range sets {
		rows := rs.rowList()
		open := 0
		for _, r := range rows {
			if untested[rs.ID+" "+r.id] {
				open++
			}
		}
		total := 0
		for _, n := range rs.Rows {
			total += n
		}
		fmt.Fprintf(&b, "| [%s](#%s) | %s | %d |", rs.ID, rs.ID, rs.Region, total)
		for _, p := range Provenances {
			fmt.Fprintf(&b, " %d |", rs.Rows[p])
		}
		fmt.Fprintf(&b, " %d |\n", open)
	}
	for _, rs := range sets {
		rs.page(&b, untested)
	}
	if len(sets) > 0 && sets[0].Laws != nil {
		b.WriteString("\n## Laws on lawns\n\nThe state in the office's settings chooses among them. They bind amounts; they are no advice.\n\n| Row | State | Topic | Figure | In force from | Source | Rests on |\n|---|---|---|---|---|---|---|\n")
		for i := range sets[0].Laws.Laws {
			l := &sets[0].Laws.Laws[i]
			figure := strings.TrimSpace(string(l.Figure) + " " + l.Unit)
			if l.Closed != nil {
				figure = l.Closed.From + " to " + l.Closed.To
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s |\n", l.ID, l.Region, strings.TrimSpace(l.Topic+" "+l.Who), figure, l.InForce.From, l.Source, l.Provenance)
		}
	}
	if len(sets) > 0 && sets[0].Products != nil {
		b.WriteString("\n## Products\n\n| Row | Name | Grade | Source | Rests on |\n|---|---|---|---|---|\n")
		for i := range sets[0].Products.Fertilizers {
			f := &sets[0].Products.Fertilizers[i]
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", f.ID, f.Name, f.Grade, f.Source, f.Provenance)
		}
	}
	return []byte(b.String())
}

// page writes one rule set.
func (rs *RuleSet) page(b *strings.Builder, untested map[string]bool) {
	until := "until further notice"
	if rs.InForce.Until != "" {
		until = "until " + rs.InForce.Until
	}
	fmt.Fprintf(b, "\n## %s\n\n%s. For: %s. In force from %s %s.", rs.ID, rs.Title, rs.Region, rs.InForce.From, until)
	if rs.About != "" {
		b.WriteString(" " + rs.About)
	}
	b.WriteString("\n\nPublications:\n\n")
	for _, k := range rs.Publications {
		s := rs.Sources[k]
		fmt.Fprintf(b, "- `%s`: %s", k, s.Text)
		if s.Link != "" {
			fmt.Fprintf(b, " <%s>", s.Link)
		}
		b.WriteString("\n")
	}
	for _, t := range rs.Takes {
		fmt.Fprintf(b, "\nTakes %s from `%s`.\n", list(t.Parts), t.From)
	}
	b.WriteString("\nMethods that its tables are made for:\n\n")
	seen := map[string]bool{}
	for i := range rs.Ratings {
		t := &rs.Ratings[i]
		line := fmt.Sprintf("- %s: %s, for %s\n", t.Analyte, strings.Join(t.Methods, ", "), usesOf(t.For))
		if !seen[line] {
			seen[line] = true
			b.WriteString(line)
		}
	}
	for i := range rs.Lime.Rates {
		if r := &rs.Lime.Rates[i]; r.Inactive != "" {
			fmt.Fprintf(b, "\nNot in use: lime by %s, rows %s. %s\n", strings.Join(r.Methods, ", "), r.ID, r.Inactive)
		}
	}
	b.WriteString("\n| Row | What | Source | Rests on | Exercised |\n|---|---|---|---|---|\n")
	for _, r := range rs.rowList() {
		tested := "yes"
		if r.off {
			tested = "not in use"
		}
		if untested[rs.ID+" "+r.id] {
			tested = "**no**"
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s |\n", r.id, strings.ReplaceAll(r.what, "|", "/"), r.source, r.provenance, tested)
	}
}

// listedRow is a row for the page.
type listedRow struct {
	id, what, source string
	provenance       Provenance
	off              bool // kept, and not in use
}

// rowList are the rows of a rule set in the order of its file, those of tables
// one by one.
func (rs *RuleSet) rowList() []listedRow {
	var out []listedRow
	var walk func(v reflect.Value, table string)
	walk = func(v reflect.Value, table string) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem(), table)
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i), table)
			}
		case reflect.Struct:
			if v.Type() == reflect.TypeOf(Spot{}) || v.Type() == reflect.TypeOf(Example{}) {
				return
			}
			what, named := describe(v.Addr().Interface(), table)
			if r, isRate := v.Addr().Interface().(*LimeRate); isRate && len(r.Rows) > 0 {
				for i := range r.Rows {
					w, _ := describe(&r.Rows[i], what)
					out = append(out, listedRow{r.Rows[i].ID, w, r.Source, r.Provenance, r.Inactive != ""})
				}
				walk(reflect.ValueOf(r.Scale), what)
				return
			}
			src, _ := fieldOf(v, "Source").(string)
			id, _ := fieldOf(v, "ID").(string)
			if prov, ok := fieldOf(v, "Provenance").(Provenance); ok && src != "" && id != "" && named {
				rate, _ := v.Addr().Interface().(*LimeRate)
				out = append(out, listedRow{id, what, src, prov, rate != nil && rate.Inactive != ""})
			}
			for i := range v.NumField() {
				if v.Type().Field(i).Tag.Get("yaml") != "" {
					walk(v.Field(i), what)
				}
			}
		}
	}
	walk(reflect.ValueOf(rs).Elem(), "")
	return out
}

// describe is what a part of a rule set says, in short. named is false for
// tables, whose rows are told one by one.
func describe(part any, table string) (what string, named bool) {
	uses := usesOf
	switch p := part.(type) {
	case *RatingTable:
		return p.Analyte + " in " + p.Unit + soilsOf(p) + " for " + uses(p.For), false
	case *Class:
		span := string(p.From) + " and more"
		if p.Below != "" {
			span = string(p.From) + " to below " + string(p.Below)
		}
		word := ""
		if p.Word != "" {
			word = " (" + p.Word + ")"
		}
		return table + ": " + span + " is " + p.Class + word, true
	case *PHTarget:
		return "pH " + string(p.Low) + " to " + string(p.High) + ", target " + string(p.Target) + ", for " + uses(p.For), true
	case *LimeRate:
		off := ""
		if p.Inactive != "" {
			off = "not in use: "
		}
		return off + "lime by " + strings.Join(p.Methods, ", ") + " (" + p.Kind + ", " + p.Unit + ") for " + uses(p.For), true
	case *LimeRow:
		var r []string
		for _, n := range p.Rates {
			r = append(r, string(n))
		}
		return table + ": at " + string(p.Acidity+p.Buffer) + " " + strings.Join(r, " / "), true
	case *NutrientTable:
		return p.Nutrient + " for " + uses(p.For), false
	case *NutrientRow:
		says := string(p.Rate) + " " + unitPerThousand
		if p.Ask != "" {
			says = "asks"
		}
		return strings.TrimSpace(table + " " + p.Class + ": " + says), true
	case *PlantTable:
		return "feeding each " + p.Plant + " for " + uses(p.For), false
	case *Choice:
		return table + ": what the choice of a fertilizer rests on", true
	case *PlantRow:
		return describePlant(table, p), true
	case *Shortfall:
		return table + ": " + string(p.PerValue) + " x (" + string(p.Enough) + " - value) " + unitPerThousand, true
	case *LimeCap:
		return "lime at once for " + uses(p.For) + " over " + string(p.Over) + " " + unitPerThousand, true
	case *SulfurRule:
		return "sulfur to pH " + string(p.To) + " for " + uses(p.For), true
	case *AcidSource:
		return string(p.PerLb) + " lb of " + p.Name + " for a pound of sulfur", true
	case *Hopeless:
		return "no sulfur above pH " + string(p.PH), true
	case *LeadTier:
		return "total lead from " + string(p.From) + ": " + p.Name, true
	case *LeadFigure:
		return "lead, " + p.Date + ": " + string(p.Figure), true
	case *Metals:
		return "total " + PlainName(p.Analyte) + ": what to do from the lowest figure on", true
	case *MetalFigure:
		told := "only told"
		if p.Compare {
			told = "compared with"
		}
		return table + ", " + p.Date + ", " + p.Who + ": " + string(p.Figure) + ", " + told, true
	case *Watch:
		return p.Hazard + " from " + p.Analyte + " " + string(p.From) + " " + p.Unit + " on: says so", true
	case *LeadScreen:
		return "lead by " + strings.Join(p.Methods, ", ") + ", a screen", true
	case *Bound:
		return table + ", at one time at most " + string(p.Most), true
	case *Material:
		return "told as " + p.Name, true
	case *LimeMaterial:
		return p.Name + " of " + string(p.CCE) + " % CCE", true
	case *LimeChoice:
		return p.Use, true
	case *Density:
		return "a cup weighs " + string(p.LbPerCup) + " lb", true
	case *Scale:
		by := "x " + string(p.By)
		if p.By == "" {
			by = "to " + string(p.DepthIn) + " in, by the depth,"
		}
		return by + " for " + uses(p.For), true
	case *Caution:
		return "caution when " + strings.Join(p.When, ", "), true
	case *OrganicRule:
		return "organic matter " + strings.Join(p.Classes, ", "), true
	case *Retest:
		return "sample again after " + itoa(p.Years) + " years", true
	case *SplitRow:
		return "how sulfur is split", true
	case *LeadStatement:
		return "no test of total lead", true
	case *NoRate:
		return "no amount was read: asks", true
	}
	return table, false
}

// describePlant is what a row of feeding says, in short.
func describePlant(table string, p *PlantRow) string {
	years := itoa(p.FromYear)
	switch {
	case p.ToYear == 0:
		years += " and later"
	case p.ToYear > p.FromYear:
		years += " to " + itoa(p.ToYear)
	}
	amount := string(p.Lb) + " lb"
	if p.LbPerYear != "" {
		amount = string(p.LbPerYear) + " lb for each year since planting"
	}
	if p.Grade == "" {
		amount = "nothing"
	} else {
		amount += " of " + string(p.Grade) + ", " + list(p.Times)
	}
	return strings.TrimSpace(table+", year "+years+" "+p.Soil) + ": " + amount
}

// usesOf tells the uses of the land that a row is for.
func usesOf(uses []string) string {
	if len(uses) == 0 {
		return "every use"
	}
	return strings.Join(uses, ", ")
}

func soilsOf(t *RatingTable) string {
	var s []string
	if len(t.Textures) > 0 {
		s = append(s, t.Textures[0])
	}
	if t.CECFrom != "" {
		s = append(s, "CEC from "+string(t.CECFrom))
	}
	if t.CECBelow != "" {
		s = append(s, "CEC below "+string(t.CECBelow))
	}
	if t.Index != nil {
		s = append(s, "as an index with pH")
	}
	if len(s) == 0 {
		return ""
	}
	slices.Sort(s)
	return " (" + strings.Join(s, ", ") + ")"
}
