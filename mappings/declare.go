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
			var from *atom // the first of the words that the region begins with
			var region []*line
			flush := func() {
				for _, l := range region {
					use(v.inColumn(l, from, region), mark)
				}
				from, region = nil, nil
			}
			for _, l := range v.lines {
				if from == nil {
					if hits := find(n.From, l.atoms); len(hits) > 0 {
						from = hits[0].atoms[0]
					}
				} else if n.To != nil && len(find(n.To, l.atoms)) > 0 {
					flush()
				}
				if from != nil {
					region = append(region, l)
				}
			}
			flush()
		}
	}
}

// inColumn leaves out of a line of a region what stands in another column of
// the page, left of the one that the region begins in. That there are columns is
// seen by a further line that begins right below the region's first words; a
// heading over the middle of a table has none.
func (v *view) inColumn(l *line, from *atom, region []*line) []*atom {
	if v.grid {
		return l.atoms
	}
	edge, aligned, begins := from.box.X0, 0, false
	for i, l := range region {
		for _, run := range v.runs(l) {
			begins = begins || run[0] == from
			if i > 0 && abs(run[0].box.X0-edge) < 0.6*from.size {
				aligned++
			}
		}
	}
	if aligned == 0 || !begins {
		return l.atoms
	}
	var out []*atom
	for _, run := range v.runs(l) {
		if run[len(run)-1].box.X1 > edge-0.5*from.size {
			out = append(out, run...)
		}
	}
	return out
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
