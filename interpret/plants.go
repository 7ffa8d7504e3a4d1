package interpret

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

// A PlantTable says what one tree, vine or bush is fed, by its age: fruit is
// fed plant by plant, and not by the square foot.
type PlantTable struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Plant      string     `yaml:"plant" rule:"required"` // what one is called, such as tree
	Choice     *Choice    `yaml:"choice"`                // needed where rows are for soils that need phosphorus or potassium, or for the others
	AskAge     string     `yaml:"ask_age" rule:"required"`
	AskRich    string     `yaml:"ask_rich" rule:"required"` // what to ask where a row would carry what the soil has enough of
	Note       string     `yaml:"note"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
	Rows       []PlantRow `yaml:"rows" rule:"required"`
}

// A Choice is what it rests on that a soil below optimum in phosphorus or
// potassium wants a complete fertilizer, and any other nitrogen alone.
type Choice struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// What a soil wants, as the publications say it.
const (
	wantsComplete = "complete"
	wantsNitrogen = "nitrogen-only"
)

// A PlantRow is one fertilizer for plants of an age. All rows that fit a plant
// are given to it.
type PlantRow struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	FromYear   int        `yaml:"from_year" rule:"required"` // of its life in this place: 1 is the year of planting
	ToYear     int        `yaml:"to_year"`                   // none: all later years too
	Soil       string     `yaml:"soil"`                      // complete or nitrogen-only; none means every soil
	Grade      Grade      `yaml:"grade"`                     // none: nothing is fed at that age
	Name       string     `yaml:"name" rule:"required"`      // of the fertilizer
	Lb         Num        `yaml:"lb"`                        // to one plant each time
	LbPerYear  Num        `yaml:"lb_per_year_of_age"`        // or that, for each year since planting
	Times      []string   `yaml:"times"`
	YearMost   *Bound     `yaml:"year_most"` // lb of the fertilizer to one plant in a year
	Source     string     `yaml:"source"`
	Provenance Provenance `yaml:"provenance"`
}

// A PlantFeed is what one plant gets of one fertilizer.
type PlantFeed struct {
	Of    string   `json:"of"`
	Grade string   `json:"grade"`
	Times []string `json:"times"`
	Exact string   `json:"exact_lb_each_time"`
	Lb    string   `json:"lb_each_time"`
	Year  string   `json:"exact_lb_in_year"`
	All   string   `json:"lb_for_all_in_year,omitempty"` // for the number of plants that was asked for
}

func (rs *RuleSet) plantsFor(use string) *PlantTable {
	for i := range rs.Plants {
		if slices.Contains(rs.Plants[i].For, use) {
			return &rs.Plants[i]
		}
	}
	return nil
}

// plants advises on feeding plant by plant. done are the nutrients that are
// settled by it, whether by an amount or by a question. rich says that the soil
// held plenty of nitrate, which is asked about before anything is fed.
func (a *adviser) plants(ask Ask, rich bool) (done []string) {
	t := a.rs.plantsFor(a.out.LandUse.ID)
	if t == nil {
		return nil
	}
	if rich {
		return []string{"N"} // its question comes first, whatever the age
	}
	var b []Basis
	age, ok := wholeNumber(ask.PlantAge)
	if !ok || age > 200 {
		a.ask(Question{Code: "plant-age", Blocks: "N", Text: t.AskAge})
		return []string{"N"}
	}
	want := ""
	if t.Choice != nil {
		if want = a.wanted(); want == "" {
			return nil // the questions about phosphorus and potassium come first
		}
		b = append(b, basis(t.Choice.ID, t.Choice.Source, t.Choice.Provenance, t.Choice.At))
	}
	count, _ := wholeNumber(ask.Plants)
	l := Line{ID: "N", When: Season, Note: t.Note}
	var said []string
	for i := range t.Rows {
		r := &t.Rows[i]
		if year := age + 1; year < r.FromYear || r.ToYear > 0 && year > r.ToYear || r.Soil != "" && r.Soil != want {
			continue
		}
		b = append(b, basis(r.ID, r.Source, r.Provenance, r.At))
		if r.Grade == "" {
			continue
		}
		if a.tooRich(r) {
			a.ask(Question{Code: "plant-soil-rich", Blocks: "N", Text: t.AskRich})
			return []string{"N"}
		}
		f, working, cap := r.feed(age, count)
		if cap != nil {
			b = append(b, *cap)
		}
		l.Each = append(l.Each, f)
		l.Working = strings.TrimPrefix(l.Working+"; "+working, "; ")
		for _, when := range r.Times {
			said = append(said, strings.ToUpper(when[:1])+when[1:]+", give each "+t.Plant+" "+f.Lb+" lb of "+r.Name+".")
		}
		if count > 1 {
			said = append(said, "For all "+itoa(count)+" that is "+f.All+" lb in a year.")
		}
	}
	l.Basis = b
	if len(l.Each) == 0 {
		l.When, l.Need = Not, "0"
		l.What = "Give no fertilizer in the year of planting."
		a.line(l)
		return []string{"N", "P2O5", "K2O"}
	}
	l.What = strings.Join(said, " ")
	l.How = l.What
	a.events["fertilizer"] = true
	a.line(l)
	if slices.ContainsFunc(l.Each, func(f PlantFeed) bool { p, _ := Grade(f.Grade).parts(); return p[1].Sign() > 0 || p[2].Sign() > 0 }) {
		return []string{"N", "P2O5", "K2O"}
	}
	return []string{"N"}
}

// wanted is what the soil wants, "" where its phosphorus or potassium is not
// rated.
func (a *adviser) wanted() string {
	p, k := rank(a.classes["P"]), rank(a.classes["K"])
	switch {
	case p < 0 || k < 0:
		return ""
	case p < rank(Optimum) || k < rank(Optimum):
		return wantsComplete
	}
	return wantsNitrogen
}

// tooRich reports whether a fertilizer for every soil carries phosphate or
// potash that the soil is not known to need. One that is chosen by the soil
// may carry the one for the sake of the other, as the publication says, but
// nothing that the soil has too much of.
func (a *adviser) tooRich(r *PlantRow) bool {
	parts, ok := r.Grade.parts()
	if !ok {
		return true
	}
	for n, by := range []string{"", "P", "K"} {
		if by == "" || parts[n].Sign() == 0 {
			continue
		}
		k := rank(a.classes[by])
		if k > rank(Optimum) || r.Soil == "" && (k < 0 || k >= rank(Optimum)) {
			return true
		}
	}
	return false
}

// feed is what a row gives one plant of an age, cut to its most in a year.
func (r *PlantRow) feed(age, count int) (f PlantFeed, working string, cap *Basis) {
	each := r.Lb.rat()
	working = string(r.Lb) + " lb"
	if r.LbPerYear != "" {
		each = mul(r.LbPerYear.rat(), rat(int64(age), 1))
		working = string(r.LbPerYear) + " x " + itoa(age) + " = " + plain(each, 3) + " lb"
	}
	times := rat(int64(max(1, len(r.Times))), 1)
	year := mul(each, times)
	if m := r.YearMost; m != nil && year.Cmp(m.Most.rat()) > 0 {
		year = m.Most.rat()
		each = quo(year, times)
		working += ", cut to " + string(m.Most) + " lb in a year"
		x := basis(m.ID, m.Source, m.Provenance, m.At)
		cap = &x
	}
	working += " of " + string(r.Grade) + ", " + itoa(len(r.Times)) + " times a year"
	f = PlantFeed{Of: r.Name, Grade: string(r.Grade), Times: r.Times, Exact: plain(each, 6), Lb: RoundLb(each, true), Year: plain(year, 6)}
	if each.Cmp(rat(1, 1)) < 0 {
		f.Lb = plain(each, 3) // an eighth of a pound is not a tenth
	}
	if count > 0 {
		f.All = RoundLb(mul(year, rat(int64(count), 1)), true)
	}
	return f, working, cap
}

// wholeNumber reads a number of plants or years.
func wholeNumber(s string) (int, bool) {
	n, ok := parseNum(s)
	if !ok || !n.IsInt() || n.Sign() < 0 || n.Cmp(big.NewRat(1_000_000, 1)) > 0 {
		return 0, false
	}
	return int(n.Num().Int64()), true
}

// A Shortfall is an amount that goes by how far a test is below what is
// enough: PerValue x (Enough - value), nothing at Enough or more. With a total
// need and what a unit of the test is worth it is the same: need = Enough x
// PerValue.
type Shortfall struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Methods    []string   `yaml:"methods" rule:"required"`
	Enough     Num        `yaml:"enough" rule:"required"`    // in the analyte's unit
	PerValue   Num        `yaml:"per_value" rule:"required"` // lb/1000 sq ft for each unit that is missing
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// rate is the amount for a value, and how it came about.
func (s *Shortfall) rate(v *big.Rat) (*big.Rat, string) {
	if v.Cmp(s.Enough.rat()) >= 0 {
		return new(big.Rat), plain(v, 3) + " is " + string(s.Enough) + " or more"
	}
	r := mul(s.PerValue.rat(), sub(s.Enough.rat(), v))
	return r, string(s.PerValue) + " x (" + string(s.Enough) + " - " + plain(v, 3) + ") = " + plain(r, 3)
}

// row is the row of a table by shortfall for what was measured, nil where
// nothing was that the table is made for. A limit of detection counts as the
// most it can be, so that no more is advised than its soil may need.
func (s *Shortfall) row(results []*normalize.Result, analyte string) *NutrientRow {
	for _, r := range results {
		if r.Analyte != analyte || !usable(r) || r.Unit != unitOfAnalyte[analyte] || !slices.Contains(s.Methods, r.Method) {
			continue
		}
		sp, ok := spanOf(r)
		if !ok || sp.low.Sign() < 0 {
			continue
		}
		v := sp.high
		if v == nil {
			if v = sp.low; v.Cmp(s.Enough.rat()) < 0 {
				continue // more than something that is not enough: it may be anything
			}
		}
		rate, working := s.rate(v)
		return &NutrientRow{Spot: s.Spot, ID: s.ID, Rate: Num(plain(rate, 6)), Source: s.Source, Provenance: s.Provenance, working: working}
	}
	return nil
}
