package dataset

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"maps"
	"os"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// PartsOptions say how a dataset in parts is made. Of [Options], Keep and
// Previous are not used: County says which samples it is of, and what two
// editions tell together is never less than a group.
type PartsOptions struct {
	Options
	State  string // of the office, two capital letters; "" where it is not known
	County string // samples of one county only
	CSV    bool   // write comma-separated values beside Parquet
	Work   string // folder for what is sorted on disk; the system's where it is empty
}

// Appended tells what a run did to a dataset in parts.
type Appended struct {
	Edition   int `json:"edition"`   // that holds now
	Samples   int `json:"samples"`   // in the tables now
	Added     int `json:"added"`     // that were never in it before
	Replaced  int `json:"replaced"`  // whose rows are others now
	Withdrawn int `json:"withdrawn"` // that were in the edition before
	// Companions are those of Withdrawn of which nothing changed: they went
	// so that nobody sees of which the others were.
	Companions int `json:"companions"`
	Waiting    int `json:"waiting"` // too few alike
	Parts      int `json:"parts"`
	Written    int `json:"written"` // parts
	Removed    int `json:"removed"` // files of earlier editions, and of runs that were killed
}

// Append brings a dataset in parts up to date with the reports that each
// yields, and yields again whenever it is called again. It writes Parquet files
// in folders by state, county and year, and then a [Manifest], with which they
// hold all at once; whenever it is stopped, the edition before or the new one
// is there whole. What was published and has not changed is not written again.
//
// Nobody is known again by any edition, nor by two of them: in what comes,
// goes, changes or stays, the samples that were published alike are of at least
// MinGroup clients, or there are none. So samples that are new are published in
// groups of their own, and wait until there are enough; where fewer clients'
// samples of a group went or changed, others of the group are withdrawn with
// them; and what was withdrawn never comes back. The samples of a report that
// was erased are gone from every file when Append returns.
//
// The error is an *[ingest.Reason], or holds one, or is that of each.
func Append(store Store, each func(yield func(*normalize.Report) error) error, opt PartsOptions) (Appended, error) {
	if err := keyed(opt.Options); err != nil {
		return Appended{}, err
	}
	if err := decided(&opt.Options); err != nil {
		return Appended{}, err
	}
	opt.Memory = cmp.Or(max(opt.Memory, 0), 64<<20)
	within := OfCounty(opt.County)
	opt.Keep = func(rep *normalize.Report, rec *normalize.Record) bool {
		return (opt.County == "" || within(rep, rec)) && !erased(rep, rec)
	}
	a, err := begin(store, opt)
	if err != nil {
		return Appended{}, err
	}
	if err = a.run(passes(each)); err != nil {
		var whole *passedOn
		if errors.As(err, &whole) {
			return Appended{}, whole.error
		}
		return Appended{}, partsFault(store, err)
	}
	return a.told, nil
}

// A mark is what is published of a sample, in a form that tells nothing
// without the key.
type mark [16]byte

// A member is a sample of a cohort.
type member struct {
	code shortCode
	mark mark
	met  bool  // its rows are written
	part int32 // of the edition before; -1 for one that is new
	now  mark  // of the rows that are written
}

// A cohort is the samples that came out together as one class. Others that are
// published later in the same words are another cohort.
type cohort struct {
	id      string
	class   *class
	members []member
	kept    bool // nothing of it changed
}

// An appender makes one edition of the one before.
type appender struct {
	store   Store
	opt     PartsOptions
	old     *Manifest
	told    Appended
	c       *counter
	people  []int
	cohorts []*cohort
	where   map[shortCode]int32 // cohorts of the samples that were published
	gone    map[string]bool     // marks of what was withdrawn
	marks   map[shortCode]mark  // what would be published of a sample now
	misfits map[shortCode]bool  // samples that can't be shown as their class
	touched map[int32]bool      // parts that must be written again
	stray   []string            // files that the edition before does not name
}

// begin reads the edition before.
func begin(store Store, opt PartsOptions) (*appender, error) {
	a := &appender{store: store, opt: opt, c: newCounter(opt.Options), where: map[shortCode]int32{}, gone: map[string]bool{}, marks: map[shortCode]mark{}, misfits: map[shortCode]bool{}, touched: map[int32]bool{}}
	a.c.check.values = nil
	names, err := store.Names()
	if err != nil {
		return nil, partsFault(store, err)
	}
	if a.old, err = manifestAmong(store, names); err != nil {
		return nil, err
	}
	if a.old.Edition > 0 {
		if err := a.sameScope(); err != nil {
			return nil, err
		}
	}
	keep := a.old.names()
	for _, n := range names {
		if !keep[n] && ownNames.MatchString(n) {
			a.stray = append(a.stray, n)
		}
	}
	return a, a.load()
}

// scope is what the editions of this dataset have in common.
func (o *PartsOptions) scope() Scope {
	return Scope{Tables: tablesVersion, KeyMark: KeyMark(o.Key), K: o.MinGroup, Decision: o.Decision, State: o.State, County: o.County, CSV: o.CSV}
}

func (a *appender) sameScope() error {
	was, is := a.old.Scope, a.opt.scope()
	was.Decision, is.Decision = nil, nil
	if was == is {
		return nil
	}
	before, err1 := encode(was, " ")
	now, err2 := encode(is, " ")
	return errors.Join(err1, err2, &ingest.Reason{Code: "dataset-parts-other", Severity: ingest.Fail, Where: ingest.Place{File: a.store.Name()}, What: "what is there is another dataset: its parts can't be mixed with parts that are made otherwise",
		Expected: string(before), Found: string(now), Next: "make it as it was made before; or begin a new one in an empty place, after \"windrow dataset new-key\", so that the two can't be joined by their codes"})
}

// load reads which samples the edition before has in which cohort.
func (a *appender) load() error {
	by := map[string]*cohort{}
	for i, p := range a.old.Parts {
		var l ledger
		if err := readOwn(a.store, p.Ledger, &l); err != nil {
			return err
		}
		for _, g := range l.Groups {
			co := by[g.ID]
			if co == nil {
				cl, err := g.class()
				if err != nil {
					return partsDamaged(a.store, p.Ledger, err.Error())
				}
				co = &cohort{id: g.ID, class: cl}
				by[g.ID], a.cohorts = co, append(a.cohorts, co)
			}
			for code, m := range g.Samples {
				b, err := hex.DecodeString(m)
				if err != nil || len(b) != len(mark{}) {
					return partsDamaged(a.store, p.Ledger, "a mark that is none")
				}
				co.members = append(co.members, member{code: codeBytes(code), mark: mark(b), part: int32(i)})
			}
		}
	}
	for i, co := range a.cohorts {
		slices.SortFunc(co.members, func(x, y member) int { return slices.Compare(x.code[:], y.code[:]) })
		for _, m := range co.members {
			a.where[m.code] = int32(i)
		}
	}
	if a.old.Marks == "" {
		return nil
	}
	var w withdrawn
	if err := readOwn(a.store, a.old.Marks, &w); err != nil {
		return err
	}
	for _, m := range w.Marks {
		a.gone[m] = true
	}
	return nil
}

func (a *appender) goneMark(code shortCode) string {
	return pseudonym(a.opt.Key, "withdrawn", hex.EncodeToString(code[:]))
}

// run reads the reports: for what was reported twice, for who stands in which
// group, for what has changed of the samples that are published, and for the
// rows of the parts that are written.
func (a *appender) run(pass func(func(*normalize.Report) error) error) error {
	if err := a.c.survey(pass); err != nil {
		return err
	}
	a.people = a.c.census.people()
	if len(a.where) > 0 {
		if err := pass(a.compare); err != nil {
			return err
		}
	}
	for _, co := range a.cohorts {
		a.settle(co)
	}
	a.marks, a.misfits = nil, nil
	a.admit()
	for _, co := range a.cohorts {
		a.told.Samples += len(co.members)
	}
	parts, left := a.parts()
	a.told.Parts = len(parts) + len(left)
	a.told.Edition = a.old.Edition
	if len(parts) == 0 && len(a.touched) == 0 && len(a.stray) == 0 && a.old.Edition > 0 {
		return nil // nothing is new, and nothing went
	}
	dir, err := os.MkdirTemp(a.opt.Work, "windrow-parts-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }()
	written, err := a.write(dir, parts, pass)
	if err != nil {
		return err
	}
	return a.commit(append(left, written...))
}

// shownAs is what a class would show of a record now; ok is false where it
// can't show it.
func (a *appender) shownAs(cl *class, sample, report string, rep *normalize.Report, rec *normalize.Record) (s shown, ok bool) {
	key := a.c.census.cells[a.c.census.seats[codeBytes(sample)].cell]
	if key.quasi.at(cl.levels) != cl.quasi {
		return s, false
	}
	tests := a.c.census.full.list[key.full]
	if cl.withheldPrint() {
		tests = a.c.census.bare.list[key.bare]
	}
	if cl.levels[qLab] == labExact && !slices.Equal(tests, cl.shared) || len(cl.shared.common(tests)) != len(cl.shared) {
		return s, false
	}
	if cl.withheldPrint() && !cl.limits.cover(cl.quasi[qLab], cl.shared, outgoing(rec)) {
		return s, false
	}
	return a.c.census.showAs(cl, sample, report, rep, rec), true
}

// compare works out what would be published now of the samples that are.
func (a *appender) compare(rep *normalize.Report) error {
	if !rep.Status.Used() {
		return nil
	}
	return a.c.records(rep, func(rec *normalize.Record) error {
		sample, report := codesOf(a.opt.Key, rep, rec)
		code := codeBytes(sample)
		at, published := a.where[code]
		if _, counted := a.c.census.seats[code]; !published || !counted || len(outgoing(rec)) == 0 {
			return nil
		}
		s, ok := a.shownAs(a.cohorts[at].class, sample, report, rep, rec)
		if !ok {
			a.misfits[code] = true
			return nil
		}
		a.marks[code] = a.marks[code].with(a.opt.Key, s.tables(sample, report))
		return nil
	})
}

// with is the mark of a sample with the rows of one more of its reports. In
// which order they come is all the same.
func (m mark) with(key []byte, rows [3][]row) mark {
	h := hmac.New(sha256.New, key)
	for i, t := range rows {
		h.Write([]byte{byte(i)})
		for _, r := range t {
			for _, f := range r.fields {
				h.Write([]byte(f))
				h.Write([]byte{0x1f})
			}
			h.Write([]byte{0x1e})
		}
	}
	for i, b := range h.Sum(nil)[:len(m)] {
		m[i] ^= b
	}
	return m
}

// cover says whether the limits are wide enough for those of some results.
func (l limits) cover(lab string, shared panel, results []*normalize.Result) bool {
	for i, words := range named(results, bareWords) {
		res := results[i]
		if _, out := slices.BinarySearch(shared, words); !out || res.Censored == "" || !plainNumber(string(res.Value)) {
			continue
		}
		k := limitKey(lab, res)
		wider := limits{k: l[k]}
		wider.note(lab, []*normalize.Result{res})
		if wider[k] != l[k] {
			return false
		}
	}
	return true
}

// admit makes cohorts of the samples that are new, as far as enough are alike.
func (a *appender) admit() {
	fresh := func(code shortCode) bool {
		_, published := a.where[code]
		return !published && !a.gone[a.goneMark(code)]
	}
	out, waiting := a.plan(fresh)
	for _, co := range out {
		a.told.Added += len(co.members)
	}
	a.told.Waiting = len(waiting)
	a.cohorts = append(a.cohorts, out...)
}

// plan makes cohorts of some samples, and gives those that no class takes.
func (a *appender) plan(in func(shortCode) bool) (out []*cohort, left []shortCode) {
	chosen := map[shortCode]bool{}
	for code := range a.c.census.seats {
		if in(code) {
			chosen[code] = true
		}
	}
	p := planOf(a.c.census.count(a.people, func(code shortCode) bool { return chosen[code] }), a.c.census, a.opt.MinGroup)
	by := map[*class]*cohort{}
	for _, code := range slices.SortedFunc(maps.Keys(chosen), func(x, y shortCode) int { return slices.Compare(x[:], y[:]) }) {
		cl := p.of[a.c.census.cells[a.c.census.seats[code].cell]]
		if cl == nil {
			left = append(left, code)
			continue
		}
		if by[cl] == nil {
			by[cl] = &cohort{class: cl}
			out = append(out, by[cl])
		}
		by[cl].members = append(by[cl].members, member{code: code, part: -1})
	}
	for cl := range by {
		cl.cells, cl.people = nil, crowd{} // of use to the plan alone, and large
	}
	return out, left
}
