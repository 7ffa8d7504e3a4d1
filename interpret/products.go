package interpret

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// ProductsFormat is the version of the language of product lists.
const ProductsFormat = "windrow-products/1"

// ProductsFile is the list of what can be bought, beside the rule sets. An
// office that has a file of this name among its rules is advised from that
// one alone.
const ProductsFile = "products.yaml"

// A ProductList is the fertilizers and limestones that amounts are told in.
// They are kinds by their label, never brands.
type ProductList struct {
	Spot
	Format      string       `yaml:"products" rule:"required"` // windrow-products/1
	Prefer      string       `yaml:"prefer" rule:"required"`   // conventional or organic: what plans are made of
	NearEnough  *NearEnough  `yaml:"near_enough" rule:"required"`
	Fertilizers []Fertilizer `yaml:"fertilizers" rule:"required"`
	Limestones  []Limestone  `yaml:"limestones"`
}

// A NearEnough is the share of a nutrient's rate, in percent, from which a
// simpler choice of products is taken before a closer one of more products.
type NearEnough struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Percent    Num        `yaml:"percent" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Fertilizer is one kind, by the numbers on its label: percent of nitrogen,
// phosphate and potash.
type Fertilizer struct {
	Spot
	ID          string       `yaml:"id" rule:"required"`
	Name        string       `yaml:"name" rule:"required"`
	Grade       Grade        `yaml:"grade" rule:"required"` // such as 15.5-0-0
	Organic     bool         `yaml:"organic"`
	SlowPercent Num          `yaml:"slow_percent"` // of its nitrogen that is released slowly
	FirstSeason *FirstSeason `yaml:"first_season"` // of an organic source
	NotOn       []string     `yaml:"not_on"`       // kinds of land use it is not for: turf, food, beds
	BagLb       Num          `yaml:"bag_lb"`       // weight of a bag
	Price       Num          `yaml:"price"`        // of a bag; compared only where every product has one
	Cup         *Density     `yaml:"cup"`          // weight of a cup, where cups are customary
	Source      string       `yaml:"source" rule:"required"`
	Provenance  Provenance   `yaml:"provenance" rule:"required"`
}

// A FirstSeason is the share of an organic source's nitrogen, in percent, that
// plants can use in the season it is given.
type FirstSeason struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Percent    Num        `yaml:"percent" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Limestone is one liming material: by the ECCE of its label, or by its
// calcium carbonate equivalent (CCE) and fineness, or by its CCE alone.
type Limestone struct {
	Spot
	ID        string  `yaml:"id" rule:"required"`
	Name      string  `yaml:"name" rule:"required"`
	Magnesium bool    `yaml:"magnesium"`
	CCE       Num     `yaml:"cce_percent"`
	ECCE      Num     `yaml:"ecce_percent"`
	Fineness  []Sieve `yaml:"fineness"`
	// Moisture is the share of water, in percent of the weight that is spread;
	// "" for none. An ECCE as a label prints it mostly has it in already.
	Moisture   Num        `yaml:"moisture_percent"`
	BagLb      Num        `yaml:"bag_lb"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Sieve is one fraction of a limestone by size: its share in percent of the
// weight, and how much of it counts.
type Sieve struct {
	Spot
	Size    string `yaml:"size" rule:"required"` // in words, such as 8 to 60 mesh
	Percent Num    `yaml:"percent" rule:"required"`
	Counts  Num    `yaml:"counts" rule:"required"` // 0 to 1
}

// Effective is the effective calcium carbonate equivalent in percent, by which
// an amount of pure lime is divided. A label's ECCE counts alone: it holds the
// purity already, and nothing is corrected for twice. Else it is the CCE times
// the [Limestone.Fine] share times the share that is no water: the way of Rayment
// and Lyons 2011, method 16A1.
func (l *Limestone) Effective() *big.Rat {
	if l.ECCE != "" {
		return l.ECCE.rat()
	}
	e := quo(mul(l.CCE.rat(), l.Fine()), rat(100, 1))
	if l.Moisture != "" {
		e = quo(mul(e, sub(rat(100, 1), l.Moisture.rat())), rat(100, 1))
	}
	return e
}

// Fine is the efficiency of a limestone by its fineness, in percent: the sum of
// its fractions, each by how much of it counts, and 100 where none are given.
// What a fraction counts for is for the scheme of the place to say.
func (l *Limestone) Fine() *big.Rat {
	if len(l.Fineness) == 0 {
		return rat(100, 1)
	}
	sum := new(big.Rat)
	for i := range l.Fineness {
		sum.Add(sum, mul(l.Fineness[i].Percent.rat(), l.Fineness[i].Counts.rat()))
	}
	return sum
}

// A Grade is the three numbers of a fertilizer's label with hyphens between.
type Grade string

func (g Grade) parts() (out [3]*big.Rat, ok bool) {
	p := strings.Split(string(g), "-")
	if len(p) != 3 {
		return out, false
	}
	sum := new(big.Rat)
	for i, s := range p {
		r, good := parseNum(s)
		if !good || r.Sign() < 0 || strings.Contains(s, "/") {
			return out, false
		}
		out[i] = r
		sum.Add(sum, r)
	}
	return out, sum.Sign() > 0 && sum.Cmp(rat(100, 1)) <= 0
}

// What plans are made of.
const (
	preferOrganic      = "organic"
	preferConventional = "conventional"
)

// readProducts reads a list of products; its rows count for the rule set that
// it is given to.
func readProducts(raw rawRules, sources map[string]Source) (*ProductList, []*ingest.Reason) {
	p := &ProductList{}
	if faults := decode(raw.name, raw.b, p); len(faults) > 0 {
		return nil, faults
	}
	c := &checker{rs: &RuleSet{Sources: sources, Rows: map[Provenance]int{}}, ids: map[string]ingest.Place{}}
	if p.Format != ProductsFormat {
		c.fault("wrong-format", p.Of("products"), "this is not a list of products that this version can read", ProductsFormat, p.Format, "")
	}
	c.oneOf("preference", p.Of("prefer"), p.Prefer, []string{preferConventional, preferOrganic})
	c.percent(p.NearEnough.Of("percent"), "the share that is near enough", p.NearEnough.Percent)
	c.row2(p.NearEnough.Spot, p.NearEnough.ID, p.NearEnough.Source, p.NearEnough.Provenance)
	for i := range p.Fertilizers {
		f := &p.Fertilizers[i]
		c.row2(f.Spot, f.ID, f.Source, f.Provenance)
		if _, ok := f.Grade.parts(); !ok {
			c.fault("not-a-grade", f.Of("grade"), quote(string(f.Grade))+" is no grade of a fertilizer", "three numbers with hyphens between, together at most 100, such as 10-10-10", string(f.Grade), "copy them from the label: nitrogen, phosphate, potash")
		}
		for _, n := range f.NotOn {
			c.oneOf("kind of land use", f.Of("not_on"), n, grounds)
		}
		if f.SlowPercent != "" {
			c.percent(f.Of("slow_percent"), "the slow share", f.SlowPercent)
		}
		if s := f.FirstSeason; s != nil {
			c.percent(s.Of("percent"), "the share of the first season", s.Percent)
			c.row2(s.Spot, s.ID, s.Source, s.Provenance)
		}
		if d := f.Cup; d != nil {
			c.row2(d.Spot, d.ID, d.Source, d.Provenance)
			c.above(d.Of("lb_per_cup"), d.LbPerCup)
		}
		for _, n := range []struct {
			key string
			v   Num
		}{{"bag_lb", f.BagLb}, {"price", f.Price}} {
			if n.v != "" {
				c.above(f.Of(n.key), n.v)
			}
		}
	}
	for i := range p.Limestones {
		l := &p.Limestones[i]
		c.row2(l.Spot, l.ID, l.Source, l.Provenance)
		if l.CCE == "" && l.ECCE == "" || l.ECCE != "" && len(l.Fineness) > 0 {
			c.fault("limestone-unclear", l.At, "a limestone is told by its ECCE, or by its CCE with or without its fineness", "ecce_percent alone, or cce_percent", "", "copy what the label prints")
			continue
		}
		if m := l.Moisture; m != "" && (m.rat().Sign() < 0 || m.rat().Cmp(rat(50, 1)) > 0) {
			c.fault("limestone-unclear", l.Of("moisture_percent"), "no limestone that is spread holds so much water", "0 to 50 percent of the weight", string(m), "")
		} else if m != "" && l.ECCE != "" {
			c.fault("limestone-unclear", l.Of("moisture_percent"), "an ECCE is of the product as it is sold, and the water would be taken off twice", "ecce_percent without moisture_percent", string(m), "take the moisture away, or tell the limestone by its cce_percent")
		}
		sum := new(big.Rat)
		for j := range l.Fineness {
			s := &l.Fineness[j]
			sum.Add(sum, s.Percent.rat())
			if s.Counts.rat().Sign() < 0 || s.Counts.rat().Cmp(rat(1, 1)) > 0 {
				c.fault("limestone-unclear", s.Of("counts"), "a fraction counts between not at all and in full", "0 to 1", string(s.Counts), "")
			}
		}
		if len(l.Fineness) > 0 && sum.Cmp(rat(100, 1)) != 0 {
			c.fault("limestone-unclear", l.Of("fineness"), "the fractions of a limestone are not the whole of it", "100 percent together", plain(sum, 3), "")
		} else if e := l.Effective(); e.Cmp(rat(10, 1)) < 0 || e.Cmp(rat(150, 1)) > 0 {
			c.fault("limestone-unclear", l.At, "no limestone has such an effective calcium carbonate equivalent", "10 to 150 percent", plain(e, 3), "")
		}
	}
	if len(c.faults) > 0 {
		return nil, c.faults
	}
	return p, nil
}

// grounds are the kinds of land use that a product may be unfit for.
var grounds = []string{"turf", "food", "beds"}

// fitFor reports whether a fertilizer may be used on a land use.
func (f *Fertilizer) fitFor(u UseRef) bool {
	switch {
	case u.Turf:
		return !slices.Contains(f.NotOn, "turf")
	case u.Food:
		return !slices.Contains(f.NotOn, "food")
	}
	return !slices.Contains(f.NotOn, "beds")
}

// row2 checks a row outside a rule set: its own id, a known source, one of our
// provenances.
func (c *checker) row2(spot Spot, id, src string, prov Provenance) {
	if at, twice := c.ids[id]; twice {
		c.fault("row-twice", spot.Of("id"), "two rows carry the id "+quote(id), "one row for an id", "the other stands at "+at.String(), "give one of them another id")
	}
	c.ids[id] = spot.At
	c.source(spot.Of("source"), src)
	if !slices.Contains(Provenances, prov) {
		c.oneOf("provenance", spot.Of("provenance"), string(prov), strings.Split(provenanceList(), ", "))
	}
}

func (c *checker) percent(at ingest.Place, what string, n Num) {
	if n.rat().Sign() <= 0 || n.rat().Cmp(rat(100, 1)) > 0 {
		c.fault("not-a-percent", at, what+" is between 0 and 100 percent", "", string(n), "")
	}
}

func (c *checker) above(at ingest.Place, n Num) {
	if n.rat().Sign() <= 0 {
		c.fault("not-above-nothing", at, "the figure must be above 0", "", string(n), "")
	}
}
