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

// knownOn are the atoms of a page that spell what the mapping names among the
// texts that it relies on or recognises the laboratory by, over the ends of
// lines too: its writer has read these, and nothing more.
func (r *reader) knownOn(v *view) map[*atom]bool {
	out := map[*atom]bool{}
	if v.grid {
		return out
	}
	for _, of := range [][]*Pattern{r.l.ReliesOn, r.l.Recognise} {
		for _, p := range of {
			for _, h := range find(p, v.atoms) {
				for _, a := range h.atoms {
					out[a] = true
				}
			}
		}
	}
	return out
}

// beyond are the runs of words that are not known.
func beyond(as []*atom, known map[*atom]bool) [][]*atom {
	var out [][]*atom
	for i, a := range as {
		switch {
		case known[a]:
		case i > 0 && len(out) > 0 && !known[as[i-1]]:
			out[len(out)-1] = append(out[len(out)-1], a)
		default:
			out = append(out, []*atom{a})
		}
	}
	return out
}
