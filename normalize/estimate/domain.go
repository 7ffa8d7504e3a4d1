package estimate

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// A Standing is where a sample lies as to the domain of an equation.
type Standing string

// The standings.
const (
	Inside  Standing = "inside"
	Outside Standing = "outside"
	Unknown Standing = "unknown"
)

// A Condition is one part of the domain of an equation.
type Condition struct {
	What string // x, y, an analyte, "texture", "land" or "other"
	// Low and High bound a number; Open bounds are not themselves inside. A
	// nil one does not bound.
	Low, High         *float64
	OpenLow, OpenHigh bool
	Word              string // of texture or land; the words of "other"
	NotBelowX         bool   // y may not be less than x
	Only              bool   // says whom the equation is for: elsewhere it is not asked at all
	text              string
}

// String is the condition in words.
func (c Condition) String() string { return c.text }

// quantities are what a condition may bound besides x and y, with the unit.
var quantities = map[string]string{"pH": "pH in water", "clay": "clay (%)", "CEC": "CEC (cmol(+)/kg)", "SAR": "sodium adsorption ratio", "ESP": "exchangeable sodium percentage"}

func parseDomain(cell string) ([]Condition, error) {
	var out []Condition
	for _, s := range conditions(cell) {
		c, err := parseCondition(s)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

func conditions(cell string) []string {
	var out []string
	for _, s := range strings.Split(cell, ";") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func parseCondition(s string) (Condition, error) {
	s, only := strings.CutPrefix(s, "only ")
	c := Condition{text: s, Only: only}
	if word, ok := strings.CutPrefix(s, "other: "); ok {
		c.What, c.Word, c.text = "other", word, word
		if c.Only {
			return c, fmt.Errorf("domain: %q can never be tested", s)
		}
		return c, nil
	}
	f := strings.Fields(s)
	bad := fmt.Errorf("domain: %q is no condition", s)
	if len(f) < 2 {
		return c, bad
	}
	c.What = f[0]
	switch f[0] {
	case "texture", "land":
		c.Word = strings.Join(f[1:], " ")
		if f[0] == "texture" && textures[c.Word] == nil || f[0] == "land" && lands[c.Word] == nil {
			return c, fmt.Errorf("domain: no soil or land is called %q", c.Word)
		}
		c.text = "a " + c.Word + " soil"
		if f[0] == "land" {
			c.text = "land that is " + c.Word
		}
		return c, nil
	case "x", "y":
	default:
		if quantities[f[0]] == "" {
			return c, bad
		}
	}
	number := func(t string) *float64 {
		v, err := strconv.ParseFloat(t, 64)
		if err != nil {
			return nil
		}
		return &v
	}
	switch {
	case len(f) == 2:
		lo, hi, ok := strings.Cut(f[1], "..")
		c.Low, c.High = number(lo), number(hi)
		if !ok || c.Low == nil || c.High == nil || *c.Low >= *c.High {
			return c, bad
		}
		c.text = f[0] + " from " + lo + " to " + hi
	case len(f) == 3 && (f[1] == "<" || f[1] == "<="):
		c.High, c.OpenHigh = number(f[2]), f[1] == "<"
		if c.High == nil {
			return c, bad
		}
	case s == "y >= x":
		c.NotBelowX, c.text = true, "the outcome not below the number converted"
	case len(f) == 3 && (f[1] == ">" || f[1] == ">="):
		c.Low, c.OpenLow = number(f[2]), f[1] == ">"
		if c.Low == nil {
			return c, bad
		}
	default:
		return c, bad
	}
	return c, nil
}

func (c Condition) holds(v float64) bool {
	if c.Low != nil && (v < *c.Low || c.OpenLow && v == *c.Low) {
		return false
	}
	return c.High == nil || v < *c.High || v == *c.High && !c.OpenHigh
}

// textures are the classes of soil that a word of texture holds, and those
// that may lie in it. Groups by the USDA Soil Survey Manual, from memory,
// unverified: the sandy loam between coarse and medium and the loams between
// medium and fine belong to neither, so that which equation is theirs stays
// unknown.
var textures = map[string]*struct{ holds, perhaps []string }{
	"coarse": {[]string{"sand", "loamy sand"}, []string{"sandy loam"}},
	"medium": {[]string{"loam", "silt loam", "silt"}, []string{"sandy loam", "clay loam", "sandy clay loam", "silty clay loam"}},
	"fine":   {[]string{"clay", "sandy clay", "silty clay"}, []string{"clay loam", "sandy clay loam", "silty clay loam"}},
	"sandy":  {[]string{"sand", "loamy sand"}, nil},
	"loamy":  {[]string{"sandy loam", "loam", "silt loam", "silt", "clay loam", "sandy clay loam", "silty clay loam"}, nil},
}

// classes are all twelve classes of texture.
var classes = func() []string {
	var out []string
	for _, g := range []string{"sandy", "loamy", "fine"} {
		out = append(out, textures[g].holds...)
	}
	return out
}()

// lands are the uses of land, in our words, that a word of a domain holds.
var lands = map[string][]string{"turf": {"lawn", "new lawn", "turf"}}

// test is where a sample lies as to one condition; found says what was found
// where it lies outside, or why it is not known.
func (c *Condition) test(x, y float64, s *Sample) (st Standing, found string) {
	switch c.What {
	case "x":
		if !c.holds(x) {
			return Outside, "the number converted is " + plain(x)
		}
	case "y":
		switch {
		case c.NotBelowX && y < x:
			return Outside, "the outcome is " + plain(y) + " and the number converted " + plain(x)
		case !c.NotBelowX && !c.holds(y):
			return Outside, "the outcome is " + plain(y)
		}
	case "other":
		return Unknown, ""
	case "land":
		switch {
		case s.LandUse == "":
			return Unknown, "the report does not say what the land is used for"
		case !slices.Contains(lands[c.Word], s.LandUse):
			return Outside, "the land is a " + s.LandUse
		}
	case "texture":
		g := textures[c.Word]
		switch {
		case s.Texture == "" || !slices.Contains(classes, s.Texture):
			return Unknown, "the texture of the soil is not known"
		case slices.Contains(g.perhaps, s.Texture):
			return Unknown, "the soil is a " + s.Texture + ", which lies between"
		case !slices.Contains(g.holds, s.Texture):
			return Outside, "the soil is a " + s.Texture
		}
	default:
		return c.measured(s)
	}
	return Inside, ""
}

// measured tests a condition on what else was measured of the sample.
func (c *Condition) measured(s *Sample) (Standing, string) {
	n, in, first := 0, 0, ""
	for m := range s.all(c.What) {
		if n++; n == 1 {
			first = m.Text
		}
		if c.holds(m.Value) {
			in++
		}
	}
	switch {
	case n == 0:
		return Unknown, "the record has no " + quantities[c.What]
	case in == n:
		return Inside, ""
	case in > 0:
		return Unknown, "two results of " + c.What + " lie on both sides"
	}
	return Outside, c.What + " is " + first
}

// plain writes a number of a message with at most four digits.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
