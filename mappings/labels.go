package mappings

import (
	"fmt"
	"sort"
	"strings"
)

// labels reads results that stand beside or under their printed labels,
// line by line and from left to right, so that the end of one value is known
// when the next label is looked at. A longer label goes before a shorter one
// that begins it ("pH CaCl2" before "pH").
func (r *reader) labels(v *view, s *SampleExtract) {
	if len(r.l.Labels) == 0 {
		return
	}
	type found struct {
		label *Label
		hit   hit
		line  *line
	}
	done := map[*Test]bool{}
	type inUnit struct {
		test *Test
		unit string
	}
	printed := map[inUnit]bool{}
	bare := map[*Test]*PrintedLabel{} // labels that stand without a value
	var without []*Label
	for _, l := range v.lines {
		var fs []found
		for _, lb := range r.l.Labels {
			p := lb.After
			if p == nil {
				p = lb.Below
			}
			for _, h := range find(p, l.atoms) {
				if len(free(h.atoms)) == len(h.atoms) && (!v.grid || p.beginsIn(h.atoms[0].text)) {
					fs = append(fs, found{lb, h, l})
				}
			}
		}
		sort.SliceStable(fs, func(i, j int) bool {
			if fs[i].hit.first != fs[j].hit.first {
				return fs[i].hit.first < fs[j].hit.first
			}
			return len(fs[i].hit.atoms) > len(fs[j].hit.atoms)
		})
		end := -1 // index of the last atom already part of a label or value
		for i, f := range fs {
			if f.hit.first <= end {
				continue
			}
			if !r.labelPosition(v, l, f.hit, end) {
				continue
			}
			next := len(l.atoms)
			for _, g := range fs[i+1:] {
				if g.hit.first > f.hit.first+len(f.hit.atoms)-1 {
					next = g.hit.first
					break
				}
			}
			as := r.labelValue(v, f.label, f.hit, next)
			if in := r.valueInCell(v, f.label, f.hit); in != nil {
				as = in
			}
			if len(as) == 0 {
				if bare[f.label.Test] != nil {
					continue
				}
				bare[f.label.Test], without = &PrintedLabel{joined(f.hit.atoms), v.placeOf(f.hit.atoms)}, append(without, f.label)
				continue
			}
			got, named, ok := r.takeLabel(f.label, as)
			if !ok {
				r.hold("label-differs", v.placeOf(as), f.label.Place, fmt.Sprintf("the text beside %q does not have the form it used to have", joined(f.hit.atoms)), f.label.Reads.Src, joined(as), nextLayout)
				use(as, Mark{As: "declared", Note: "not understood"})
				continue
			}
			// One test may stand there in each of its units, and once in each.
			in := inUnit{f.label.Test, r.unitOf(got["unit"])}
			if done[f.label.Test] && (in.unit == "" || printed[in] || printed[inUnit{in.test, ""}]) {
				r.hold("read-twice", v.placeOf(as), f.label.Place, fmt.Sprintf("%s stands in one sample's part of the report more than once", f.label.Test.Label), "one such label", joined(as), "make the label more particular, or declare the other one under not results")
				continue
			}
			done[f.label.Test], printed[in] = true, true
			use(f.hit.atoms, Mark{As: "heading", Note: f.label.Test.Label, Rule: f.label.Place})
			c := cell{test: f.label.Test, rule: f.label.Place, label: &PrintedLabel{joined(f.hit.atoms), v.placeOf(f.hit.atoms)}}
			c.fill(got, named)
			c.aroundValue(joined(as))
			if c.rating == "" && f.label.After != nil && contains(f.label.Reads.Names, "rating") {
				c.rating = strayWord(l, as, next)
			}
			r.addReading(v, s, &c)
			use(as, Mark{As: "result", Note: f.label.Test.Label, Rule: f.label.Place})
			if f.label.After != nil {
				end = f.hit.first + len(f.hit.atoms) - 1
				for j, a := range l.atoms {
					if len(as) > 0 && a == as[len(as)-1] {
						end = j
					}
				}
			}
		}
	}
	for t := range done {
		r.spotsOf(t.Place, t, true).filled++
	}
	for _, lb := range without {
		switch t := lb.Test; {
		case done[t] || has(s, t):
		case lb.Blank != "":
			s.Readings = append(s.Readings, r.blankReading(t, lb.Blank, "", bare[t], lb.Place, bare[t].Place))
		default:
			places := r.spotsOf(t.Place, t, true)
			places.empty = append(places.empty, spot{s, bare[t].Place})
		}
	}
}

// unitOf is the id of a printed unit, "" where none is printed or it is not
// known.
func (r *reader) unitOf(printed string) string {
	if printed == "" {
		return ""
	}
	id, _ := r.l.mapping.unitID(printed, r.vocab)
	return id
}

// has reports whether a sample has a result of a test already.
func has(s *SampleExtract, t *Test) bool {
	for i := range s.Readings {
		if ofOne(&s.Readings[i], []*Test{t}) {
			return true
		}
	}
	return false
}

// labelPosition reports whether a label's words stand where a label can: at
// the beginning of the line or of a piece of it, or after the value of the
// label before.
func (r *reader) labelPosition(v *view, l *line, h hit, end int) bool {
	if v.grid || h.first == 0 || h.first == end+1 {
		return true
	}
	prev, a := l.atoms[h.first-1], h.atoms[0]
	return prev.mark != nil || a.box.X0-prev.box.X1 >= 0.8*max(a.size, prev.size) || strings.HasSuffix(prev.text, ";") || strings.HasSuffix(prev.text, ",")
}

// labelValue are the atoms of a label's value: as far as the next label, or
// as many as the form of the value needs.
func (r *reader) labelValue(v *view, lb *Label, h hit, next int) []*atom {
	if lb.Below != nil {
		return r.valueUnder(v, lb, h)
	}
	rest := h.all[h.first+len(h.atoms) : next]
	for len(rest) > 0 && strings.Trim(rest[0].text, ".:_=-") == "" && len(rest) > 1 && !r.isMissing(rest[0].text) {
		use(rest[:1], Mark{As: "heading", Note: "leader"})
		rest = rest[1:]
	}
	if v.grid && len(rest) > 1 {
		rest = rest[:1+strings.Count(lb.Reads.Src, " {")]
	}
	if v.grid {
		return rest
	}
	// The value may go on over wide gaps, but only as far as it makes sense:
	// the longest piece with a number, a known unit and a known rating.
	first := len(rest)
	for n := len(rest); n > 0; n-- {
		if n < len(rest) && rest[n].box.X0-rest[n-1].box.X1 < 1.0*max(rest[n].size, rest[n-1].size) {
			continue
		}
		first = n
		if r.makesSense(lb, rest[:n]) {
			return rest[:n]
		}
	}
	return rest[:first]
}

// valueUnder is what stands under a label: the nearest piece, with the piece
// under it when the two together are a whole value, as a number over its
// rating is.
func (r *reader) valueUnder(v *view, lb *Label, h hit) []*atom {
	first := free(v.valueBelow(h))
	if len(first) == 0 || !contains(lb.Reads.Names, "rating") {
		return first
	}
	b := boxOf(first)
	for _, l := range v.lines {
		if l.box.CenterY() <= b.Y1 || l.box.Y0-b.Y1 > 1.5*max(first[0].size, 1) {
			continue
		}
		for _, run := range v.runs(l) {
			if run = free(run); len(run) == 0 || hasDigit(joined(run)) || boxOf(run).OverlapX(boxOf(h.atoms).Union(b)) <= 0 {
				continue
			}
			if both := append(append([]*atom(nil), first...), run...); r.makesSense(lb, both) {
				return both
			}
		}
		break
	}
	return first
}

// strayWord is a word close behind a value that ought to have a rating: one
// that the mapping does not know, which the reading must say.
func strayWord(l *line, as []*atom, next int) string {
	last := as[len(as)-1]
	for i, a := range l.atoms {
		if a != last || i+1 >= min(next, len(l.atoms)) {
			continue
		}
		if n := l.atoms[i+1]; n.mark == nil && !hasDigit(n.text) && n.box.X0-a.box.X1 < 3*max(a.size, n.size) {
			return n.text
		}
	}
	return ""
}

// makesSense reports whether a text is a whole value of the label's test.
func (r *reader) makesSense(lb *Label, as []*atom) bool {
	got, _, ok := r.takeLabel(lb, as)
	if !ok {
		return false
	}
	if w := got["result"]; !r.isMissing(w) && !lb.Test.InWords {
		if _, err := r.l.Style.parseNumber(w); err != nil {
			return false
		}
	}
	if u := got["unit"]; u != "" {
		if _, known := r.l.mapping.unitID(u, r.vocab); !known {
			return false
		}
	}
	if w := got["rating"]; w != "" && len(r.l.mapping.Ratings) > 0 {
		if _, known := r.l.mapping.Ratings[normalise(w)]; !known {
			return false
		}
	}
	return true
}

// takeLabel takes a label's value apart by its form.
func (r *reader) takeLabel(lb *Label, as []*atom) (map[string]string, map[string][]*atom, bool) {
	text := strings.TrimRight(joined(as), " ;,")
	if r.isMissing(text) {
		return map[string]string{"result": text}, map[string][]*atom{"result": as}, true
	}
	m, ok := lb.Reads.matchWhole(text)
	if !ok {
		return nil, nil, false
	}
	named := map[string][]*atom{}
	if hits := find(lb.Reads, as); len(hits) > 0 {
		named = hits[0].named
	}
	for k := range m {
		if len(named[k]) == 0 {
			named[k] = as
		}
	}
	return m, named, true
}

// valueInCell is the value of a label that stands behind it in its own cell, as in
// the lines of a text that has no columns; nil where none does. It is the text
// behind the label as an atom of its own, at the place of the cell.
func (r *reader) valueInCell(v *view, lb *Label, h hit) []*atom {
	if !v.grid || lb.After == nil || len(h.atoms) != 1 {
		return nil
	}
	a := h.atoms[0]
	at := lb.After.re.FindStringIndex(a.text)
	if at == nil {
		return nil
	}
	rest := strings.Trim(a.text[at[1]:], " .:_=")
	if rest == "" {
		return nil
	}
	in := *a
	in.text = rest
	if !r.makesSense(lb, []*atom{&in}) {
		return nil
	}
	use(h.atoms, Mark{As: "result", Note: lb.Test.Label, Rule: lb.Place})
	return []*atom{&in}
}
