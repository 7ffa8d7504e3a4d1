package dataset

import (
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// A publisher turns samples into what the plan leaves of them.
type publisher struct {
	plan   *plan
	census *census
	people []int // by client of the census
}

// A shown is what is published of a sample by one of its reports.
type shown struct {
	rec    *normalize.Record // a copy, of which nothing is left that the class withholds
	class  *class
	seat   seat
	report int      // ordinal of the report among those of the sample
	cut    int      // results that are left out
	found  []string // what the checks found of the sample as a whole, as far as it is published
}

// generalised says whether anything that an equation may rest on is withheld.
func (s *shown) generalised() bool {
	return s.class.levels[qUse] > 0 || s.cut > 0 || s.class.withheldPrint()
}

// show is what is published of a record; ok is false where its sample is
// suppressed.
func (p *publisher) show(sample, report string, rep *normalize.Report, rec *normalize.Record) (s shown, ok bool) {
	seat, known := p.census.seats[codeBytes(sample)]
	if !known {
		return s, false // it came after the census
	}
	cl := p.plan.of[p.census.cells[seat.cell]]
	if cl == nil {
		return s, false
	}
	return p.census.showAs(cl, sample, report, rep, rec), true
}

// showAs is what a class leaves of a record that is in it.
func (c *census) showAs(cl *class, sample, report string, rep *normalize.Report, rec *normalize.Record) (s shown) {
	s.class, s.seat = cl, c.seats[codeBytes(sample)]
	key := c.cells[s.seat.cell]
	s.report = c.ordinal(sample, report)
	results := outgoing(rec)
	words := named(results, fullWords)
	if s.class.withheldPrint() {
		words = named(results, bareWords)
	}
	out := *rec
	out.Client, out.Results = nil, nil
	for i, res := range results {
		if _, shared := slices.BinarySearch(s.class.shared, words[i]); !shared {
			s.cut++
			continue
		}
		r := *res
		if s.class.withheldPrint() {
			r.Volumetric, r.Forms.LbAc = nil, nil
			s.class.limits.coarsen(s.class.quasi[qLab], &r)
		}
		out.Results = append(out.Results, &r)
	}
	s.rec = &out
	for _, code := range wholeFindings(rec, rep) {
		if _, shared := slices.BinarySearch(s.class.shared, aFinding+code); shared {
			s.found = append(s.found, code)
		}
	}
	if s.class.levels[qUse] > 0 || text(rec.Sample.LandUse) != key.quasi[qUse] {
		out.Sample.LandUse = ""
	}
	if s.generalised() {
		normalize.Reestimate(&out)
	}
	if s.class.withheldPrint() { // not in the order in which the laboratory prints
		slices.SortStableFunc(out.Results, func(a, b *normalize.Result) int { return strings.Compare(bareWords(a), bareWords(b)) })
	}
	return s
}

// printColumns are the columns that give the laboratory or the depth away.
// What the checks found does where a check is of one layout alone.
var printColumns = []int{colVolume, colVolumeUnit, colPrinted, colPrintedNumber, colPrintedUnit, colBasis, colRating, colRatingClass, colIndex, colArea, colAreaDepth, colAreaSoil, colAreaSource, colConversion, colSources, colFindings}

// row is the row of a result of the shown record.
func (s *shown) row(sample, report string, ordinal int, res *normalize.Result) row {
	r := makeRow(res)
	r.order = report + pad(ordinal)
	f := r.fields
	f[colSample], f[colReport] = sample, strconv.Itoa(s.report)
	q := &s.class.quasi
	f[colCounty], f[colLandUse], f[colPeriod], f[colDepth], f[colLab] = q[qCounty], q[qUse], q[qPeriod], q[qDepth], q[qLab]
	if s.class.withheldPrint() {
		for _, c := range printColumns {
			f[c] = ""
		}
		f[colWithheld] = "print"
		if f[colValueIs] != "" && f[colValueIs] != isEstimated {
			f[colValueIs] = isRounded
		}
		return r
	}
	found := slices.Clone(s.found)
	for _, x := range res.Findings {
		if x.Severity != ingest.Note {
			found = append(found, x.Check)
		}
	}
	slices.Sort(found)
	f[colFindings] = text(strings.Join(slices.Compact(found), ";"))
	return r
}

// tables are the rows of the shown record, for results, estimates and derived.
func (s *shown) tables(sample, report string) (out [3][]row) {
	for i, res := range s.rec.Results {
		r := s.row(sample, report, i, res)
		out[0] = append(out[0], r)
		out[1] = append(out[1], estimateRows(r, res)...)
	}
	if n := len(out[0]); n > 0 { // else it is a second report of the sample that had only what is cut
		out[2] = derivedRows(out[0][n-1], s.rec)
	}
	return out
}
