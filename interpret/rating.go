package interpret

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// What pH is told as.
const (
	TooAcid     = "too acid"
	InRange     = "in range"
	TooAlkaline = "too alkaline"
)

// span is what is known of a value: at least low, at most high, with nil for
// no upper limit. A censored result is a span and not a number.
type span struct {
	low, high *big.Rat
	value     *big.Rat // nil for a censored result
	half      *big.Rat // half a unit of the last printed digit, in the value's unit
}

func spanOf(r *normalize.Result) (span, bool) {
	v, ok := ratOf(r.Value)
	if !ok {
		return span{}, false
	}
	s := span{low: v, high: v, value: v, half: halfDigit(string(r.Value))}
	// The printed digits say how fine the value is known; carry them over to
	// its unit by the ratio of the two numbers.
	if p, ok := ratOf(r.Printed.Number); ok && p.Sign() > 0 && v.Sign() > 0 {
		s.half = mul(halfDigit(string(r.Printed.Number)), quo(v, p))
	}
	switch r.Censored {
	case "<":
		s = span{low: new(big.Rat), high: v}
	case ">":
		s = span{low: v}
	}
	return s, true
}

// classIndex finds the class that holds the whole span, or -1.
func classIndex(t *RatingTable, s span) int {
	at := func(v *big.Rat) int {
		for i := range t.Classes {
			c := &t.Classes[i]
			if v.Cmp(c.From.rat()) >= 0 && (c.Below == "" || v.Cmp(c.Below.rat()) < 0) {
				return i
			}
		}
		return -1
	}
	lo := at(s.low)
	if s.high == nil {
		if lo == len(t.Classes)-1 {
			return lo
		}
		return -1
	}
	hi := at(s.high)
	if s.value == nil && hi > 0 && s.high.Cmp(t.Classes[hi].From.rat()) == 0 {
		hi-- // below a limit that is itself a bound lies in the class under it
	}
	if lo != hi {
		return -1
	}
	return lo
}

func (rs *RuleSet) phFor(use string) *PHTarget {
	for i := range rs.PH {
		if slices.Contains(rs.PH[i].For, use) {
			return &rs.PH[i]
		}
	}
	return nil
}

func basis(id, source string, p Provenance, at ingest.Place) Basis {
	return Basis{Row: id, Source: source, Provenance: p, At: at.String()}
}

// newRating is a rating with what was printed, and no class yet.
func newRating(r *normalize.Result) Rating {
	return Rating{Analyte: r.Analyte, Detail: r.Detail, Value: string(r.Value), Unit: r.Unit,
		Printed: r.Printed.Text, PrintUnit: r.Printed.Unit, Censored: r.Censored, Method: r.MethodName,
		LabWord: r.Printed.Rating, LabClass: r.Printed.Class}
}

// unrateable says why a result can't be rated whatever the table, or "".
func unrateable(r *normalize.Result) string {
	switch {
	case r.Missing != "":
		return "The laboratory printed “" + r.Missing + "” and no number."
	case r.Status == normalize.Held:
		return "The value is held until a person has looked at it."
	case r.Value == "" && r.Volumetric != nil:
		return "The laboratory measured by volume and printed no density, so the value cannot be set beside these tables."
	case r.Value == "" && r.Unit == "index":
		return "The laboratory printed its own score and no amount."
	case r.Value == "":
		if r.Why != "" {
			return r.Why
		}
		return "There is no value in a unit that the tables use."
	case r.Basis == "index" || r.Unit == "index":
		return "The laboratory printed its own score and no amount."
	case r.Method == "":
		return "The report does not say how it was measured."
	}
	return unsettledOxide(r)
}

// unsettledOxide is said where a value is labeled as an oxide, such as P2O5,
// and was not turned into the element that every table goes by: "" where all
// is well. Reading the one for the other is wrong by a factor of 2.29 for
// phosphorus.
func unsettledOxide(r *normalize.Result) string {
	oxide := map[string]string{"P": "P2O5", "K": "K2O", "Ca": "CaO", "Mg": "MgO"}[r.Analyte]
	if oxide == "" || r.Form() != "" {
		return ""
	}
	if r.Basis != oxide && !strings.Contains(strings.ToLower(r.Printed.Unit), strings.ToLower(oxide)) {
		return ""
	}
	return "The report labels it as " + oxide + ", and the tables go by the element."
}

// A ground is what of the soil decides which table is for it: its texture,
// its cation exchange capacity and its pH in water, "" and nil when not known.
type ground struct {
	texture string
	cec, ph *big.Rat
}

// conditional reports whether a table is for some soils only.
func (t *RatingTable) conditional() bool {
	return len(t.Textures) > 0 || t.CECFrom != "" || t.CECBelow != ""
}

// covers reports whether a table is for a use of the land.
func (t *RatingTable) covers(use string) bool { return len(t.For) == 0 || slices.Contains(t.For, use) }

// fits reports whether a table is known to be for a soil.
func (t *RatingTable) fits(g ground) bool {
	if len(t.Textures) > 0 && (g.texture == "" || !slices.Contains(fold2(t.Textures), fold(g.texture))) {
		return false
	}
	if (t.CECFrom != "" || t.CECBelow != "") && g.cec == nil {
		return false
	}
	return (t.CECFrom == "" || g.cec.Cmp(t.CECFrom.rat()) >= 0) && (t.CECBelow == "" || g.cec.Cmp(t.CECBelow.rat()) < 0)
}

// rate rates a nutrient, metal or organic matter for a land use and a soil.
func (rs *RuleSet) rate(r *normalize.Result, use string, soil ground) Rating {
	out := newRating(r)
	if why := unrateable(r); why != "" {
		out.Not = why
		return out
	}
	var tables []*RatingTable
	var methods []string
	for i := range rs.Ratings {
		t := &rs.Ratings[i]
		if t.Analyte != r.Analyte || !t.covers(use) {
			continue
		}
		methods = append(methods, t.Methods...)
		if slices.Contains(t.Methods, r.Method) {
			tables = append(tables, t)
		}
	}
	if len(tables) == 0 {
		if g, ok := rs.rateEstimate(out, r, use, soil); ok {
			return g
		}
		if len(methods) > 0 {
			out.Not = "The tables we use are made for another test method than “" + r.MethodName + "”. Numbers from different methods cannot be compared."
		} else {
			out.Not = "The tables we use have no scale for it."
		}
		return out
	}
	if tables[0].Unit != r.Unit {
		out.Not = "The value is in another unit (" + r.Unit + ") than the tables (" + tables[0].Unit + ")."
		return out
	}
	s, ok := spanOf(r)
	if !ok || s.low.Sign() < 0 {
		out.Not = "There is no value in a unit that the tables use."
		return out
	}
	if x := tables[0].Index; x != nil {
		if soil.ph == nil {
			out.Not = "How much is good depends on the pH, and the report gives no pH in water."
			return out
		}
		s = x.of(s, soil.ph)
	}
	if tables[0].conditional() {
		return rs.rateBySoil(out, tables, s, soil)
	}
	classify(&out, tables[0], s)
	if tables[0].Index != nil { // the scale is not that of the value
		out.Decided = "an index of value and pH of " + plain(maxRat(s.low, new(big.Rat)), 1) + ", " + strings.TrimSuffix(out.Decided, " "+tables[0].Unit)
		out.Bands, out.ToNext, out.NextClass, out.Close = nil, "", "", ""
	}
	return out
}

// of is the index of a span of values; a limit stays one.
func (x *Index) of(s span, ph *big.Rat) span {
	at := func(v *big.Rat) *big.Rat {
		if v == nil {
			return nil
		}
		return maxRat(new(big.Rat), add(add(x.Constant.rat(), mul(x.PerValue.rat(), v)), mul(x.PerPH.rat(), ph)))
	}
	return span{low: at(s.low), high: at(s.high), value: at(s.value), half: mul(s.halfOrNone(), x.PerValue.rat())}
}

func (s span) halfOrNone() *big.Rat {
	if s.half == nil {
		return new(big.Rat)
	}
	return s.half
}

// rateBySoil uses the table of the soil's texture or exchange capacity or,
// where that is not known, gives a class only if all tables give the same.
func (rs *RuleSet) rateBySoil(out Rating, tables []*RatingTable, s span, soil ground) Rating {
	for _, t := range tables {
		if t.fits(soil) {
			classify(&out, t, s)
			return out
		}
	}
	var lows, highs []string
	all := true
	for i, t := range tables {
		k := classIndex(t, s)
		if k < 0 {
			all = false
			continue
		}
		c := t.Classes[k].Class
		if len(lows) == 0 || rank(c) < rank(lows[0]) {
			lows = []string{c}
		}
		if len(highs) == 0 || rank(c) > rank(highs[0]) {
			highs = []string{c}
		}
		if i == 0 {
			classify(&out, t, s)
		} else {
			out.Basis = append(out.Basis, basis(t.Classes[k].ID, t.Classes[k].Source, t.Classes[k].Provenance, t.Classes[k].At))
			if t.Classes[k].Class != out.Class {
				all = false
			}
		}
	}
	if all && len(lows) > 0 && lows[0] == highs[0] {
		out.Decided = "the same class " + forEverySoil(tables)
		out.Bands, out.ToNext, out.NextClass, out.Close = nil, "", "", ""
		return out
	}
	not := "How much is good depends on how sandy the soil is, and the report does not say."
	if len(tables[0].Textures) == 0 {
		not = "How much is good depends on the soil's cation exchange capacity (CEC), and the report does not give it."
	}
	clean := out
	clean.Class, clean.Word, clean.Decided, clean.ToNext, clean.NextClass, clean.Close, clean.Differs = "", "", "", "", "", "", ""
	clean.Bands, clean.Basis, clean.Not = nil, nil, not
	return clean
}

func forEverySoil(tables []*RatingTable) string {
	if len(tables[0].Textures) == 0 {
		return "for every exchange capacity of the soil"
	}
	return "in every texture of soil"
}

// classify sets class, deciding bound, distance and doubt from a table.
func classify(out *Rating, t *RatingTable, s span) {
	for i := range t.Classes {
		out.Bands = append(out.Bands, Band{Class: t.Classes[i].Class, From: string(t.Classes[i].From), Below: string(t.Classes[i].Below)})
	}
	i := classIndex(t, s)
	if i < 0 {
		out.Not = "The result is a limit (" + out.Censored + out.Value + ") that reaches over more than one class."
		return
	}
	c := &t.Classes[i]
	out.Class, out.Word = c.Class, c.Word
	out.Basis = append(out.Basis, basis(c.ID, c.Source, c.Provenance, c.At))
	switch {
	case c.Below == "":
		out.Decided = "at or above " + string(c.From) + " " + t.Unit
	case c.From.rat().Sign() == 0:
		out.Decided = "below " + string(c.Below) + " " + t.Unit
	default:
		out.Decided = string(c.From) + " up to " + string(c.Below) + " " + t.Unit
	}
	if s.value != nil {
		var bounds []boundTo
		if c.Below != "" {
			bounds = append(bounds, boundTo{c.Below.rat(), string(c.Below), t.Classes[i+1].Class})
		}
		if i > 0 {
			bounds = append(bounds, boundTo{c.From.rat(), string(c.From), t.Classes[i-1].Class})
		}
		nearBound(out, bounds, s)
	}
	compareLab(out)
}

type boundTo struct {
	at    *big.Rat
	text  string
	class string
}

func nearBound(out *Rating, bounds []boundTo, s span) {
	var best *big.Rat
	for _, b := range bounds {
		d := new(big.Rat).Abs(sub(b.at, s.value))
		if best == nil || d.Cmp(best) < 0 {
			best = d
			out.ToNext, out.NextClass = plain(d, 3), b.class
		}
		if d.Cmp(s.half) <= 0 {
			out.Close = b.text
		}
	}
}

// ratePH sets a pH against its target.
func (rs *RuleSet) ratePH(r *normalize.Result, t *PHTarget) Rating {
	out := newRating(r)
	if why := unrateable(r); why != "" {
		out.Not = why
		return out
	}
	if !slices.Contains(t.Methods, r.Method) {
		out.Not = "The pH range we use is for soil stirred in water. This pH was measured another way (" + r.MethodName + ")."
		return out
	}
	s, ok := spanOf(r)
	if !ok {
		out.Not = "There is no pH value."
		return out
	}
	lo, hi := t.Low.rat(), t.High.rat()
	if s.value == nil {
		return t.ofLimit(out, s)
	}
	out.Basis = []Basis{basis(t.ID, t.Source, t.Provenance, t.At)}
	if t.High == "" { // a target alone is printed, so nothing is called too alkaline
		out.Bands = []Band{{TooAcid, "0", string(t.Low)}, {InRange, string(t.Low), ""}}
		out.Class, out.Decided = InRange, "at or above "+string(t.Low)
		other := TooAcid
		if s.value.Cmp(lo) < 0 {
			out.Class, out.Decided, other = TooAcid, "below "+string(t.Low), InRange
		}
		nearBound(&out, []boundTo{{lo, string(t.Low), other}}, s)
		compareLab(&out)
		return out
	}
	out.Bands = []Band{{TooAcid, "0", string(t.Low)}, {InRange, string(t.Low), string(t.High)}, {TooAlkaline, string(t.High), ""}}
	switch {
	case s.value.Cmp(lo) < 0:
		out.Class, out.Decided = TooAcid, "below "+string(t.Low)
		nearBound(&out, []boundTo{{lo, string(t.Low), InRange}}, s)
	case s.value.Cmp(hi) > 0:
		out.Class, out.Decided = TooAlkaline, "above "+string(t.High)
		nearBound(&out, []boundTo{{hi, string(t.High), InRange}}, s)
	default:
		out.Class, out.Decided = InRange, string(t.Low)+" to "+string(t.High)
		nearBound(&out, []boundTo{{lo, string(t.Low), TooAcid}, {hi, string(t.High), TooAlkaline}}, s)
	}
	compareLab(&out)
	return out
}

// ofLimit rates a pH that is told as a limit, such as less than 4.0: by its class
// where all that it may be lies in one.
func (t *PHTarget) ofLimit(out Rating, s span) Rating {
	switch {
	case s.high != nil && s.high.Cmp(t.Low.rat()) <= 0:
		out.Class, out.Decided = TooAcid, "below "+string(t.Low)
	case s.high == nil && t.High != "" && s.low.Cmp(t.High.rat()) >= 0:
		out.Class, out.Decided = TooAlkaline, "above "+string(t.High)
	case s.high == nil && t.High == "" && s.low.Cmp(t.Low.rat()) >= 0:
		out.Class, out.Decided = InRange, "at or above "+string(t.Low)
	default:
		out.Not = "The report gives only a limit for the pH (" + out.Censored + out.Value + ")."
		return out
	}
	out.Basis = []Basis{basis(t.ID, t.Source, t.Provenance, t.At)}
	compareLab(&out)
	return out
}

// stand is the meaning that words of different scales share: too little,
// enough or too much; "" when a word is not understood.
func stand(word string) string {
	w := fold(word)
	w = strings.TrimLeft(w, "0123456789 ")
	switch w {
	case "very low", "low", "medium", "deficient", "too acid", "below optimum", "l", "vl", "m":
		return "too little"
	case "optimum", "right", "sufficient", "adequate", "in range", "normal", "satisfactory", "o":
		return "enough"
	case "above optimum", "excessive", "very high", "too alkaline", "warning", "v", "vh", "e":
		return "more than enough"
	}
	return "" // "high" is optimum on one scale and too much on another
}

// compareLab explains a laboratory's word that means something else than our
// class. What the laboratory's mapping says of the word comes before what the
// word means elsewhere: M is medium on one scale and manure on another. The
// word itself is always shown.
func compareLab(out *Rating) {
	a, b := stand(out.LabClass), stand(out.Class)
	if out.LabClass == "" {
		a = stand(out.LabWord) // the mapping does not say what the word means
	}
	if a == "" || b == "" || a == b {
		return
	}
	if out.Analyte == "OM" && a != "too little" && b != "too little" {
		return // more organic matter is seldom too much
	}
	out.Differs = "The laboratory calls this “" + out.LabWord + "”. It rates by its own scale for its own region and crops; our tables draw their lines elsewhere."
}
