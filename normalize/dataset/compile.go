package dataset

import (
	"crypto/sha256"
	"errors"
	"maps"
	"slices"

	"example.org/windrow/normalize"
)

// passedOn is an error of the caller's, or one that is whole as it is.
type passedOn struct{ error }

func (e *passedOn) Unwrap() error { return e.error }

// passes gives a function that reads all reports once. Its error is ours, or
// that of each as one that is passed on.
func passes(each func(yield func(*normalize.Report) error) error) func(take func(*normalize.Report) error) error {
	var failed error // ours, which each may wrap or swallow
	return func(take func(*normalize.Report) error) error {
		err := each(func(rep *normalize.Report) error {
			if failed == nil {
				if rep == nil {
					failed = errors.New("there is no report where one was announced")
				} else {
					failed = take(rep)
				}
			}
			return failed
		})
		if failed == nil && err != nil {
			return &passedOn{err}
		}
		return failed
	}
}

// compile makes all files of a dataset in a folder. It reads the reports three
// times: for what was reported twice, for who stands in which group, and for
// the rows; and once more where something was reported twice.
func compile(dir string, each func(yield func(*normalize.Report) error) error, opt Options) (Summary, error) {
	c, pass := newCounter(opt), passes(each)
	if opt.Outlines != nil {
		c.places = newCounties()
	}
	if err := c.survey(pass); err != nil {
		return Summary{}, err
	}
	c.settle()
	tables := []*table{newTable(dir, "results.csv", columns[:], opt), newTable(dir, "estimates.csv", estimateColumns[:], opt), newTable(dir, "derived.csv", derivedColumns[:], opt)}
	if err := pass(func(rep *normalize.Report) error { return c.take(rep, tables) }); err != nil {
		return Summary{}, err
	}
	if err := c.check.enough(c.opt.MinGroup); err != nil {
		return Summary{}, &passedOn{err}
	}
	for i, visit := range []func(row){c.tally, nil, nil} {
		if err := tables[i].write(tables[i].each, visit); err != nil {
			return Summary{}, err
		}
	}
	layout, err := c.writeWide(dir, tables[0].sorter)
	if err != nil {
		return Summary{}, err
	}
	if err := writeResultsBook(dir, tables[0], opt); err != nil {
		return Summary{}, err
	}
	sum := c.finish(tables)
	if opt.Previous != "" {
		told, err := compare(opt, sum.KeyMark, c.check)
		if err != nil {
			return Summary{}, &passedOn{err}
		}
		sum.Disclosure.Previous = told
	}
	if c.places != nil {
		if err := c.writeMap(dir); err != nil {
			return Summary{}, err
		}
	}
	if err := errors.Join(writeBooks(dir, sum, layout, opt), writeDisclosure(dir, sum, opt), writePackage(dir, sum, layout, opt)); err != nil {
		return Summary{}, err
	}
	if opt.Provenance {
		return sum, writeProvenance(dir, sum, opt)
	}
	return sum, nil
}

// writeWide writes the table of samples in all its forms, from the sorted
// results.
func (c *counter) writeWide(dir string, results *sorter) (wideLayout, error) {
	l := c.wide.layout()
	rows := func(visit func([]string) error) error { return c.wide.each(l, results, visit) }
	t := &table{dir: dir, name: "wide.csv", columns: l.columns, units: l.allUnits(), opt: c.opt}
	err := t.write(func(visit func(row) error) error {
		return rows(func(f []string) error { return visit(row{fields: f}) })
	}, nil)
	c.sum.Wide, c.sum.WideSHA256 = t.rows, t.sum
	if err != nil {
		return l, err
	}
	return l, wideBook(l).write(dir, rows, c.opt)
}

// writeResultsBook writes the results as a workbook, if one sheet takes them.
func writeResultsBook(dir string, results *table, opt Options) error {
	if results.rows >= sheetRows { // the heading is a row, too
		return nil
	}
	return resultsBook().write(dir, func(visit func([]string) error) error {
		return results.each(func(r row) error { return visit(r.fields) })
	}, opt)
}

// A counter turns reports into rows and counts them.
type counter struct {
	opt       Options
	sum       Summary
	copies    *normalize.Copies
	census    *census
	publisher *publisher
	check     *recount
	seen      map[shortCode]struct{} // reports, by a hash of the id
	sources   map[string]bool
	software  map[string]bool
	tables    map[string]bool
	mappings  map[string]bool
	tallies   map[Tally]int
	wide      *wide
	places    *counties // nil where there is no map
	last      string    // sample
}

func newCounter(opt Options) *counter {
	return &counter{opt: opt, copies: normalize.NewCopies(), census: newCensus(), check: newRecount(opt.Previous != ""), seen: map[shortCode]struct{}{}, sources: map[string]bool{}, software: map[string]bool{}, tables: map[string]bool{}, mappings: map[string]bool{}, tallies: map[Tally]int{}, wide: newWide(),
		sum: Summary{ValueIs: map[string]int{}, Missing: map[string]int{}, Censored: map[string]int{}, Status: map[string]int{}, Labs: map[string]int{}, KeyMark: KeyMark(opt.Key)}}
}

// KeyMark tells one key from another without telling anything of it.
func KeyMark(key []byte) string { return pseudonym(key, "key mark")[:8] }

// survey reads the reports for what was reported twice, and for who stands in
// which group.
func (c *counter) survey(pass func(func(*normalize.Report) error) error) error {
	if err := pass(c.note); err != nil {
		return err
	}
	c.seen = nil
	if c.copies.Any() {
		if err := pass(func(rep *normalize.Report) error { c.copies.Gather(rep); return nil }); err != nil {
			return err
		}
	}
	return pass(c.enumerate)
}

func (c *counter) note(rep *normalize.Report) error {
	h := sha256.Sum256([]byte(rep.ID))
	id := shortCode(h[:len(shortCode{})])
	if _, twice := c.seen[id]; twice {
		return errors.New("report " + rep.ID + " came twice")
	}
	c.seen[id] = struct{}{}
	c.copies.Note(rep)
	return nil
}

// records visits the records of a report that may go out. Layers from below
// the surface don't: every column speaks of the top one, and nobody is to pool
// the two by accident.
func (c *counter) records(rep *normalize.Report, visit func(*normalize.Record) error) error {
	for _, rec := range rep.Records {
		if c.opt.Keep != nil && !c.opt.Keep(rep, rec) || !rec.Status.Used() || c.copies.Copy(rep, rec) || rec.Sample.DepthTopIn != "" {
			continue
		}
		if err := visit(rec); err != nil {
			return err
		}
	}
	return nil
}

func (c *counter) enumerate(rep *normalize.Report) error {
	if !rep.Status.Used() {
		return nil
	}
	return c.records(rep, func(rec *normalize.Record) error {
		sample, report := codesOf(c.opt.Key, rep, rec)
		c.census.take(sample, report, rep, rec)
		return nil
	})
}

// settle decides how everything is published.
func (c *counter) settle() {
	people := c.census.people()
	cells := c.census.count(people, nil)
	c.publisher = &publisher{plan: planOf(cells, c.census, c.opt.MinGroup), census: c.census, people: people}
	c.sum.Disclosure = disclosureOf(c.publisher, cells, c.opt)
}

// leftOut counts what is held or said twice.
func (c *counter) leftOut(rep *normalize.Report) {
	keep := func(rec *normalize.Record) bool { return c.opt.Keep == nil || c.opt.Keep(rep, rec) }
	if !rep.Status.Used() {
		if c.opt.Keep == nil || slices.ContainsFunc(rep.Records, keep) {
			c.sum.HeldReports++
		}
		return
	}
	for _, rec := range rep.Records {
		switch {
		case !keep(rec):
		case !rec.Status.Used():
			c.sum.HeldRecords++
		case c.copies.Copy(rep, rec):
			c.sum.Copies++
		case rec.Sample.DepthTopIn != "":
			c.sum.Below++
		default:
			for _, res := range rec.Results {
				if !res.Status.Used() {
					c.sum.HeldResults++
				} else if res.Restates {
					c.sum.Restated++
				}
			}
		}
	}
}

// take adds the rows of a report.
func (c *counter) take(rep *normalize.Report, to []*table) error {
	c.leftOut(rep)
	if !rep.Status.Used() {
		return nil
	}
	rows, labNamed := 0, false
	err := c.records(rep, func(rec *normalize.Record) error {
		n := len(outgoing(rec))
		if n == 0 {
			return nil
		}
		sample, report := codesOf(c.opt.Key, rep, rec)
		s, ok := c.publisher.show(sample, report, rep, rec)
		if !ok {
			c.sum.Disclosure.ResultsSuppressed += n
			return nil
		}
		c.sum.Disclosure.ResultsCut += s.cut
		labNamed = labNamed || s.class.levels[qLab] < labHidden
		rows += len(s.rec.Results)
		return c.rows(sample, report, &s, to)
	})
	if rows > 0 {
		c.sum.Reports++
		c.software[rep.Version], c.tables[rep.Tables] = true, true
		if labNamed {
			c.mappings[rep.Mapping.ID+" / "+rep.Mapping.Layout+" / sha256 "+rep.Mapping.SHA256] = true
		}
	}
	return err
}

// rows adds the rows of a sample.
func (c *counter) rows(sample, report string, s *shown, to []*table) error {
	out := s.tables(sample, report)
	for i, rows := range out {
		for _, r := range rows {
			if err := to[i].add(r); err != nil {
				return err
			}
		}
	}
	if len(out[0]) == 0 {
		return nil
	}
	for _, e := range out[1] {
		c.sources[e.fields[estSource]] = true
	}
	for _, d := range out[2] {
		c.sources[d.fields[derSource]] = true
	}
	if !s.class.withheldPrint() { // else the steps are withheld as well
		for _, res := range s.rec.Results {
			for _, step := range res.Steps {
				c.sources[step.Source] = true
			}
		}
	}
	c.check.take("", sample, c.publisher.people[s.seat.client], out[0], s.found, len(c.census.again[codeBytes(sample)]) > 0)
	return nil
}

// tally counts a row as it is written.
func (c *counter) tally(r row) {
	f := r.fields
	c.wide.note(f)
	if c.places != nil {
		c.places.take(f)
	}
	c.sum.Rows++
	if f[colSample] != c.last {
		c.sum.Samples++
		c.last = f[colSample]
	}
	c.sum.ValueIs[f[colValueIs]]++
	c.sum.Status[f[colStatus]]++
	c.sum.Labs[f[colLab]]++
	if f[colMissing] != "" {
		c.sum.Missing[f[colMissing]]++
	}
	if f[colCensored] != "" {
		c.sum.Censored[f[colCensored]]++
	}
	c.tallies[Tally{f[colAnalyte], f[colDetail], f[colMethod], f[colMethodName], f[colUnit], f[colUCUM], 0}]++
}

func (c *counter) finish(tables []*table) Summary {
	for t, n := range c.tallies {
		t.Rows = n
		c.sum.Analytes = append(c.sum.Analytes, t)
	}
	slices.SortFunc(c.sum.Analytes, func(x, y Tally) int {
		return slices.Compare([]string{x.Analyte, x.Detail, x.Method, x.MethodName, x.Unit, x.UCUM}, []string{y.Analyte, y.Detail, y.Method, y.MethodName, y.Unit, y.UCUM})
	})
	c.sum.SHA256 = tables[0].sum
	c.sum.Estimates, c.sum.EstimatesSHA256 = tables[1].rows, tables[1].sum
	c.sum.Derived, c.sum.DerivedSHA256 = tables[2].rows, tables[2].sum
	c.sum.Sources, c.sum.Software, c.sum.Tables, c.sum.Mappings = slices.Sorted(maps.Keys(c.sources)), slices.Sorted(maps.Keys(c.software)), slices.Sorted(maps.Keys(c.tables)), slices.Sorted(maps.Keys(c.mappings))
	c.check.tell(&c.sum.Disclosure)
	return c.sum
}
