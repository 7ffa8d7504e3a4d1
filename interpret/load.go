package interpret

import (
	"io/fs"
	"reflect"
	"slices"
	"sort"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// RulesFormat is the version of the rule language that this code reads.
const RulesFormat = "windrow-rules/1"

// SourcesFile is the bibliography beside the rule sets.
const SourcesFile = "sources.yaml"

// DefaultRuleSet is the id of the rule set that advice is given by where the
// settings name none.
const DefaultRuleSet = "mehlich-3-home"

// LoadRules reads the rule sets at the root of one or more file systems: every
// .yaml file but SourcesFile, which is the bibliography, and files of
// overrides, and the lists ProductsFile and LimitsFile. What a later file system holds goes before what an earlier one
// does: a rule set of the same id, a source of the same key. A file with a
// fault gives no rule set; its faults are in the second result, each with
// file, line and column. A rule set whose own examples come out otherwise than
// they say is refused too. The default rule set comes first, the others follow
// sorted by id. The same files give the same result.
func LoadRules(from ...fs.FS) ([]*RuleSet, []*ingest.Reason) {
	l := &loading{raw: map[string]rawRules{}, sources: map[string]Source{}, overrides: map[string]rawRules{}, shared: map[string]rawRules{}}
	for i, fsys := range from {
		l.gather(fsys, i == 0)
	}
	if l.sourceless {
		return nil, l.faults
	}
	l.lists()
	var out []*RuleSet
	for _, id := range l.ids() {
		rs, fl := l.build(l.raw[id])
		l.faults = append(l.faults, fl...)
		if rs != nil {
			out = append(out, rs)
		}
	}
	return out, l.faults
}

// ReadSources reads a bibliography.
func ReadSources(name string, b []byte) (map[string]Source, []*ingest.Reason) {
	var file struct {
		Sources []Source `yaml:"sources" rule:"required"`
	}
	faults := decode(name, b, &file)
	m := map[string]Source{}
	for _, s := range file.Sources {
		if _, twice := m[s.Key]; twice {
			faults = append(faults, ruleFault("key-twice", s.Of("key"), "two sources carry the key "+quote(s.Key), "one source for a key", "two", "remove one of them"))
		}
		m[s.Key] = s
	}
	return m, faults
}

// ReadRules reads and checks one rule set that takes nothing from others. It
// gives either a rule set or faults.
func ReadRules(name string, b []byte, sources map[string]Source) (*RuleSet, []*ingest.Reason) {
	rs := &RuleSet{}
	if faults := decode(name, b, rs); len(faults) > 0 {
		return nil, faults
	}
	l := &loading{raw: map[string]rawRules{}, sources: sources}
	return l.build(rawRules{name, b, rs})
}

func ruleFault(code string, at ingest.Place, what, expected, found, next string) *ingest.Reason {
	return &ingest.Reason{Code: code, Severity: ingest.Fail, Rule: at, What: what, Expected: expected, Found: found, Next: next}
}

// inherit gives rows without a source or provenance those of their table.
func (rs *RuleSet) inherit() {
	for i := range rs.Ratings {
		t := &rs.Ratings[i]
		for j := range t.Classes {
			c := &t.Classes[j]
			if c.Source == "" {
				c.Source = t.Source
			}
			if c.Provenance == "" {
				c.Provenance = t.Provenance
			}
		}
	}
	for i := range rs.Nutrients {
		t := &rs.Nutrients[i]
		for j := range t.Rows {
			r := &t.Rows[j]
			if r.Source == "" {
				r.Source = t.Source
			}
			if r.Provenance == "" {
				r.Provenance = t.Provenance
			}
		}
	}
	for i := range rs.Plants {
		t := &rs.Plants[i]
		for j := range t.Rows {
			r := &t.Rows[j]
			if r.Source == "" {
				r.Source = t.Source
			}
			if r.Provenance == "" {
				r.Provenance = t.Provenance
			}
		}
	}
}

// checker looks for what a well-formed file can still get wrong.
type checker struct {
	rs     *RuleSet
	faults []*ingest.Reason
	ids    map[string]ingest.Place
	uses   []string
}

func (c *checker) fault(code string, at ingest.Place, what, expected, found, next string) {
	c.faults = append(c.faults, ruleFault(code, at, what, expected, found, next))
}

// oneOf refuses a word that is not known, and offers the nearest that is.
func (c *checker) oneOf(kind string, at ingest.Place, word string, known []string) {
	if slices.Contains(known, word) {
		return
	}
	c.fault("unknown-"+kind, at, "there is no "+kind+" "+quote(word), "", word, didYouMean(word, known))
}

func (c *checker) all() {
	rs := c.rs
	if rs.Format != RulesFormat {
		c.fault("wrong-format", rs.Of("rules"), "this is not a rule set that this version can read", RulesFormat, rs.Format, "")
	}
	for _, p := range rs.Publications {
		c.source(rs.Of("publications"), p)
	}
	c.date(rs.InForce.Of("from"), rs.InForce.From)
	if rs.InForce.Until != "" {
		c.date(rs.InForce.Of("until"), rs.InForce.Until)
	}
	owner := map[string]string{}
	for _, u := range rs.LandUses {
		c.uses = append(c.uses, u.ID)
		for _, w := range append([]string{u.Name}, u.Covers...) {
			if o, ok := owner[fold(w)]; ok && o != u.ID {
				c.fault("land-use-twice", u.Of("covers"), quote(w)+" is covered by two land uses", "one", o+" and "+u.ID, "take it out of one of them")
			}
			owner[fold(w)] = u.ID
		}
	}
	c.whole()
	c.ids = map[string]ingest.Place{}
	rs.Rows = map[Provenance]int{}
	c.walk(reflect.ValueOf(*rs))
	c.ratings()
	c.ph()
	c.lime()
	c.sulfur()
	c.nutrients()
	c.plants()
	c.lead()
	c.metals()
	c.watch()
	for i := range rs.Cautions {
		for _, w := range rs.Cautions[i].When {
			c.oneOf("occasion", rs.Cautions[i].Of("when"), w, occasions)
		}
	}
}

// walk visits every row that has an id: its source must resolve, its
// provenance must be one of ours, its id must be its own, and its land uses
// must exist. It counts the rows by provenance.
func (c *checker) walk(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			c.walk(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			c.walk(v.Index(i))
		}
	case reflect.Struct:
		t := v.Type()
		if t == reflect.TypeOf(Spot{}) || t == reflect.TypeOf(Example{}) {
			return
		}
		spot, _ := fieldOf(v, "Spot").(Spot)
		if src, ok := fieldOf(v, "Source").(string); ok && fieldOf(v, "ID") != nil {
			c.row(v, spot, src)
		}
		if uses, ok := fieldOf(v, "For").([]string); ok {
			for _, u := range uses {
				c.oneOf("land-use", spot.Of("for"), u, c.uses)
			}
		}
		for i := range v.NumField() {
			if t.Field(i).Tag.Get("yaml") != "" {
				c.walk(v.Field(i))
			}
		}
	}
}

func (c *checker) row(v reflect.Value, spot Spot, src string) {
	id, _ := fieldOf(v, "ID").(string)
	prov, _ := fieldOf(v, "Provenance").(Provenance)
	if at, twice := c.ids[id]; twice {
		c.fault("row-twice", spot.Of("id"), "two rows carry the id "+quote(id), "one row for an id", "the other stands at "+at.String(), "give one of them another id")
	}
	c.ids[id] = spot.At
	// A table whose rows carry their own sources needs none itself.
	if rows := v.FieldByName("Classes"); rows.IsValid() && src == "" {
		return
	}
	if v.Type() == reflect.TypeOf(NutrientTable{}) && src == "" {
		return
	}
	if src == "" {
		c.fault("no-source", spot.At, "the row "+quote(id)+" has no source", "a key of "+SourcesFile, "none", "say where the figure was read; if it has no publication, use the source trade and the provenance common-practice")
	} else {
		c.source(spot.Of("source"), src)
	}
	if prov == "" {
		c.fault("no-provenance", spot.At, "the row "+quote(id)+" does not say what its figure rests on", "", "none", "add provenance: "+provenanceList())
	} else if !slices.Contains(Provenances, prov) {
		c.oneOf("provenance", spot.Of("provenance"), string(prov), strings.Split(provenanceList(), ", "))
	}
	switch v.Type() {
	case reflect.TypeOf(RatingTable{}), reflect.TypeOf(NutrientTable{}), reflect.TypeOf(PlantTable{}):
		// counted by their rows
	default:
		c.rs.Rows[prov]++
	}
}

func provenanceList() string {
	var s []string
	for _, p := range Provenances {
		s = append(s, string(p))
	}
	return strings.Join(s, ", ")
}

func fieldOf(v reflect.Value, name string) any {
	f := v.FieldByName(name)
	if !f.IsValid() {
		return nil
	}
	return f.Interface()
}

func (c *checker) source(at ingest.Place, key string) {
	if _, ok := c.rs.Sources[key]; ok {
		return
	}
	var known []string
	for k := range c.rs.Sources {
		known = append(known, k)
	}
	sort.Strings(known)
	next := "add the source to " + SourcesFile
	if near := strict.Nearest(key, known, 1); len(near) > 0 {
		next = "did you mean " + quote(near[0]) + "? Otherwise " + next
	}
	c.fault("unknown-source", at, "there is no source "+quote(key)+" in "+SourcesFile, "", key, next)
}

func (c *checker) date(at ingest.Place, s string) {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		c.fault("not-a-date", at, "a date in a rule set is written year, month, day", "2026-03-31", s, "")
	}
}
