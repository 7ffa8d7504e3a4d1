package mappings

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"path"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// fieldIDs are the fields in the order in which they are offered.
var fieldIDs = []FieldID{ReportNo, LabSampleID, ClientSampleID, ClientName, ClientAddress, ClientEmail, ClientPhone, County, DateSampled, DateReceived, DateReported, LandUse, Depth, DepthTop}

func knownField(s string) bool {
	for _, f := range fieldIDs {
		if string(f) == s {
			return true
		}
	}
	return false
}

// language is the mapping language, as far as the reader of its YAML must
// know it.
var language = strict.Language{Code: "mapping-error", Guide: "the mapping guide"}

// Decode reads one mapping file. It returns a mapping only when there is no
// reason against it; the reasons name line and column and suggest a mend.
func Decode(name string, b []byte, vocab Vocabulary) (*Mapping, []*ingest.Reason) {
	f, top := strict.Parse(path.Base(name), b, language)
	if len(f.Reasons) > 0 {
		return nil, f.Reasons
	}
	sum := sha256.Sum256(b)
	d := &decoder{vocab: vocab}
	m := d.mapping(top)
	m.File, m.SHA256 = path.Base(name), hex.EncodeToString(sum[:])
	m.Questions = questions(m.File, b)
	if len(f.Reasons) > 0 {
		return nil, f.Reasons
	}
	return m, nil
}

type decoder struct {
	vocab Vocabulary
	m     *Mapping
}

func (d *decoder) mapping(n strict.Node) *Mapping {
	m := &Mapping{Ratings: map[string]string{}, LandUses: map[string]string{}, Units: map[string]UnitNote{}, Methods: map[string]MethodRef{}, Qualifiers: map[string]string{}, byLabel: map[string]*Test{}, Place: n.Place()}
	d.m = m
	if v := n.Get("windrow mapping").Text(); v != "1" {
		n.Complain("the first line says which version of the mapping language the file is written in", "windrow mapping: 1", fmt.Sprintf("%q", v), "write the line; 1 is the only version there is")
	}
	m.Lab = d.need(n, "lab", "the laboratory's name as it should stand in records")
	m.ID = d.need(n, "id", "a short name for the laboratory, such as quarry-ag")
	if m.ID != "" && strings.Trim(m.ID, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		n.Get("id").Complain("the id is used in file names and metrics", "small letters, digits and hyphens", m.ID, "choose a plainer id")
	}
	n.Get("guide").Text() // where the lab explains itself; for people
	m.Recognise = d.patterns(n.Get("recognise"), false)
	m.Unless = d.patterns(n.Get("unless"), false)
	for _, v := range n.Get("senders").Items() {
		from := strings.ToLower(v.Text())
		if strings.ContainsAny(from, " <>*,") || !strings.Contains(from, ".") {
			v.Complain("this is not a mail address, nor what stands behind the @ of one", "results@quarry-ag.example or quarry-ag.example", v.Text(), "write it without a name and without signs around it")
		}
		m.Senders = append(m.Senders, from)
	}
	if v := n.Get("message body"); v.Has() {
		m.MessageIsNone = v.OneOf("not a report") != ""
	}
	m.NotReports = d.companions(n.Get("not reports"))
	if len(m.Recognise) == 0 {
		n.Complain("nothing says how the laboratory's reports are recognised", "recognise: [a text that stands on every report]", "no texts", "add the laboratory's name as printed, or a heading only it uses")
	}
	m.Style = d.style(n, Style{Decimal: "."})
	for _, p := range n.Get("ratings").Pairs() {
		class := p.Value.Text()
		id, ok := d.vocab.Resolve(RatingWord, class)
		if !ok {
			d.unknown(p.Value, RatingWord, class)
		}
		m.Ratings[normalise(p.Key)] = id
	}
	for _, p := range n.Get("land uses").Pairs() {
		use := p.Value.Text()
		id, ok := d.vocab.Resolve(LandUseWord, use)
		if !ok {
			d.unknown(p.Value, LandUseWord, use)
		}
		m.LandUses[strings.ToLower(normalise(p.Key))] = id
	}
	for _, p := range n.Get("units").Pairs() {
		m.Units[normalise(p.Key)] = d.unitNote(p)
	}
	for _, p := range n.Get("method words").Pairs() {
		id, ok := d.vocab.Resolve(MethodWord, p.Value.Text())
		if !ok {
			d.unknown(p.Value, MethodWord, p.Value.Text())
		}
		m.Methods[normalise(p.Key)] = MethodRef{id, p.KeyAt}
	}
	for _, p := range n.Get("qualifiers").Pairs() {
		m.Qualifiers[normalise(p.Key)] = p.Value.OneOf(qualifierMeanings...)
	}
	d.tests(n.Get("tests"))
	layouts := n.Get("layouts")
	if !layouts.Has() {
		n.Complain("the mapping has no layout", "layouts: a list of the ways the laboratory lays out its reports", "none", "add one; see the mapping guide")
	}
	for _, l := range layouts.Items() {
		m.Layouts = append(m.Layouts, d.layout(l))
	}
	for _, e := range n.Get("examples").Items() {
		m.Examples = append(m.Examples, d.example(e))
	}
	n.Done()
	return m
}

func (d *decoder) need(n strict.Node, key, what string) string {
	v := n.Get(key)
	if !v.Has() {
		n.Complain(fmt.Sprintf("%q is missing", key), key+": "+what, "no such line", "add it")
		return ""
	}
	return v.Text()
}

func (d *decoder) unknown(n strict.Node, kind WordKind, text string) {
	next := "use a word of the vocabulary; `windrow mapping words` lists them"
	if near := d.vocab.Near(kind, text); len(near) > 0 {
		next = "did you mean " + strings.Join(quoteAll(near), " or ") + "?"
	}
	if strings.Contains(text, ": ") {
		next = "a word that has a colon in it stands in quotation marks, such as \"1:1 water\"; otherwise: " + next
	}
	n.Complain(fmt.Sprintf("the %s %q is not known", kind, text), article(kind)+" of the vocabulary", text, next)
}

func quoteAll(in []string) []string {
	out := make([]string, 0, len(in))
	for _, s := range in[:min(3, len(in))] {
		out = append(out, fmt.Sprintf("%q", s))
	}
	return out
}

// pattern compiles a text with placeholders; named says whether
// placeholders may stand in it.
func (d *decoder) pattern(n strict.Node, named bool) *Pattern {
	if !n.Has() {
		return nil
	}
	t := n.Text()
	if t == "" {
		return nil
	}
	p, err := newPattern(t, n.Place())
	if err != nil {
		n.Complain("this text can't be looked for", "words, with * for any text, # for a digit and {name} for a value", err.Error(), "correct it; a backslash makes the next character plain")
		return nil
	}
	if !named && p.reads() {
		n.Complain("no value is read here", "a text without braces", t, "take the braces out, or write \\{ for a real one")
	}
	return p
}

func (d *decoder) patterns(n strict.Node, named bool) []*Pattern {
	var out []*Pattern
	for _, c := range n.Items() {
		if p := d.pattern(c, named); p != nil {
			out = append(out, p)
		}
	}
	return out
}

func (d *decoder) style(n strict.Node, st Style) Style {
	if nn := n.Get("numbers"); nn.Has() {
		st.Decimal = nn.Get("decimal").OneOf(".", ",")
		if st.Decimal == "" {
			st.Decimal = "."
		}
		st.Thousands = ""
		if t := nn.Get("thousands"); t.Has() {
			switch v := t.OneOf(",", ".", "'", "space", "none"); v {
			case "space":
				st.Thousands = " "
			case "none":
			default:
				st.Thousands = v
			}
		}
		if st.Thousands == st.Decimal {
			nn.Complain("one sign can't both group digits and begin decimals", "two different signs", st.Decimal, "see how the laboratory writes one thousand and a half")
		}
		nn.Done()
	}
	if dn := n.Get("dates"); dn.Has() {
		st.Dates = nil
		for _, c := range dn.Items() {
			p := c.Text()
			if err := checkDatePattern(p); err != nil {
				c.Complain("this date pattern is not complete", err.Error(), p, "for 14/03/2026 write DD/MM/YYYY, for March 4, 2026 write MMMM D, YYYY; for a spreadsheet's day numbers write day serial 1900")
			}
			st.Dates = append(st.Dates, p)
		}
	}
	if x := n.Get("missing"); x.Has() {
		st.Missing = x.Texts()
	}
	if x := n.Get("marks"); x.Has() {
		st.Marks = x.Texts()
		for _, c := range x.Items() {
			if m := c.Text(); hasDigit(m) || strings.Trim(m, ".,'<>-+%") == "" {
				c.Complain(fmt.Sprintf("the mark %q can be a part of a number", m), "a sign or letter that no number has", m, "without a mark like this the numbers that have it are held, and a person looks; a small raised digit is written as such: ²")
			}
		}
	}
	return st
}

func (d *decoder) unitNote(p strict.Pair) UnitNote {
	u := UnitNote{Place: p.KeyAt, rule: &p.KeyAt}
	n := p.Value
	text := p.Key
	if n.IsText() {
		text = n.Text()
		id, ok := d.vocab.Resolve(UnitWord, text)
		if !ok {
			d.unknown(n, UnitWord, text)
		}
		u.ID = id
		return u
	}
	if v := n.Get("means"); v.Has() {
		text = v.Text()
	}
	id, ok := d.vocab.Resolve(UnitWord, text)
	if !ok {
		d.unknown(n, UnitWord, text)
	}
	u.ID = id
	area := &AreaBasis{Source: "mapping", Rule: u.rule}
	if v := n.Get("depth"); v.Has() {
		top, r, unit, err := parseDepth(v.Text(), "")
		if err == nil && top.Sign() > 0 {
			err = errors.New("it begins below the surface")
		}
		if err != nil {
			v.Complain("this is not a depth", "a depth with its unit, such as 6 2/3 in or 15 cm", v.Text(), "write it so")
		} else if unit == "cm" {
			area.DepthCm = r.RatString()
		} else {
			area.DepthIn = r.RatString()
		}
		u.Area = area
	}
	soil := func(key, suffix string) string {
		v := n.Get(key)
		if !v.Has() {
			return ""
		}
		t := strings.TrimSpace(strings.TrimSuffix(v.Text(), suffix))
		t = strings.ReplaceAll(t, ",", "")
		if !allDigits(t) || len(t) > 8 {
			v.Complain("this is not a mass of soil", "such as 2000000 "+suffix, v.Text(), "write pounds of soil per acre in plain digits")
			return ""
		}
		return t
	}
	area.LbPerAcre = soil("soil", "lb/acre")
	u.PerInch = soil("soil per inch", "lb/acre")
	u.ByVolume = n.Get("by volume").Bool()
	area.ByVolume = u.ByVolume
	if v := n.Get("bulk density"); v.Has() {
		t := strings.TrimSpace(strings.TrimSuffix(v.Text(), "g/cm3"))
		if r, ok := new(big.Rat).SetString(t); !ok || strings.Trim(t, "0123456789.") != "" || r.Cmp(big.NewRat(1, 20)) < 0 || r.Cmp(big.NewRat(53, 20)) > 0 {
			v.Complain("this is no bulk density of a soil", "grams per cubic centimetre between 0.05 and 2.65, such as 1.3 g/cm3", v.Text(), "take it from the laboratory's guide")
		} else {
			area.BulkDensity = t
		}
	}
	switch {
	case area.BulkDensity != "" && (u.Area == nil || area.LbPerAcre != "" || u.ByVolume || u.PerInch != ""):
		n.Complain("a bulk density goes with a depth and with nothing else", "depth with bulk density", "more or less than that", "keep what the laboratory's guide states")
	case u.PerInch != "" && (u.Area != nil || area.LbPerAcre != ""):
		n.Complain("soil per inch goes with the depth of each sample", "either soil per inch, or depth and soil", "both", "keep the one the laboratory's guide states")
	case u.Area != nil && area.LbPerAcre == "" && area.BulkDensity == "" && !u.ByVolume:
		n.Complain("a depth alone does not say how much soil an amount per area stands for", "depth with soil, depth with bulk density, or depth with by volume: yes", "depth only", "see the laboratory's guide for the mass of soil per acre")
	case u.Area == nil && area.LbPerAcre != "":
		n.Complain("a mass of soil needs its depth", "depth: 6 2/3 in", "soil only", "add the depth from the laboratory's guide")
	}
	d.soilWeight(n, u)
	n.Done()
	return u
}

func (d *decoder) tests(n strict.Node) {
	if !n.Has() {
		return
	}
	for _, p := range n.Pairs() {
		t := d.test(p)
		d.m.Tests = append(d.m.Tests, t)
		for _, l := range append([]string{t.Label}, t.Also...) {
			k := squeeze(l)
			if o := d.m.byLabel[k]; o != nil {
				p.Complain(fmt.Sprintf("two tests are called %q", l), "each printed label once", "also at line "+o.Place.Inside(), "if one label means two tests, give one of them another name and name it in the column with test:")
				continue
			}
			d.m.byLabel[k] = t
		}
	}
}

// selfUnit are the analytes whose number has no unit on most reports.
var selfUnit = map[string]string{"pH": "pH", "buffer_pH": "pH", "texture": "class"}

func (d *decoder) test(p strict.Pair) *Test {
	n := p.Value
	t := &Test{Label: p.Key, Place: p.KeyAt}
	analyte := p.Key
	if v := n.Get("analyte"); v.Has() {
		analyte = v.Text()
	}
	id, ok := d.vocab.Resolve(AnalyteWord, analyte)
	if !ok {
		d.unknown(n, AnalyteWord, analyte)
	}
	t.Analyte = id
	t.Also = n.Get("also").Texts()
	t.Detail = n.Get("detail").Text()
	if v := n.Get("method"); v.Has() {
		id, ok := d.vocab.Resolve(MethodWord, v.Text())
		if !ok {
			d.unknown(v, MethodWord, v.Text())
		}
		t.Method, t.MethodRule = id, v.Place()
	}
	if v := n.Get("basis"); v.Has() {
		id, ok := d.vocab.Resolve(BasisWord, v.Text())
		if !ok {
			d.unknown(v, BasisWord, v.Text())
		}
		t.Basis = id
	}
	if v := n.Get("published scale"); v.Has() {
		id, ok := d.vocab.Resolve(ScaleWord, v.Text())
		if !ok {
			d.unknown(v, ScaleWord, v.Text())
		}
		t.Published = id
	}
	for _, w := range n.Get("method words").Pairs() {
		id, ok := d.vocab.Resolve(MethodWord, w.Value.Text())
		if !ok {
			d.unknown(w.Value, MethodWord, w.Value.Text())
		}
		if t.Methods == nil {
			t.Methods = map[string]string{}
		}
		t.Methods[normalise(w.Key)] = id
	}
	t.MayLack = n.Get("unit may be absent").Bool()
	t.PerVolume = n.Get("by volume").Bool()
	t.InWords = n.Get("in words").Bool() || t.Analyte == "texture"
	units, stated := n.Get("unit"), n.Get("unit not printed")
	if units.Has() && stated.Has() {
		n.Complain("a unit is either printed or not", "unit or unit not printed", "both", "keep unit if the report prints it")
	}
	for _, u := range append(units.Items(), stated.Items()...) {
		text := u.Text()
		if _, ok := d.unit(text); !ok {
			d.unknown(u, UnitWord, text)
		}
		t.Units = append(t.Units, text)
	}
	t.Unprinted = stated.Has()
	d.expressed(t, t.Label, !isUnit, p.Complain)
	for _, a := range n.Get("also").Items() {
		d.expressed(t, a.Text(), !isUnit, a.Complain)
	}
	for _, u := range append(units.Items(), stated.Items()...) {
		d.expressed(t, u.Text(), isUnit, u.Complain)
	}
	d.scale(t, n.Get("scale"))
	if len(t.Units) == 0 {
		t.Dimension = selfUnit[t.Analyte]
		if t.Dimension == "" && t.Basis == "index" {
			t.Dimension = "index"
		}
	}
	n.Done()
	return t
}

// unit gives the id of a printed unit, by the mapping's own list first.
func (d *decoder) unit(text string) (string, bool) { return d.m.unitID(text, d.vocab) }

func (m *Mapping) unitID(text string, vocab Vocabulary) (string, bool) {
	if u, ok := m.Units[normalise(text)]; ok {
		return u.ID, true
	}
	return vocab.Resolve(UnitWord, text)
}

func (d *decoder) example(n strict.Node) *Example {
	e := &Example{Place: n.Place()}
	e.File = d.need(n, "file", "the path of a report, from this file's folder")
	e.Sample = n.Get("sample").Text()
	e.Held = n.Get("held").Text()
	e.Count = n.Get("readings").Int()
	if v := n.Get("expect"); v.Has() {
		for _, p := range v.Pairs() {
			if !knownField(p.Key) && d.m.Test(p.Key) == nil {
				p.Complain(fmt.Sprintf("%q is neither a test of this mapping nor a field", p.Key), "a printed label, or one of "+joinFields(), p.Key, strict.DidYouMean(p.Key, d.m.labels()))
			}
			e.Reads = append(e.Reads, ExampleValue{What: p.Key, Want: p.Value.Text(), Place: p.KeyAt})
		}
	}
	if len(e.Reads) == 0 && e.Held == "" && e.Count == 0 {
		n.Complain("this example expects nothing", "expect: with values as printed, or readings: with their number, or held: with a reason's code", "none", "copy some values from the report")
	}
	n.Done()
	return e
}

func joinFields() string {
	var s []string
	for _, f := range fieldIDs {
		s = append(s, string(f))
	}
	return strings.Join(s, ", ")
}

// article is the kind of word with its article.
func article(kind WordKind) string {
	if kind == AnalyteWord {
		return "an " + string(kind)
	}
	return "a " + string(kind)
}
