package dataset

import (
	"bytes"
	"cmp"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// partSamples is how many samples a part has at most: as many as are sorted
// and written again together.
const partSamples = 20_000

// partTables are the tables of a dataset in parts. The wide table is none of
// them, since its columns are others from one part to the next.
var partTables = [3]struct {
	name    string
	columns []Column
}{{"results", withoutCounty(columns[:])}, {"estimates", estimateColumns[:]}, {"derived", derivedColumns[:]}}

// withoutCounty leaves out the column that the names of the folders tell, as
// Hive's convention wants it.
func withoutCounty(cs []Column) []Column {
	return slices.Delete(slices.Clone(cs), colCounty, colCounty+1)
}

// A piece is a part that is to be written.
type piece struct {
	Part
	cohorts []*cohort // with the samples of this part alone
	spool   [3]bytes.Buffer
	onDisk  [3]bool
	rows    [3]int
}

func yearOf(period string) string {
	if len(period) > 4 && period != Suppressed {
		return period[:4]
	}
	return period
}

// parts are the parts that are to be written, and those of the edition before
// that stay as they are. What the cohorts hold of samples goes over to the
// parts.
func (a *appender) parts() (pieces []*piece, left []Part) {
	again := map[int32]*piece{}
	for i, p := range a.old.Parts {
		if !a.touched[int32(i)] {
			left = append(left, p)
			continue
		}
		again[int32(i)] = &piece{Part: Part{State: p.State, County: p.County, Year: p.Year}}
	}
	fresh := map[[2]string]*piece{} // that still has room, by county and year
	n := 0
	for _, co := range a.cohorts {
		if co.id == "" {
			n++
			co.id = fmt.Sprintf("%d-%d", a.old.Edition+1, n)
		}
		run, begun := (*cohort)(nil), 0 // members one after the other that go the same way
		for j, m := range co.members {
			var to *piece
			if m.part >= 0 {
				if to = again[m.part]; to == nil {
					continue
				}
			} else {
				at := [2]string{co.class.quasi[qCounty], yearOf(co.class.quasi[qPeriod])}
				if to = fresh[at]; to == nil || to.Samples == partSamples {
					to = &piece{Part: Part{State: a.opt.State, County: at[0], Year: at[1]}}
					fresh[at], pieces = to, append(pieces, to)
				}
			}
			to.Samples++
			if last := len(to.cohorts) - 1; last < 0 || to.cohorts[last].id != co.id {
				to.cohorts = append(to.cohorts, &cohort{id: co.id, class: co.class, kept: co.kept})
			}
			mine := to.cohorts[len(to.cohorts)-1]
			switch {
			case len(mine.members) == 0:
				run, begun, mine.members = mine, j, co.members[j:j+1:j+1]
			case mine == run && begun+len(mine.members) == j:
				mine.members = co.members[begun : j+1 : j+1]
			default:
				mine.members = append(mine.members, m)
			}
		}
		co.members = nil
	}
	a.where = nil
	for _, i := range slices.Sorted(maps.Keys(again)) {
		if again[i].Samples > 0 {
			pieces = append(pieces, again[i])
		}
	}
	return pieces, left
}

// write writes the parts, and gives them as they are in the store.
func (a *appender) write(dir string, pieces []*piece, pass func(func(*normalize.Report) error) error) ([]Part, error) {
	if len(pieces) == 0 {
		return nil, nil
	}
	w := &partWriter{appender: a, dir: dir, pieces: pieces, at: map[shortCode]slot{}, check: newPartsRecount()}
	for i, p := range pieces {
		for c, co := range p.cohorts {
			for m := range co.members {
				w.at[co.members[m].code] = slot{int32(i), int32(c), int32(m)}
			}
		}
	}
	if err := pass(w.take); err != nil {
		return nil, err
	}
	for _, p := range pieces {
		for _, co := range p.cohorts {
			for i := range co.members {
				m := &co.members[i]
				if !m.met || co.kept && m.now != m.mark {
					return nil, w.movedOn()
				}
			}
		}
	}
	w.at = nil
	if err := w.check.enough(a.opt.MinGroup); err != nil {
		return nil, &passedOn{err}
	}
	w.check = nil
	var out []Part
	for i, p := range pieces {
		part, err := w.finish(i, p)
		if err != nil {
			return nil, err
		}
		out = append(out, part)
	}
	a.told.Written = len(out)
	return out, nil
}

func (a *appender) movedOn() error {
	return &passedOn{&ingest.Reason{Code: "dataset-moved-on", Severity: ingest.Fail, Where: ingest.Place{File: a.store.Name()}, What: "the archive changed while the dataset was made of it; the edition before holds",
		Next: "run it again"}}
}

// A slot is where a sample stands: the piece, its cohort there, and the member.
type slot struct{ piece, cohort, member int32 }

// A partWriter deals rows to the parts that they belong to.
type partWriter struct {
	*appender
	dir    string
	pieces []*piece
	at     map[shortCode]slot
	check  *recount // within each cohort
	size   int
}

func (w *partWriter) take(rep *normalize.Report) error {
	if !rep.Status.Used() {
		return nil
	}
	return w.c.records(rep, func(rec *normalize.Record) error {
		sample, report := codesOf(w.opt.Key, rep, rec)
		code := codeBytes(sample)
		at, ok := w.at[code]
		if !ok || len(outgoing(rec)) == 0 {
			return nil
		}
		co := w.pieces[at.piece].cohorts[at.cohort]
		s, ok := w.shownAs(co.class, sample, report, rep, rec)
		if !ok {
			return nil // the archive changed: found when the marks are counted
		}
		rows := s.tables(sample, report)
		m := &co.members[at.member]
		m.met, m.now = true, m.now.with(w.opt.Key, rows)
		// What was kept was counted when it came out, and is as it was.
		if len(rows[0]) > 0 && !co.kept {
			w.check.take(co.id, sample, w.people[s.seat.client], rows[0], s.found, len(w.c.census.again[code]) > 0)
		}
		if len(rows[0]) == 0 {
			return nil
		}
		return w.deal(int(at.piece), rows)
	})
}

// deal puts rows on the heap of their part, which goes to the disk when all
// heaps together are too large.
func (w *partWriter) deal(i int, rows [3][]row) error {
	p := w.pieces[i]
	for t, rs := range rows {
		before := p.spool[t].Len()
		for _, r := range rs {
			f := r.fields
			if t == 0 {
				f = slices.Delete(slices.Clone(f), colCounty, colCounty+1)
			}
			writeText(&p.spool[t], r.order)
			for _, x := range f {
				writeText(&p.spool[t], x)
			}
		}
		p.rows[t] += len(rs)
		w.size += p.spool[t].Len() - before
	}
	if w.size < w.opt.Memory {
		return nil
	}
	w.size = 0
	for i, p := range w.pieces {
		for t := range p.spool {
			if err := p.spill(t, w.heap(i, t)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *partWriter) heap(i, t int) string {
	return filepath.Join(w.dir, fmt.Sprintf("part-%d-%d", i, t))
}

func (p *piece) spill(t int, at string) error {
	if p.spool[t].Len() == 0 {
		return nil
	}
	f, err := os.OpenFile(at, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(p.spool[t].Bytes())
	p.spool[t], p.onDisk[t] = bytes.Buffer{}, true
	return errors.Join(err, f.Close())
}

// unspool gives the rows of a table of a part, in the order in which they came.
func (w *partWriter) unspool(i, t int, p *piece, take func([]byte) error) error {
	if p.onDisk[t] {
		b, err := os.ReadFile(w.heap(i, t))
		if err == nil {
			err = take(b)
		}
		if err != nil {
			return err
		}
	}
	err := take(p.spool[t].Bytes())
	p.spool[t] = bytes.Buffer{}
	return err
}

// finish writes the files of a part and puts them in the store.
func (w *partWriter) finish(i int, p *piece) (Part, error) {
	for t := range partTables {
		if p.rows[t] == 0 {
			continue
		}
		if err := w.table(i, t, p); err != nil {
			return Part{}, err
		}
	}
	l := ledger{Schema: ManifestSchema}
	for _, co := range p.cohorts {
		g := co.class.ledger(co.id)
		for _, m := range co.members {
			g.Samples[hex.EncodeToString(m.code[:])] = hex.EncodeToString(m.now[:])
		}
		l.Groups = append(l.Groups, g)
	}
	b, err := encode(l, " ")
	if err != nil {
		return Part{}, err
	}
	p.Ledger, _ = contentName(own, "ledger", ".json", b)
	return p.Part, putOwn(w.store, p.Ledger, b)
}

// table writes one table of a part, in the order of the samples' codes.
func (w *partWriter) table(i, t int, p *piece) error {
	dir := filepath.Join(w.dir, "sorted")
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return err
	}
	about := partTables[t]
	to := newTable(dir, about.name+".csv", about.columns, w.opt.Options)
	if err := w.unspool(i, t, p, func(b []byte) error { return eachRow(b, len(about.columns), to.add) }); err != nil {
		return err
	}
	if err := to.write(to.each, nil); err != nil {
		return err
	}
	for _, format := range []string{"parquet", "csv"} {
		if format == "csv" && !w.opt.CSV {
			continue
		}
		b, err := os.ReadFile(filepath.Join(dir, about.name+"."+format))
		if err != nil {
			return err
		}
		name, hash := contentName(path.Join(format, about.name, p.folder()), "part", "."+format, b)
		if err := putOwn(w.store, name, b); err != nil {
			return err
		}
		p.Files = append(p.Files, PartFile{Table: about.name, Format: format, Path: name, Bytes: int64(len(b)), Rows: p.rows[t], SHA256: hash})
	}
	return nil
}

// ledger is a class as a group of a ledger, without its samples.
func (cl *class) ledger(id string) ledgerGroup {
	g := ledgerGroup{ID: id, Levels: cl.levels, Quasi: cl.quasi, Tests: cl.shared, Samples: map[string]string{}}
	for k, d := range cl.limits {
		if _, out := slices.BinarySearch(cl.shared, k[1]); out {
			g.Limits = append(g.Limits, ledgerLimit{k[0], k[1], k[2], d.Text('f')})
		}
	}
	slices.SortFunc(g.Limits, func(x, y ledgerLimit) int {
		return cmp.Or(cmp.Compare(x.Lab, y.Lab), cmp.Compare(x.Test, y.Test), cmp.Compare(x.Sign, y.Sign))
	})
	return g
}

// commit writes the manifest, with which the new edition holds, and removes
// what it does not name. Of two runs at once one alone can write it.
func (a *appender) commit(parts []Part) error {
	slices.SortFunc(parts, func(x, y Part) int {
		return cmp.Or(cmp.Compare(x.folder(), y.folder()), cmp.Compare(x.Ledger, y.Ledger))
	})
	o := &a.opt
	m := &Manifest{Schema: ManifestSchema, Edition: a.old.Edition + 1, Title: cmp.Or(o.Title, noTitle), Office: o.Office, Terms: cmp.Or(o.Licence, noLicence), Windrow: o.Version, Scope: o.scope(),
		Samples: a.told.Samples, Waiting: a.told.Waiting, Withdrawn: len(a.gone), Keys: []string{"state", "county", "year"}, Parts: parts}
	for _, t := range partTables {
		m.Tables = append(m.Tables, PartTable{t.name, schemaOf(t.columns, unitsOf).Fields})
	}
	if len(a.gone) > 0 {
		b, err := encode(withdrawn{ManifestSchema, slices.Sorted(maps.Keys(a.gone))}, " ")
		if err != nil {
			return err
		}
		m.Marks, _ = contentName(own, "withdrawn", ".json", b)
		if err := putOwn(a.store, m.Marks, b); err != nil {
			return err
		}
	}
	b, err := encode(m, " ")
	if err != nil {
		return err
	}
	err = a.store.PutNew(manifestName(m.Edition), b)
	if errors.Is(err, fs.ErrExist) {
		return &passedOn{&ingest.Reason{Code: "dataset-two-runs", Severity: ingest.Fail, Where: ingest.Place{File: a.store.Name()}, What: "another run has written an edition of this dataset in the meantime; that one holds", Next: "run it again"}}
	}
	if err != nil {
		return err
	}
	a.told.Edition, a.told.Parts = m.Edition, len(parts)
	keep, out := m.names(), a.stray
	for n := range a.old.names() {
		out = append(out, n)
	}
	slices.Sort(out)
	for _, n := range out {
		if keep[n] {
			continue
		}
		if err := a.store.Remove(n); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		a.told.Removed++
	}
	return nil
}
