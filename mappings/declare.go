package mappings

// declare marks what the layout says is no result.
func (r *reader) declare(v *view) {
	for _, n := range r.l.NotResult {
		mark := Mark{As: "declared", Note: n.Why, Rule: n.Place}
		switch {
		case n.Line != nil:
			for _, l := range v.lines {
				for _, run := range append(v.runs(l), l.atoms) {
					if n.Line.isLine(run) {
						use(run, mark)
					}
				}
			}
		case n.Text != nil:
			for _, h := range find(n.Text, v.atoms) {
				use(h.atoms, mark)
			}
		case n.Above != nil:
			if ls := v.findLine(n.Above); len(ls) > 0 {
				for _, l := range v.lines {
					if l.box.CenterY() < ls[0].box.CenterY() && l != ls[0] {
						use(l.atoms, mark)
					}
				}
			}
		case n.From != nil:
			on := false
			for _, l := range v.lines {
				if !on && len(find(n.From, l.atoms)) > 0 {
					on = true
				} else if on && n.To != nil && len(find(n.To, l.atoms)) > 0 {
					on = false
				}
				if on {
					use(l.atoms, mark)
				}
			}
		}
	}
}

// declareLines marks what is left of the lines that the layout says are no
// results. It comes after the tables: a line may be declared over its wide
// gaps, and a remark must not take along the results that stand beside it.
func (r *reader) declareLines(v *view) {
	for _, n := range r.l.NotResult {
		if n.Line == nil {
			continue
		}
		for _, l := range v.lines {
			if _, ok := n.Line.matchWhole(joined(l.atoms)); ok {
				use(free(l.atoms), Mark{As: "declared", Note: n.Why, Rule: n.Place})
			}
		}
	}
}
