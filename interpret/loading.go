package interpret

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"path"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// rawRules is the text of a file, and the rule set as it is written there,
// which is only ever copied.
type rawRules struct {
	name    string
	b       []byte
	written *RuleSet
}

// loading gathers the texts of all files before any rule set is built, since
// one may take parts of another.
type loading struct {
	raw        map[string]rawRules // by the id of the rule set
	overrides  map[string]rawRules // by the id of the rule set that is changed
	shared     map[string]rawRules // lists that all rule sets go by, by name of file
	products   *ProductList
	laws       *Laws
	sources    map[string]Source
	sourceless bool
	faults     []*ingest.Reason
}

// ids are those of the rule sets, the default one first.
func (l *loading) ids() []string {
	ids := keys(l.raw)
	sort.SliceStable(ids, func(i, j int) bool { return ids[i] == DefaultRuleSet && ids[j] != DefaultRuleSet })
	return ids
}

// gather reads the files of one file system. The first must have the
// bibliography; others may.
func (l *loading) gather(fsys fs.FS, first bool) {
	b, err := fs.ReadFile(fsys, SourcesFile)
	switch {
	case err == nil:
		m, faults := ReadSources(SourcesFile, b)
		for k, s := range m {
			l.sources[k] = s
		}
		l.faults = append(l.faults, faults...)
		l.sourceless = l.sourceless || len(faults) > 0
	case !errors.Is(err, fs.ErrNotExist):
		l.faults, l.sourceless = append(l.faults, ingest.AsReason(err)), true
	case first:
		l.faults = append(l.faults, ruleFault("sources-missing", ingest.Place{File: SourcesFile}, "the bibliography of the rule sets is missing", SourcesFile+" beside the rule sets", "no such file", "put "+SourcesFile+" into the folder of the rule sets"))
		l.sourceless = true
	}
	names, err := fs.Glob(fsys, "*.yaml")
	if err != nil {
		l.faults = append(l.faults, ingest.AsReason(err))
	}
	here := map[string]string{}
	for _, name := range names {
		if path.Base(name) == SourcesFile {
			continue
		}
		b, err := fs.ReadFile(fsys, name)
		if err != nil {
			l.faults = append(l.faults, ingest.AsReason(err))
			continue
		}
		if name == ProductsFile || name == LimitsFile {
			l.shared[name] = rawRules{name: name, b: b}
			continue
		}
		if strings.HasSuffix(name, overridesSuffix) {
			l.changes(rawRules{name: name, b: b}, here)
			continue
		}
		rs := &RuleSet{}
		if fl := decode(name, b, rs); len(fl) > 0 {
			l.faults = append(l.faults, fl...)
			continue
		}
		if other, ok := here[rs.ID]; ok {
			l.faults = append(l.faults, ruleFault("rule-set-twice", rs.Of("id"), "two rule sets carry the id "+quote(rs.ID), "one file for an id", other+" and "+name, "give one of them another id"))
			continue
		}
		here[rs.ID] = name
		l.raw[rs.ID] = rawRules{name, b, rs}
	}
}

// lists reads what all rule sets go by.
func (l *loading) lists() {
	var faults []*ingest.Reason
	if raw, ok := l.shared[ProductsFile]; ok {
		l.products, faults = readProducts(raw, l.sources)
		l.faults = append(l.faults, faults...)
	}
	if raw, ok := l.shared[LimitsFile]; ok {
		l.laws, faults = readLaws(raw, l.sources)
		l.faults = append(l.faults, faults...)
	}
}

// build makes a rule set of a text: what it takes from others, the checks,
// the examples, and then what the office overrides. The examples are those of
// the publication, so they are worked before the office's figures go in.
func (l *loading) build(raw rawRules) (*RuleSet, []*ingest.Reason) {
	rs := copied(raw.written)
	more, faults := l.take(rs)
	if len(faults) > 0 {
		return nil, faults
	}
	read := append([]rawRules{raw}, more...)
	for _, name := range keys(l.shared) {
		read = append(read, l.shared[name])
	}
	rs.Products, rs.Laws = l.products, l.laws
	rs.File, rs.Sources, rs.SHA256 = raw.name, l.sources, hashOf(read)
	rs.inherit()
	rs.keepPossible()
	if faults := rs.check(); len(faults) > 0 {
		return nil, faults
	}
	if faults := rs.runExamples(); len(faults) > 0 {
		return nil, faults
	}
	o, ok := l.overrides[rs.ID]
	if !ok {
		return rs, nil
	}
	if faults := rs.override(o); len(faults) > 0 {
		return nil, faults
	}
	rs.SHA256 = hashOf(append(read, o))
	if faults := rs.check(); len(faults) > 0 {
		return nil, faults
	}
	return rs, nil
}

func (rs *RuleSet) check() []*ingest.Reason {
	c := &checker{rs: rs}
	c.all()
	return c.faults
}

// hashOf is the SHA-256 of a file's bytes, or of several in order.
func hashOf(read []rawRules) string {
	h := sha256.New()
	for _, r := range read {
		h.Write(r.b)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// whole checks that a rule set has the parts that no rule set can do without,
// its own or taken.
func (c *checker) whole() {
	rs := c.rs
	for _, p := range []struct {
		key  string
		have bool
	}{{"land_uses", len(rs.LandUses) > 0}, {"ratings", len(rs.Ratings) > 0}, {"retest", rs.Retest.ID != ""}, {"lime", rs.Lime.AskBuffers != ""}, {"lead", len(rs.Lead.Tiers) > 0}, {"cautions", len(rs.Cautions) > 0},
		{"ph", len(rs.PH) > 0 || rs.AskPH != ""}, {"nutrients", len(rs.Nutrients) > 0 || rs.NoRate != nil}} {
		if !p.have {
			c.fault("missing-key", rs.At, "the rule set lacks the key "+quote(p.key), p.key, "no such line", "add the key "+quote(p.key)+", or take the part from another rule set under takes")
		}
	}
	if i := slices.IndexFunc(rs.PH, func(p PHTarget) bool { return p.High == "" && p.Target == "" }); i >= 0 {
		c.fault("missing-key", rs.PH[i].At, "the pH "+quote(rs.PH[i].ID)+" has neither a target nor a range", "target, or low and high", "low alone", "")
	}
}
