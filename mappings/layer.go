package mappings

import (
	"errors"
	"math/big"

	"example.org/windrow/ingest"
)

// readDepth reads where the layer of a sample ends, or begins, into a field,
// and reports whether it could. A text that says both, such as 6-24 in, gives
// both fields.
func (r *reader) readDepth(f *Field, id FieldID, text, unit string, atoms []*atom, dst map[FieldID]Field) bool {
	read := parseDepth
	if id == DepthTop {
		read = parseTop
	}
	top, bottom, u, err := read(text, unit)
	if err != nil && len(atoms) == 1 && atoms[0].kind() == ingest.NumberCell && atoms[0].full() != "" {
		top, bottom, u, err = read(atoms[0].full(), unit)
	}
	if err != nil {
		expected := "a depth with its unit, such as 6 2/3 in, 0-15 cm or 6-24 in"
		if id == DepthTop {
			expected = "where the layer begins, with its unit, such as 0 in or 15 cm"
		}
		r.hold("depth-unreadable", f.Place, f.Rule, "the depth can't be read", expected, text+" ("+err.Error()+")", "if the unit is not printed, add unit: in or unit: cm to the rule in the mapping")
		return false
	}
	exact := func(d *big.Rat) *big.Rat {
		if u == "cm" {
			return new(big.Rat).Mul(d, big.NewRat(100, 254))
		}
		return d
	}
	if id == DepthTop {
		f.Value, f.depth = inches(top, u), exact(top)
		return true
	}
	f.Value, f.depth = inches(bottom, u), exact(bottom)
	if old, has := dst[id]; has && old.depth != nil && old.Place.IsZero() != f.Place.IsZero() {
		if begun := dst[DepthTop]; apart(old.depth, f.depth) || begun.depth != nil && begun.Place.IsZero() != f.Place.IsZero() && apart(begun.depth, exact(top)) {
			*f = r.depthDiffers(old, *f)
			if f.Place == old.Place {
				return true // what the mapping states stands behind what is printed
			}
		}
	}
	begins := Field{Printed: f.Printed, Value: inches(top, u), Place: f.Place, Rule: f.Rule, depth: exact(top)}
	if old, has := dst[DepthTop]; has && old.depth != nil && !old.Place.IsZero() && top.Sign() > 0 && apart(old.depth, begins.depth) {
		r.hold("field-differs", f.Place, f.Rule, "two texts say differently where the layer begins", old.Printed+" as in "+old.Place.Inside(), text, "ask the laboratory which is right")
		return true
	}
	if top.Sign() > 0 {
		dst[DepthTop] = begins
	} else if old := dst[DepthTop]; old.Place.IsZero() {
		delete(dst, DepthTop)
	}
	return true
}

// parseTop reads where a layer begins: 0 for the surface.
func parseTop(text, unit string) (top, bottom *big.Rat, found string, err error) {
	s, found := lengthUnit(text, unit)
	if found == "" {
		return nil, nil, "", errors.New("a depth without a unit")
	}
	top, err = lengthOf(s)
	return top, top, found, err
}

// A layer is the soil of a sample between two depths.
type layer struct{ top, bottom *big.Rat }

// layerOf is the layer of a sample, in inches; the bottom is nil where no depth
// was read.
func layerOf(s *SampleExtract) layer {
	l := layer{new(big.Rat), s.Fields[Depth].depth}
	if d := s.Fields[DepthTop].depth; d != nil {
		l.top = d
	}
	return l
}

// thickness is how much soil lies in the layer, in inches; nil where that is
// not known.
func (l layer) thickness() *big.Rat {
	if l.bottom == nil {
		return nil
	}
	return new(big.Rat).Sub(l.bottom, l.top)
}

// beside reports whether two layers of one place share no soil, so that they
// may have one number.
func (l layer) beside(m layer) bool {
	return l.bottom != nil && m.bottom != nil && (l.top.Cmp(m.bottom) >= 0 || m.top.Cmp(l.bottom) >= 0)
}

// checkLayers holds a report that says where a layer begins and not where it
// ends, or the two the wrong way round.
func (r *reader) checkLayers() {
	for _, s := range r.out.Samples {
		l, top := layerOf(s), s.Fields[DepthTop]
		switch {
		case top.depth == nil || top.depth.Sign() == 0 && l.bottom == nil:
		case l.bottom == nil && s.Fields[Depth].Printed != "" && !r.isMissing(s.Fields[Depth].Printed): // it is held already
		case l.bottom == nil:
			r.hold("depth-missing", top.Place, top.Rule, "where the layer of a sample begins is known, and not where it ends", "both depths", top.Printed, "look for the depth on the page; read it as depth in the mapping")
		case l.bottom.Cmp(l.top) <= 0:
			r.hold("depth-unreadable", top.Place, top.Rule, "a layer ends above where it begins", "a depth below "+top.Printed, s.Fields[Depth].Printed, "if the two columns are exchanged in the mapping, correct it; otherwise ask the laboratory")
		}
	}
}
