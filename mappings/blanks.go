package mappings

import (
	"fmt"
	"slices"
	"sort"

	"example.org/windrow/ingest"
)

// A place for a result is what the layout has for one test: a column, or the
// row of a test, or a label. spots counts how often a report filled it.
type spots struct {
	test   *Test
	filled int
	empty  []spot
	form   bool // printed whether or not the test was asked for: a row or a label
	first  int  // in which order it was met
}

// A spot is an empty place for a result of one sample.
type spot struct {
	sample *SampleExtract
	at     ingest.Place
}

// A spotKey tells the places for results of a layout apart.
type spotKey struct {
	rule ingest.Place
	test *Test
}

func (r *reader) spotsOf(rule ingest.Place, t *Test, form bool) *spots {
	k := spotKey{rule, t}
	s := r.spots[k]
	if s == nil {
		s = &spots{test: t, form: form, first: len(r.spots)}
		r.spots[k] = s
	}
	return s
}

// blankCell is the place of an empty cell: of the cell itself in a sheet or a
// delimited file with fields of its own, of the row elsewhere.
func (v *view) blankCell(x *head, rw *row) ingest.Place {
	if as := rw.atoms(); v.grid && len(as) > 0 && as[0].cell != nil && as[0].cell.Line == 0 {
		c := *as[0].cell
		c.Col = int(x.atoms[0].box.X0)
		return v.page.PlaceOfCell(&c).In(v.doc.Source.Title())
	} else if len(as) > 0 {
		return v.placeOf(as[:1])
	}
	return v.here()
}

// blankResults flags the results that are not there although the report has a
// place for them. A column that is empty for all of many samples is one of
// which nobody asked for the test. Where other samples have a result, where
// there is but one sample, or where the test's own name stands without a
// value, the number may have been lost, and only the mapping can say that an
// empty place means something else.
func (r *reader) blankResults() {
	r.slippedDown()
	var all []*spots
	for _, s := range r.spots {
		if len(s.empty) > 0 {
			all = append(all, s)
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].first < all[j].first })
	rules := map[*spots]ingest.Place{}
	for k, s := range r.spots {
		rules[s] = k.rule
	}
	for _, s := range all {
		if s.filled == 0 && !s.form && len(s.empty) > 1 {
			continue
		}
		others := "a number, or a word that stands for none, such as ND"
		if s.filled > 0 {
			others = fmt.Sprintf("a result, as %d other samples of the report have", s.filled)
			if s.filled == 1 {
				others = "a result, as another sample of the report has"
			}
		}
		for _, e := range s.empty {
			if insteadOf(s.test, e.sample) && !r.besides(s.test) {
				continue
			}
			switch {
			case s.filled > 0 && !s.form:
				r.slipped(e, rules[s])
			case s.filled > 0:
				r.slippedAcross(e, rules[s], s.test)
			}
			r.reason(&ingest.Reason{Code: "result-blank", Severity: ingest.Flag, Where: e.at, Rule: rules[s], What: fmt.Sprintf("no result is printed for %s of sample %s", s.test.Label, sampleKey(e.sample)),
				Expected: others, Found: "nothing",
				Next: "look at the report, and ask the laboratory if the test was asked for; if it leaves the place blank when it was not, say so in the mapping, such as blank means: not run"})
		}
	}
}

// insteadOf reports whether a sample has a result of the same analyte by
// another test: laboratories choose the extract by the soil's pH.
func insteadOf(t *Test, s *SampleExtract) bool {
	for i := range s.Readings {
		if rd := &s.Readings[i]; rd.Analyte == t.Analyte && rd.Detail == t.Detail && rd.Missing == "" && !ofOne(rd, []*Test{t}) {
			return true
		}
	}
	return false
}

// besides reports whether a sample of the report has a result of the test and
// of another test of its analyte, so that the one does not stand for the other.
func (r *reader) besides(t *Test) bool {
	return slices.ContainsFunc(r.out.Samples, func(s *SampleExtract) bool { return has(s, t) && insteadOf(t, s) })
}

// blankReading is a reading without a value, for an empty place that the
// mapping gives a meaning.
func (r *reader) blankReading(t *Test, word, unit string, label *PrintedLabel, rule, at ingest.Place) Reading {
	rd := Reading{Analyte: t.Analyte, Detail: t.Detail, Method: t.Method, Basis: t.Basis, Missing: word, PrintedUnit: unit, Label: label, Rule: rule, Place: at}
	rd.Unit = t.Dimension
	if len(t.Units) > 0 {
		rd.Unit, _ = r.l.mapping.unitID(t.Units[0], r.vocab)
	}
	return rd
}

// spansOthers holds a report in which the cell of a result is merged with
// cells that belong to another sample or test: whose it is can't be told.
func (r *reader) spansOthers(v *view, t *Table, h *heads, x *head, as []*atom) bool {
	if !v.grid || len(as) == 0 || !as[0].merged() {
		return false
	}
	b := as[0].box
	over := b.Height() > 1
	for _, y := range h.list {
		if x0 := y.atoms[0].box.X0; y != x && !y.col.Nothing && x0 > x.atoms[0].box.X0 && x0 < b.X1 {
			over = true
		}
	}
	if !over {
		return false
	}
	r.hold("cell-merged", v.placeOf(as), x.col.Place, fmt.Sprintf("a result in the table %q stands in a cell that is merged over the places of other results", t.Name), "a cell for each result",
		fmt.Sprintf("%s in a cell of %d rows and %d columns", joined(as), int(b.Height()), int(b.Width())), "ask the laboratory to which sample and test the number belongs")
	use(as, Mark{As: "declared", Note: "not understood", Rule: x.col.Place})
	return true
}
