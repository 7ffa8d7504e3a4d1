package estimate

import (
	"fmt"
	"io/fs"
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/normalize/internal/table"
)

// A Scale is a published scale of index or rating: its classes with what each
// stands for, or a factor where the index is in proportion to an amount.
type Scale struct {
	ID         string // as a mapping names it
	Row        string // id in the published table that the tests compare with
	Title      string
	Analyte    string
	Methods    []string // that the scale is calibrated for
	Unit       string   // of amounts: mg/kg, mg/dm3, lb/acre to 6 2/3 in, %, dS/m, pH
	Classes    []Class  // from the lowest; empty for a scale with a factor
	Factor     *big.Rat // amount = factor x index; nil for a scale of classes
	Source     string
	Provenance string
	Active     bool
	Inactive   string
	Note       string
}

// A Class is one class of a scale.
type Class struct {
	Index string   // as the publication writes it
	Words []string // what else it is written as
	Low   string   // least amount, decimal digits
	High  string   // most; "" for no limit
	// Above and Below say that Low or High itself is in the next class.
	Above, Below bool

	low, high *big.Rat
}

func (c *Class) holds(v *big.Rat) bool {
	if d := v.Cmp(c.low); d < 0 || c.Above && d == 0 {
		return false
	}
	if c.high == nil {
		return true
	}
	d := v.Cmp(c.high)
	return d < 0 || d == 0 && !c.Below
}

// Scale is the scale with an id.
func (t *Table) Scale(id string) (*Scale, bool) {
	i := slices.IndexFunc(t.Scales, func(s *Scale) bool { return s.ID == id })
	if i < 0 {
		return nil, false
	}
	return t.Scales[i], true
}

// IndexOf is the class that an amount in the scale's unit lies in. Where it
// lies in none, why says so: between two classes, whose bounds are printed to
// fewer digits, or beyond what of the scale is known.
func (s *Scale) IndexOf(amount *big.Rat) (c *Class, why string) {
	for i := range s.Classes {
		if s.Classes[i].holds(amount) {
			return &s.Classes[i], ""
		}
	}
	for i := 1; i < len(s.Classes); i++ {
		if amount.Cmp(s.Classes[i-1].low) > 0 && amount.Cmp(s.Classes[i].low) < 0 {
			return nil, fmt.Sprintf("the amount lies between the bounds of class %s and class %s, and how to round is not published", s.Classes[i-1].Index, s.Classes[i].Index)
		}
	}
	return nil, "the amount lies beyond the classes of the scale that are known"
}

// ClassOf is the class with an index as a laboratory prints it.
func (s *Scale) ClassOf(index string) (*Class, bool) {
	index = strings.TrimSpace(index)
	for i := range s.Classes {
		c := &s.Classes[i]
		if c.Index == index || slices.ContainsFunc(append([]string{c.Index}, c.Words...), func(w string) bool { return strings.EqualFold(w, index) }) {
			return c, true
		}
	}
	return nil, false
}

// Calibrated reports whether the scale is meant for an analyte by a method.
func (s *Scale) Calibrated(analyte, methodID string) bool {
	return s.Analyte == analyte && slices.Contains(s.Methods, methodID)
}

var scaleUnits = []string{"mg/kg", "mg/dm3", "lb/acre", "%", "dS/m", "pH"}

func (t *Table) loadScales(fsys fs.FS, known Known) error {
	return table.Rows(fsys, "scales.csv", func(where string, c map[string]string) error {
		bad := func(f string, a ...any) error { return fmt.Errorf("%s: "+f, append([]any{where}, a...)...) }
		s := &Scale{ID: c["scale"], Row: c["id"], Title: c["title"], Analyte: c["analyte"], Methods: strings.Fields(c["methods"]), Unit: c["unit"], Source: c["source"],
			Provenance: c["provenance"], Active: c["active"] == "yes", Inactive: c["inactive"], Note: c["note"]}
		old, again := t.Scale(s.ID)
		if again {
			if old.Analyte != s.Analyte || old.Unit != s.Unit || old.Active != s.Active || old.Factor != nil {
				return bad("the rows of scale %q do not agree", s.ID)
			}
			s = old
		}
		switch {
		case s.ID == "" || s.Title == "" || len(s.Methods) == 0:
			return bad("a scale needs a name, a title and methods")
		case !known.Source(c["source"]):
			return bad("source %q is not in the bibliography", c["source"])
		case !known.Analyte(s.Analyte):
			return bad("unknown analyte %q", s.Analyte)
		case !slices.Contains(scaleUnits, s.Unit):
			return bad("no scale is in %q", s.Unit)
		case !slices.Contains(provenances, c["provenance"]):
			return bad("unknown provenance %q", c["provenance"])
		case s.Active && c["provenance"] != seen && c["provenance"] != computed:
			return bad("the scale is active with the provenance %q: only what was read or computed may be", c["provenance"])
		case s.Active == (s.Inactive != ""):
			return bad("a scale is active, or says why it is not")
		}
		for _, m := range s.Methods {
			if !known.Method(m, s.Analyte) {
				return bad("method %q is not known for %s", m, s.Analyte)
			}
		}
		if !again {
			t.Scales = append(t.Scales, s)
		}
		if c["factor"] != "" {
			f, ok := new(big.Rat).SetString(c["factor"])
			if !ok || f.Sign() <= 0 || again || c["index"] != "" {
				return bad("factor %q", c["factor"])
			}
			s.Factor = f
			return nil
		}
		k, err := parseClass(c["index"], c["low"], c["high"])
		if err == nil && len(s.Classes) > 0 {
			last := &s.Classes[len(s.Classes)-1]
			if last.high == nil || k.low.Cmp(last.high) < 0 || k.low.Cmp(last.high) == 0 && !k.Above && !last.Below {
				err = fmt.Errorf("class %q does not lie above class %q", k.Index, last.Index)
			}
		}
		if err != nil {
			return bad("%w", err)
		}
		s.Classes = append(s.Classes, k)
		return nil
	})
}

func parseClass(index, low, high string) (Class, error) {
	words := table.Split(index)
	if len(words) == 0 {
		return Class{}, fmt.Errorf("a class without an index")
	}
	k := Class{Index: words[0], Words: words[1:]}
	k.Low, k.Above = strings.CutPrefix(low, ">")
	k.High, k.Below = strings.CutPrefix(high, "<")
	var ok bool
	if k.low, ok = new(big.Rat).SetString(k.Low); !ok {
		return k, fmt.Errorf("class %q: %q is no bound", k.Index, low)
	}
	if k.High == "" {
		return k, nil
	}
	if k.high, ok = new(big.Rat).SetString(k.High); !ok || k.high.Cmp(k.low) <= 0 {
		return k, fmt.Errorf("class %q: %q to %q", k.Index, low, high)
	}
	return k, nil
}
