package interpret

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// The occasions on which a caution may be printed.
var occasions = []string{"always", "lime", "sulfur", "fertilizer", "high-p", "deep-sample", "low-organic-matter", "salts", "sodium", "sodium-high", "nitrate", "arsenic-total", "cadmium-total", "metal-extract", "lead-screen", "lead-total"}

const (
	unitPerThousand = "lb/1000 sq ft"
	unitTonsAcre    = "tons/acre"

	useAlways = "always"
	useLast   = "only-where-nothing-better"

	kindEquation    = "buffer-equation"
	kindLine        = "buffer-line"
	kindHydrogen    = "hydrogen-saturation"
	kindBufferTable = "buffer-table"
	kindTable       = "acidity-table"
)

var limeKinds = []string{kindEquation, kindLine, kindHydrogen, kindBufferTable, kindTable}

func (c *checker) unit(at ingest.Place, got string, want ...string) {
	if slices.Contains(want, got) {
		return
	}
	c.fault("wrong-unit", at, "a figure here is given in another unit", strings.Join(want, " or "), got, didYouMean(got, want))
}

func (c *checker) methods(at ingest.Place, ids []string) {
	for _, m := range ids {
		c.oneOf("method", at, m, knownMethods())
	}
}

// bands checks that classes join: each begins where the one before it ends,
// the first at nothing and the last without an upper bound, so that no value
// falls between two bands or into both.
func (c *checker) bands(what string, n int, at func(int) Spot, from, below func(int) Num) {
	for i := range n {
		if i == 0 && from(i).rat().Sign() != 0 {
			c.fault("bands-gap", at(i).Of("from"), "the lowest band of "+what+" does not begin at 0", "0", string(from(i)), "")
		}
		if i+1 < n {
			if below(i) == "" {
				c.fault("bands-gap", at(i).At, "only the highest band of "+what+" may have no upper bound", "below: "+string(from(i+1)), "none", "")
			} else if below(i).rat().Cmp(from(i+1).rat()) != 0 {
				c.fault("bands-gap", at(i).Of("below"), "two bands of "+what+" do not join", "below: "+string(from(i+1)), string(below(i)), "let each band begin where the one before it ends")
			} else if below(i).rat().Cmp(from(i).rat()) <= 0 {
				c.fault("bands-gap", at(i).Of("below"), "a band of "+what+" ends before it begins", "more than "+string(from(i)), string(below(i)), "")
			}
		} else if below(i) != "" {
			c.fault("bands-gap", at(i).Of("below"), "the highest band of "+what+" must be open upwards", "no upper bound", string(below(i)), "take it out")
		}
	}
}

func (c *checker) ratings() {
	for i := range c.rs.Ratings {
		t := &c.rs.Ratings[i]
		unit, ok := unitOfAnalyte[t.Analyte]
		if !ok {
			c.oneOf("analyte", t.Of("analyte"), t.Analyte, analytes())
		} else {
			c.unit(t.Of("unit"), t.Unit, unit)
		}
		c.methods(t.Of("methods"), t.Methods)
		c.estimates(t)
		c.bands(t.ID, len(t.Classes), func(i int) Spot { return t.Classes[i].Spot }, func(i int) Num { return t.Classes[i].From }, func(i int) Num { return t.Classes[i].Below })
		last := -1
		for j := range t.Classes {
			k := &t.Classes[j]
			c.oneOf("class", k.Of("class"), k.Class, classOrder)
			if r := rank(k.Class); r >= 0 && r <= last {
				c.fault("classes-order", k.Of("class"), "the classes of "+t.ID+" do not rise", "a class above the one before it", k.Class, "")
			} else {
				last = r
			}
		}
		for j := range i {
			o := &c.rs.Ratings[j]
			if o.Analyte == t.Analyte && (len(o.For) == 0 || len(t.For) == 0 || overlap(o.For, t.For)) && overlap(o.Methods, t.Methods) && (len(o.Textures) == 0 || len(t.Textures) == 0 || overlap(fold2(o.Textures), fold2(t.Textures))) && sameCEC(o, t) {
				c.fault("tables-clash", t.At, "two rating tables answer for the same soil", "one of "+o.ID+" and "+t.ID, "both", "make their methods, land uses or textures differ")
			}
		}
	}
}

// sameCEC reports whether two tables are for soils of one exchange capacity.
func sameCEC(a, b *RatingTable) bool {
	apart := func(x, y *RatingTable) bool {
		return x.CECBelow != "" && y.CECFrom != "" && x.CECBelow.rat().Cmp(y.CECFrom.rat()) <= 0
	}
	return !apart(a, b) && !apart(b, a)
}

func (c *checker) ph() {
	for i := range c.rs.PH {
		t := &c.rs.PH[i]
		c.methods(t.Of("methods"), t.Methods)
		if t.High != "" && t.Low.rat().Cmp(t.High.rat()) >= 0 {
			c.fault("bands-gap", t.Of("high"), "the pH range ends before it begins", "more than "+string(t.Low), string(t.High), "")
		}
		for _, n := range []struct {
			key string
			v   Num
		}{{"low", t.Low}, {"high", t.High}, {"target", t.Target}, {"lime_below", t.LimeBelow}, {"acidify_above", t.AcidifyAbove}} {
			if n.v != "" && (n.v.rat().Cmp(rat(3, 1)) < 0 || n.v.rat().Cmp(rat(10, 1)) > 0) {
				c.fault("not-a-ph", t.Of(n.key), n.key+" is no pH that a soil has", "3 to 10", string(n.v), "")
			}
		}
		if t.LimeBelow != "" && (t.Target == "" || t.LimeBelow.rat().Cmp(t.Target.rat()) > 0) {
			c.fault("lime-over-target", t.Of("lime_below"), "lime would be advised above its own target", "target at or above "+string(t.LimeBelow), string(t.Target), "")
		}
		if t.LimeBelow == "" && t.Below == "" && t.AskBelow == "" {
			c.fault("nothing-below", t.At, "nothing is said about a soil below the range", "one of lime_below, advice_below and ask_below", "none of them", "say what a person is to do there")
		}
		if t.AcidifyAbove != "" && !slices.ContainsFunc(c.rs.Sulfur, func(s SulfurRule) bool { return overlap(s.For, t.For) }) {
			c.fault("no-sulfur-rule", t.Of("acidify_above"), "sulfur would be advised, but no rule says how much", "a row under sulfur for "+strings.Join(t.For, ", "), "none", "add the row, or take acidify_above out")
		}
		if t.LimeBelow != "" && t.AcidifyAbove != "" && t.LimeBelow.rat().Cmp(t.AcidifyAbove.rat()) > 0 {
			c.fault("lime-and-sulfur", t.Of("acidify_above"), "lime and sulfur would both be advised for one soil", "acidify_above over "+string(t.LimeBelow), string(t.AcidifyAbove), "")
		}
	}
	for _, u := range c.rs.LandUses {
		if c.rs.phFor(u.ID) == nil && c.rs.AskPH == "" {
			c.fault("no-ph", u.At, "the land use "+quote(u.ID)+" has no pH target", "a row under ph for "+u.ID, "none", "")
		}
	}
}

func (c *checker) lime() {
	for i := range c.rs.Lime.Rates {
		r := &c.rs.Lime.Rates[i]
		for j := range r.Scale {
			c.limeScale(r, &r.Scale[j])
		}
		c.oneOf("kind", r.Of("kind"), r.Kind, limeKinds)
		c.methods(r.Of("methods"), r.Methods)
		c.unit(r.Of("unit"), r.Unit, unitTonsAcre, unitPerThousand)
		switch r.Kind {
		case kindEquation, kindLine, kindHydrogen:
			if r.K == "" || r.Ceiling == "" || r.K.rat().Sign() <= 0 {
				c.fault("missing-key", r.At, "a buffer equation needs k and ceiling", "k and ceiling above 0", "", "")
			}
		case kindTable, kindBufferTable:
			c.limeRows(r)
		}
	}
	for i := range c.rs.Lime.Choices {
		k := &c.rs.Lime.Choices[i]
		c.oneOf("kind", k.Of("magnesium"), k.Magnesium, []string{withMagnesium, withoutMagnesium})
	}
	for i := range c.rs.Lime.Caps {
		k := &c.rs.Lime.Caps[i]
		if (k.Most == "") == (k.Parts == 0) {
			c.fault("cap-unclear", k.At, "a cap says either the most at once or the number of parts", "one of most_lb_per_1000_sq_ft and parts", "", "")
		}
		if k.Most != "" && k.Most.rat().Sign() <= 0 || k.Parts < 0 {
			c.fault("cap-unclear", k.At, "a cap must be above 0", "", "", "")
		}
	}
	if l := &c.rs.Lime; l.Material == nil || l.Cup == nil {
		if l.gives() {
			c.fault("missing-key", l.At, "a rate of lime needs the limestone that it is told in, and what a cup of it weighs", "material and cup", "", "")
		}
		return
	}
	if cce := c.rs.Lime.Material.CCE.rat(); cce.Cmp(rat(20, 1)) < 0 || cce.Cmp(rat(150, 1)) > 0 {
		c.fault("not-a-cce", c.rs.Lime.Material.Of("cce_percent"), "no limestone has such a calcium carbonate equivalent", "20 to 150 percent", string(c.rs.Lime.Material.CCE), "")
	}
}

// limeScale checks that a rate for shallower soil can be worked.
func (c *checker) limeScale(r *LimeRate, k *Scale) {
	switch {
	case k.DepthIn.rat().Sign() <= 0:
		c.fault("lime-depth", k.Of("depth_in"), "a depth of soil must be above 0", "inches, such as 4", string(k.DepthIn), "")
	case k.By == "" && r.DepthIn.rat().Sign() <= 0:
		c.fault("lime-depth", k.At, "the rate doesn't say for what depth of soil it is, so that none to another depth can be worked out", "depth_in of the rate, or by", "neither", "")
	case k.By != "" && k.By.rat().Sign() <= 0:
		c.fault("lime-depth", k.Of("by"), "a share must be above 0", "such as 1/2", string(k.By), "")
	}
}

// limeRows checks a table: each row has a rate for each goal, and the rows go
// from the least lime to the most, by rising acidity or falling buffer pH.
func (c *checker) limeRows(r *LimeRate) {
	var last *LimeRow
	c.rs.Rows[r.Provenance] += len(r.Rows) - 1 // the table itself was counted once
	for j := range r.Rows {
		w := &r.Rows[j]
		if len(w.Rates) != len(r.Goals) {
			c.fault("row-length", w.Of("rates"), "the row has another number of rates than the table has goals", fmt.Sprint(len(r.Goals)), fmt.Sprint(len(w.Rates)), "")
			continue
		}
		by, key := w.Acidity, "acidity"
		if r.Kind == kindBufferTable {
			by, key = w.Buffer, "buffer"
		}
		if by == "" || (w.Acidity == "") == (w.Buffer == "") {
			c.fault("missing-key", w.At, "the row does not say just its "+key, key, "", "")
			continue
		}
		if last != nil {
			up := w.Acidity.rat().Cmp(last.Acidity.rat())
			if r.Kind == kindBufferTable {
				up = last.Buffer.rat().Cmp(w.Buffer.rat())
			}
			if up <= 0 {
				c.fault("rows-order", w.Of(key), "the rows of the table do not go from the least lime to the most", "rising acidity or falling buffer pH", string(by), "")
			}
			for g := range w.Rates {
				if w.Rates[g].rat().Cmp(last.Rates[g].rat()) < 0 {
					c.fault("rows-order", w.Of("rates"), "a more acid soil would get less lime", "at least "+string(last.Rates[g]), string(w.Rates[g]), "")
				}
			}
		}
		last = w
	}
	if len(r.Rows) == 0 || len(r.Goals) == 0 {
		c.fault("missing-key", r.At, "a table of lime needs goals and rows", "goals and rows", "", "")
	}
}

// sulfur checks that a rule can be worked: a factor is for soils that differ,
// and what is put on first is a part of the whole.
func (c *checker) sulfur() {
	for i := range c.rs.Sulfur {
		s := &c.rs.Sulfur[i]
		one := rat(1, 1)
		if s.FirstPart.rat().Sign() <= 0 || s.FirstPart.rat().Cmp(one) >= 0 {
			c.fault("sulfur-unclear", s.Of("first_part"), "the first part is not a part of the whole", "between 0 and 1, such as 2/3", string(s.FirstPart), "")
		}
		if s.Hopeless.PH.rat().Cmp(s.To.rat()) <= 0 {
			c.fault("sulfur-unclear", s.At, "sulfur is given above the pH it leads to and below the one where it is hopeless", "to under not_above", "to "+string(s.To)+", not above "+string(s.Hopeless.PH), "")
		}
		if (len(s.Factors) > 0 && s.PerTenth.rat().Sign() > 0) == (len(s.Columns) > 0 && len(s.Steps) > 0) {
			c.fault("sulfur-unclear", s.At, "a rule of sulfur goes either by tenths of pH or by a table of steps", "a rate above 0 for each tenth with texture_factors, or columns with steps", "neither or both", "")
		}
		for j := range s.Steps {
			p := &s.Steps[j]
			if len(p.Rates) != len(s.Columns) || p.From.rat().Cmp(p.To.rat()) <= 0 || j > 0 && p.To.rat().Cmp(s.Steps[j-1].From.rat()) != 0 {
				c.fault("sulfur-unclear", p.At, "the steps of a table of sulfur go up from one pH to the next, with a rate for each column", "from above to, beginning where the step before it ends", string(p.From)+" to "+string(p.To), "")
			}
		}
		var soils []string
		for j := range s.Factors {
			f := &s.Factors[j]
			if overlap(fold2(f.Textures), soils) {
				c.fault("sulfur-unclear", f.Of("textures"), "a soil has two factors", "each texture once", strings.Join(f.Textures, ", "), "take it out of one of them")
			}
			if f.By.rat().Sign() <= 0 {
				c.fault("sulfur-unclear", f.Of("by"), "a factor must be above 0", "such as 4/3", string(f.By), "")
			}
			soils = append(soils, fold2(f.Textures)...)
		}
		for j := range s.Columns {
			if overlap(fold2(s.Columns[j].Textures), soils) {
				c.fault("sulfur-unclear", s.Columns[j].Of("textures"), "a soil has two columns", "each texture once", strings.Join(s.Columns[j].Textures, ", "), "take it out of one of them")
			}
			soils = append(soils, fold2(s.Columns[j].Textures)...)
		}
	}
}

func (c *checker) nutrients() {
	for i := range c.rs.Nutrients {
		t := &c.rs.Nutrients[i]
		c.oneOf("nutrient", t.Of("nutrient"), t.Nutrient, knownNutrients)
		c.unit(t.Of("unit"), t.Unit, unitPerThousand)
		c.oneOf("use", t.Of("use"), t.Use, []string{useAlways, useLast})
		if t.By != "" {
			c.oneOf("analyte", t.Of("by"), t.By, analytes())
		}
		for _, m := range t.Months {
			if m < 1 || m > 12 {
				c.fault("not-a-month", t.Of("months"), "there is no such month", "1 to 12", itoa(m), "")
			}
		}
		if (len(t.Rows) == 0) == (t.Shortfall == nil) {
			c.fault("rate-unclear", t.At, "a table of amounts has either rows or a shortfall", "one of rows and shortfall", "", "")
		}
		if s := t.Shortfall; s != nil {
			c.methods(s.Of("methods"), s.Methods)
			if t.By == "" || s.Enough.rat().Sign() <= 0 || s.PerValue.rat().Sign() <= 0 {
				c.fault("rate-unclear", s.At, "an amount by shortfall needs an analyte, and figures above 0", "by, enough and per_value", "", "")
			}
			if t.Use == useAlways && !s.Provenance.Firm() {
				c.fault("not-firm", s.At, "the row "+quote(s.ID)+" rests on "+s.Provenance.Words()+" but its table is used always", "use: "+useLast, t.Use, "a figure that was neither read nor computed may only answer where nothing better does")
			}
		}
		last := -1
		var before *NutrientRow
		for j := range t.Rows {
			r := &t.Rows[j]
			if t.Use == useAlways && !r.Provenance.Firm() {
				c.fault("not-firm", r.At, "the row "+quote(r.ID)+" rests on "+r.Provenance.Words()+" but its table is used always", "use: "+useLast, t.Use, "a figure that was neither read nor computed may only answer where nothing better does")
			}
			if (r.Rate == "") == (r.Ask == "") {
				c.fault("rate-unclear", r.At, "a row gives either a rate or a question to ask", "one of rate and ask", "", "")
			}
			if (t.By == "") != (r.Class == "") {
				c.fault("class-unclear", r.At, "rows have a class just where the table goes by an analyte", "", r.Class, "")
				continue
			}
			if r.Class == "" {
				continue
			}
			c.oneOf("class", r.Of("class"), r.Class, classOrder)
			if k := rank(r.Class); k >= 0 && k <= last {
				c.fault("classes-order", r.Of("class"), "the classes of "+t.ID+" do not rise", "", r.Class, "")
			} else {
				last = k
			}
			if before != nil && before.Rate != "" && r.Rate != "" && r.Rate.rat().Cmp(before.Rate.rat()) > 0 {
				c.fault("rate-rises", r.Of("rate"), "a richer soil would get more of "+t.Nutrient+" than a poorer one", "at most "+string(before.Rate), string(r.Rate), "")
			}
			before = r
			if rank(r.Class) >= rank(Optimum) && r.Rate != "" && r.Rate.rat().Cmp(t.Maintenance.rat()) > 0 {
				c.fault("over-maintenance", r.Of("rate"), "a soil at or above optimum would get more than maintenance", "at most "+plain(t.Maintenance.rat(), 3), string(r.Rate), "")
			}
		}
		if t.OnceMost != nil && t.OnceMost.Most.rat().Sign() <= 0 {
			c.fault("cap-unclear", t.OnceMost.At, "a cap must be above 0", "", string(t.OnceMost.Most), "")
		}
		if m := t.Material; m != nil && (m.Percent.rat().Sign() <= 0 || m.Percent.rat().Cmp(rat(100, 1)) > 0) {
			c.fault("not-a-percent", m.Of("percent"), "a product holds between 0 and 100 percent", "", string(m.Percent), "")
		}
	}
}

// plants checks that what plants are fed can be worked.
func (c *checker) plants() {
	for i := range c.rs.Plants {
		t := &c.rs.Plants[i]
		for j := range t.Rows {
			r := &t.Rows[j]
			if r.FromYear < 1 || r.ToYear > 0 && r.ToYear < r.FromYear {
				c.fault("plant-unclear", r.At, "the years of a plant's life begin at 1 and go up", "from_year 1 or more, to_year not before it", itoa(r.FromYear)+" to "+itoa(r.ToYear), "")
			}
			if r.Soil != "" {
				c.oneOf("soil", r.Of("soil"), r.Soil, []string{wantsComplete, wantsNitrogen})
				if t.Choice == nil {
					c.fault("plant-unclear", r.Of("soil"), "rows go by the soil, but nothing says what the choice rests on", "a choice in the table", "none", "")
				}
			}
			if r.Grade == "" {
				continue
			}
			if _, ok := r.Grade.parts(); !ok {
				c.fault("not-a-grade", r.Of("grade"), "this is no grade of a fertilizer", "such as 10-10-10", string(r.Grade), "")
			}
			if (r.Lb == "") == (r.LbPerYear == "") || r.Lb.rat().Sign()+r.LbPerYear.rat().Sign() <= 0 || len(r.Times) == 0 {
				c.fault("plant-unclear", r.At, "a row says how much one plant gets, and when", "one of lb and lb_per_year_of_age, and times", "", "")
			}
			if r.LbPerYear != "" && r.YearMost == nil {
				c.fault("plant-unclear", r.At, "an amount that grows with age needs a most in a year", "year_most", "none", "")
			}
		}
	}
}

func (c *checker) lead() {
	l := &c.rs.Lead
	c.unit(l.Of("unit"), l.Unit, "mg/kg")
	c.methods(l.Of("total_methods"), l.TotalMethods)
	c.bands("lead", len(l.Tiers), func(i int) Spot { return l.Tiers[i].Spot }, func(i int) Num { return l.Tiers[i].From }, func(i int) Num { return l.Tiers[i].Below })
	for i := range l.History {
		c.date(l.History[i].Of("date"), l.History[i].Date)
		if u := l.History[i].Until; u != "" {
			c.date(l.History[i].Of("until"), u)
		}
	}
	for i := range l.Screens {
		s := &l.Screens[i]
		c.methods(s.Of("methods"), s.Methods)
		if overlap(s.Methods, l.TotalMethods) {
			c.fault("screen-is-total", s.Of("methods"), "a method cannot be both a screen and a test of total lead", "", strings.Join(s.Methods, ", "), "")
		}
	}
}

func overlap(a, b []string) bool {
	for _, x := range a {
		if slices.Contains(b, x) {
			return true
		}
	}
	return false
}

func fold2(a []string) []string {
	var out []string
	for _, s := range a {
		out = append(out, fold(s))
	}
	return out
}

// fold is a word without case and extra spaces, for comparing.
func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

func analytes() []string {
	var out []string
	for a := range unitOfAnalyte {
		out = append(out, a)
	}
	slices.Sort(out)
	return out
}
