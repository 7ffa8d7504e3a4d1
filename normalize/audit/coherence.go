package audit

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/formula"
	"example.org/windrow/normalize/unit"
)

// Whoever changes one field of a document seldom changes every other that
// rests on it. What follows holds those against each other.

// statuses derives the status of report, records and results from the reasons
// and findings beneath them, and compares.
func (c *Checker) statuses() {
	rep := c.rep
	const what = "the status does not follow from the reasons and findings beneath it"
	of := func(worst normalize.Status, s ingest.Severity) normalize.Status {
		switch {
		case s == ingest.Hold || s == ingest.Fail || worst == normalize.Held:
			return normalize.Held
		case s == ingest.Flag || worst == normalize.Flagged:
			return normalize.Flagged
		}
		return normalize.OK
	}
	as := map[normalize.Status]ingest.Severity{normalize.OK: ingest.Note, normalize.Flagged: ingest.Flag, normalize.Held: ingest.Hold}
	whole := normalize.OK
	for _, r := range rep.Reasons {
		whole = of(whole, r.Severity)
	}
	records := make([]normalize.Status, len(rep.Records))
	results := make([][]normalize.Status, len(rep.Records))
	for i, rec := range rep.Records {
		records[i] = normalize.OK
		for _, f := range rec.Checks {
			records[i] = of(records[i], f.Severity)
		}
		for _, res := range rec.Results {
			st := normalize.OK
			for _, f := range res.Findings {
				st = of(st, f.Severity)
			}
			results[i] = append(results[i], st)
			records[i] = of(records[i], as[st])
		}
		whole = of(whole, as[records[i]])
	}
	if len(rep.Records) == 0 && len(rep.Reasons) == 0 {
		whole = normalize.Held // nothing could be read, and nobody said why
	}
	tell := func(want, is normalize.Status) {
		if want != is {
			c.differs(CodeStatus, "", string(want), string(is), what)
		}
	}
	c.rec, c.res = nil, nil
	if len(rep.Records) > 0 || rep.Status != normalize.Held {
		tell(whole, rep.Status)
	}
	for i, rec := range rep.Records {
		c.rec, c.res = rec, nil
		if whole == normalize.Held {
			records[i] = normalize.Held // nothing of a held report is good for use
		}
		tell(records[i], rec.Status)
		for j, res := range rec.Results {
			c.res = res
			if whole == normalize.Held {
				results[i][j] = normalize.Held
			}
			tell(results[i][j], res.Status)
		}
	}
	c.rec, c.res = nil, nil
}

// printed compares what was read out of a printed text with the text: the
// digits of the number, and the sign of a limit. A sign may stand in a column
// of its own, so that a limit whose text has none is left to the original; a
// text with a sign and a number that is no limit is not.
func (c *Checker) printed() {
	res := c.res
	p := res.Printed
	digits := func(s string) string {
		return strings.Map(func(r rune) rune {
			if r < '0' || r > '9' {
				return -1
			}
			return r
		}, s)
	}
	if p.Number != "" && p.OCR == nil {
		has := strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) && r > '9' {
				return '?' // digits of other scripts are for who reads the page
			}
			return r
		}, p.Text)
		want := strings.TrimLeft(digits(string(p.Number)), "0")
		if !strings.Contains(has, "?") && !strings.Contains(digits(has), want) {
			c.differs(CodePrinted, "", "the digits of “"+p.Text+"”", string(p.Number), "the number is not the one in the printed text")
		}
	}
	sign := strings.TrimSpace(p.Text)
	if sign != "" && strings.ContainsAny(sign[:1], "<>") && p.Number != "" && res.Censored != sign[:1] {
		c.differs(CodePrinted, "", "a limit, “"+sign[:1]+"”", "“"+res.Censored+"”", "the printed text is a limit of another kind")
	}
	if res.Censored != "" && (p.Number == "" || res.Censored != "<" && res.Censored != ">") {
		c.differs(CodePrinted, "", "a printed limit", "“"+res.Censored+"”", "there is the sign of a limit without a number, or one that is none")
	}
	c.limit()
	c.rating()
}

// limit wants the sign of a limit to be printed: in the text itself, or at a
// place of its own that the record names.
func (c *Checker) limit() {
	res := c.res
	if res.Censored == "" || strings.ContainsAny(res.Printed.Text, "<>") || !res.Printed.SignPlace.IsZero() || res.Printed.OCR != nil {
		return
	}
	if c.rep.Tables != c.current {
		return // records of earlier versions did not keep where a sign stood
	}
	c.differs(CodePrinted, "", "“"+res.Censored+"” in “"+res.Printed.Text+"”, or where it stands", "neither", "the value is a limit, and the printed text is not")
}

// rating wants a class of the laboratory's words to have a printed word, and
// one word of one mapping to have one class.
func (c *Checker) rating() {
	p := c.res.Printed
	if p.Class == "" {
		return
	}
	if p.Rating == "" {
		c.differs(CodeRating, "", "a printed rating", "the class "+p.Class, "there is a class, and no rating that it could come from")
		return
	}
	key := "rating\x00" + c.rep.Mapping.SHA256 + "\x00" + c.res.Analyte + "\x00" + c.res.Detail + "\x00" + strings.ToLower(p.Rating)
	if first, ok := c.factors[key]; !ok {
		c.factors[key] = firstUse{p.Class, c.rec.ID}
	} else if first.factor != p.Class {
		c.differs(CodeRating, "", first.factor+", as in record "+first.record, p.Class, "the same rating “%s” of the same mapping is another class elsewhere", p.Rating)
	}
}

// depth compares a depth that a step takes from the report with that of the
// sample, where the report prints one.
func (c *Checker) depth() {
	s := c.rec.Sample
	top, err := formula.Number(string(cmp.Or(s.DepthTopIn, "0")))
	if s.DepthSource != "report" || err != nil {
		return
	}
	want, err := formula.Number(string(s.DepthIn))
	if err == nil {
		// An amount per area stands for the soil of the layer alone.
		want, err = formula.Eval("bottom - top", map[string]*apd.Decimal{"bottom": want, "top": top})
	}
	if err != nil {
		return
	}
	for i := range c.res.Steps {
		st := &c.res.Steps[i]
		for _, in := range st.Inputs {
			if in.Name != "depth" || in.Origin != "report" {
				continue
			}
			names, err := inputs(st)
			if err != nil || names["depth in cm"] == nil {
				continue
			}
			is, err := formula.Eval("cm/2.54", map[string]*apd.Decimal{"cm": names["depth in cm"]})
			if err == nil && !formula.Within(want, is, min(formula.Places(is, 4), max(2, decimals(string(s.DepthIn))))) {
				c.differs(CodeInput, "depth", want.Text('f')+" in, the depth of the sample's layer", quantity(normalize.Quantity{Value: in.Value, Unit: in.Unit}), "the depth is not the one that the report gives for this sample")
			}
		}
	}
}

// sameSource compares the source of a conversion with its other uses, and that
// of an estimate with the table of equations.
func (c *Checker) sameSource(name string, s *normalize.Step) {
	if r, ok := c.row(strings.TrimPrefix(s.Rule, "estimate/")); ok && strings.HasPrefix(s.Rule, "estimate/") {
		if s.Source != r.Sources[0] {
			c.differs(CodeSource, name, r.Sources[0]+", as the table of equations says", s.Source, "the source of the step is not that of its equation")
		}
		if r.Equation == nil || s.Equation != r.Equation.String() {
			c.differs(CodeFactor, name, "the equation "+r.ID+" of the table", s.Equation, "the equation of the step is not the one that its rule names")
		}
		return
	}
	if may := sourcesOf(s); c.rep.Tables == c.current && !slices.Contains(may, s.Source) {
		c.differs(CodeSource, name, strings.Join(may, " or "), s.Source, "the source of the step is not one that the conversion %s rests on", s.Rule)
	}
	if s.Rule == "area/by-mass" || s.Rule == "form/lb-per-acre" {
		return // who states the weight of soil differs from report to report
	}
	key := "source\x00" + c.rep.Tables + "\x00" + s.Rule + "\x00" + s.From.Unit + "\x00" + s.To.Unit
	if first, ok := c.factors[key]; !ok {
		c.factors[key] = firstUse{s.Source, c.rec.ID}
	} else if first.factor != s.Source {
		c.differs(CodeSource, name, first.factor+", as in record "+first.record, s.Source, "the conversion %s has another source elsewhere, under the same tables; one of the two is wrong", s.Rule)
	}
}

// row is the row of the table of equations, where the record was made with
// the tables of this version.
func (c *Checker) row(id string) (*estimate.Row, bool) {
	if c.rep.Tables != c.current {
		return nil, false
	}
	return normalize.Equations().Row(id)
}

// standing holds what an estimate says of the domain of its equation against
// its conditions, and against the row that it names.
func (c *Checker) standing(e *normalize.Estimate, name string) {
	want := "inside"
	switch {
	case len(e.Outside) > 0:
		want = outsideDomain
	case len(e.Unknown) > 0:
		want = "unknown"
	}
	r, ok := c.row(e.Equation)
	if ok && want == "inside" {
		for _, d := range r.Domain {
			if d.What == "other" {
				want = "unknown" // no report says that
			}
		}
	}
	if e.InDomain != want {
		c.differs(CodeDomain, name, want, e.InDomain, "what the estimate says of its domain does not follow from the conditions")
	}
	if c.rep.Tables == c.current && !ok {
		c.differs(CodeEstimate, name, "a row of the table of equations", e.Equation, "the equation is not in the table")
	}
	if !ok {
		return
	}
	if e.Source != r.Sources[0] {
		c.differs(CodeSource, name, r.Sources[0]+", as the table of equations says", e.Source, "the source of the estimate is not that of its equation")
	}
	if e.Verdict != string(r.Verdict) || e.Provenance != r.Provenance {
		c.differs(CodeEstimate, name, string(r.Verdict)+", "+r.Provenance, e.Verdict+", "+e.Provenance, "what the estimate says of its equation is not what the table says")
	}
	if i := e.Interval; i != nil {
		texts := []string{string(i.Error)}
		if i.Kind == "ratio" {
			texts = []string{string(i.LeastRatio), string(i.MostRatio)}
		}
		if i.Kind != r.Interval.Kind || !slices.Equal(texts, r.Interval.Texts) {
			c.differs(CodeInterval, name, r.Interval.Kind+" "+strings.Join(r.Interval.Texts, " "), i.Kind+" "+strings.Join(texts, " "), "the error of the interval is not the one in the table")
		}
	}
}

// sourcesOf are the keys that a step may name as its source, by its rule: for
// units and bases what their own tables say.
func sourcesOf(s *normalize.Step) []string {
	kind, rest, _ := strings.Cut(s.Rule, "/")
	switch kind {
	case "unit":
		out := []string{"si-ucum"}
		from, _, _ := strings.Cut(rest, "-to-")
		if rest == "same" {
			from, _, _ = strings.Cut(s.To.Unit, " as ")
		}
		if u, ok := unit.Standard().Unit(from); ok {
			out = append(out, u.Source)
		}
		return out
	case "basis":
		from, _, _ := strings.Cut(rest, "-to-")
		if b, ok := unit.Standard().Basis(from); ok {
			return []string{b.Source}
		}
		return nil
	}
	return grounds[s.Rule]
}

// grounds are the sources of the conversions that no table holds; those of
// charge/ and amount/ are named by the element.
var grounds = func() map[string][]string {
	m := map[string][]string{
		"cell/stored-number":           {"report"},
		"charge/moles-of-charge":       {"rayment-lyons-2011"},
		"volume/parts-of-scooped-soil": {"nc-agronomic"},
		"volume/by-density":            {"rayment-lyons-2011"},
		"area/by-volume":               {"rayment-lyons-2011"},
		"area/by-bulk-density":         {"rayment-lyons-2011"},
		"area/by-mass":                 {"report", "mapping-statement"},
		"form/lb-per-acre":             {"definition", "furrow-slice-convention"},
		"form/ppm":                     {"rayment-lyons-2011"},
	}
	for el := range unit.Standard().Weights {
		m["charge/"+el], m["amount/"+el] = []string{"iupac-weights"}, []string{"iupac-weights"}
	}
	if l, ok := unit.Standard().Unit("mg/L"); ok {
		m["volume/litre"] = []string{l.Source}
	}
	return m
}()
