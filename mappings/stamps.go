package mappings

import "slices"

// stamps are the texts that stand turned on a page and that nothing has read,
// as a stamp does: its words one after the other.
func (v *view) stamps() [][]*atom {
	var out [][]*atom
	for _, a := range v.turned {
		if a.mark != nil {
			continue
		}
		b := along(a)
		i := slices.IndexFunc(out, func(as []*atom) bool {
			last := as[len(as)-1]
			l := along(last)
			return last.turn == a.turn && abs(l.CenterY()-b.CenterY()) < 0.5*a.size && b.X0-l.X1 < 1.0*a.size && b.X0 > l.X0
		})
		if i < 0 {
			out = append(out, []*atom{a})
		} else {
			out[i] = append(out[i], a)
		}
	}
	return out
}
