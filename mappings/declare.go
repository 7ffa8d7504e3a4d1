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
		case n.Box != nil:
			r.declareBox(v, n, mark)
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
				edge := v.columnEdge(from, region)
				for _, l := range region {
					for _, run := range v.runs(l) {
						if run[len(run)-1].box.X1 > edge {
							use(run, mark)
						}
					}
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

// columnEdge is where the column of a page begins that a region stands in; what
// ends left of it is another column's. That there are columns is seen by a
// further line that begins right below the region's first words; a heading over
// the middle of a table has none, and its region takes whole lines.
func (v *view) columnEdge(from *atom, region []*line) float64 {
	const none = -1e9
	if v.grid || from == nil {
		return none
	}
	aligned, begins := false, false
	for i, l := range region {
		for _, run := range v.runs(l) {
			begins = begins || run[0] == from
			aligned = aligned || i > 0 && abs(run[0].box.X0-from.box.X0) < 0.6*from.size
		}
	}
	if !aligned || !begins {
		return none
	}
	return from.box.X0 - 0.5*from.size
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
