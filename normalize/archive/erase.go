package archive

import (
	"encoding/json"
	"errors"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// An EraseRequest says what to erase of one report. The archive knows no
// stage's types, so that the caller says which files hold the person's data
// and what the report is without them.
type EraseRequest struct {
	Report    string    // its id
	Kept      []byte    // the report without what tells who the person is, which stays
	Originals []string  // SHA-256 of every original that holds the person's data
	Arrivals  []string  // places of their notes
	Advice    []string  // ids of the advice that goes, each the report's id, a hyphen and more
	By        string    // who erases
	Because   string    // why; it stays, and must not name the person
	On        time.Time // when
	Orphans   []string  // see [Tombstone]
	Requested []string  // see [Tombstone]
}

// BeginErasure writes the version of a report that stays, and the tombstone
// that says what goes: every other version of it, every ruling on it and proof
// of it, and the advice, originals and notes that were named. Nothing is removed yet; see
// [Archive.CarryOut]. It gives nil where nothing is left to erase. No writer
// may work on the same report or originals meanwhile.
func (a *Archive) BeginErasure(q EraseRequest) (*Tombstone, error) {
	g, err := a.graves(nil)
	if err != nil {
		return nil, err
	}
	if err := a.vouchStones(q.Report); err != nil {
		return nil, err
	}
	for _, t := range g.stones[q.Report] {
		if !t.Finished {
			return nil, newFault(ErrConflict, nil, ingest.Reason{Code: "erasure-open", Where: ingest.Place{File: Tombstones + "/" + q.Report},
				What: "an earlier erasure of this report was not finished", Next: "finish it first, with windrow archive erase --finish"})
		}
	}
	v, _, err := a.Put(Reports, q.Report, q.Kept)
	if err != nil {
		return nil, err
	}
	t := &Tombstone{Schema: TombstoneSchema, ID: q.Report, By: q.By, Because: q.Because, On: q.On.UTC().Truncate(time.Second),
		Kept: Erased{Reports, q.Report, v, hashOf(q.Kept)}, Originals: []string{}, Documents: []Erased{}, Arrivals: []string{},
		Orphans: sortedSet(q.Orphans), Requested: sortedSet(q.Requested)}
	for _, d := range append([]Erased{{Kind: Reports, ID: q.Report}, {Kind: Rulings, ID: q.Report}, {Kind: Proofs, ID: q.Report}}, adviceOf(q.Advice)...) {
		vs, err := a.list(d.Kind, d.ID)
		if err != nil {
			return nil, err
		}
		for _, n := range vs.full {
			if d.Version = n; d.place() == t.Kept.place() {
				continue
			}
			b, err := a.fs.ReadFile(a.path(filepath.FromSlash(d.place())))
			if err != nil {
				return nil, ioFault("read a document", d.place(), err)
			}
			d.SHA256 = hashOf(b)
			t.Documents = append(t.Documents, d)
		}
	}
	for _, h := range sortedSet(q.Originals) {
		switch ok, err := a.Has(h); {
		case err != nil:
			return nil, err
		case ok:
			t.Originals = append(t.Originals, h)
		}
	}
	for _, p := range sortedSet(q.Arrivals) {
		if _, err := a.fs.Lstat(a.path(filepath.FromSlash(p))); err == nil {
			t.Arrivals = append(t.Arrivals, p)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return nil, ioFault("look for a note", p, err)
		}
	}
	if len(t.Documents)+len(t.Originals)+len(t.Arrivals) == 0 {
		return nil, nil
	}
	return t, a.putTombstone(t)
}

func adviceOf(ids []string) (out []Erased) {
	for _, id := range sortedSet(ids) {
		out = append(out, Erased{Kind: Advice, ID: id})
	}
	return out
}

func sortedSet(s []string) []string {
	return slices.Compact(slices.Sorted(slices.Values(s)))
}

func (a *Archive) putTombstone(t *Tombstone) error {
	b, err := t.JSON()
	if err == nil {
		err = t.check()
	}
	if err != nil {
		return newFault(ErrKey, err, ingest.Reason{Code: "tombstone-refused", Where: ingest.Place{File: Tombstones + "/" + t.ID},
			What: "what was to be erased can't be said in a tombstone, so that nothing was removed", Found: err.Error(), Next: "say by whom and why; otherwise report this: it is a fault of the program"})
	}
	_, _, err = a.Put(Tombstones, t.ID, b)
	return err
}

// CarryOut removes what a tombstone of this archive names, as far as it is
// still there. It removes nothing unless the version that stays is there and
// sound. An original that came again since, by a note or for a report that no
// tombstone names, stays. It may be called again and again.
func (a *Archive) CarryOut(t *Tombstone) error {
	g, err := a.graves(nil)
	if err != nil {
		return err
	}
	if err := a.vouchStones(t.ID); err != nil {
		return err
	}
	if err := a.keptIsThere(g, t); err != nil {
		return err
	}
	var gone []string
	for _, d := range t.Documents {
		gone = append(gone, d.place(), d.place()+sumSuffix)
	}
	gone = append(gone, t.Arrivals...)
	var files []string
	for _, h := range t.Originals {
		ok, err := a.Has(h)
		if err != nil {
			return err
		}
		if ok {
			files = append(files, h)
		}
	}
	again := map[string]bool{}
	if len(files) > 0 {
		if again, err = a.cameAgain(g, files); err != nil {
			return err
		}
	}
	for _, h := range t.Originals {
		if !again[h] {
			gone = append(gone, a.rel(a.originalPath(Ref(refPrefix+h))))
		}
	}
	for i, p := range gone {
		err := a.fs.Remove(a.path(filepath.FromSlash(p)))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return ioFault("remove a file", p, err)
		}
		// A removal that a power cut could take back is none. Also where it was
		// gone before: who removed it may have died before this.
		if i+1 == len(gone) || path.Dir(gone[i+1]) != path.Dir(p) {
			if err := a.fs.SyncDir(a.path(filepath.FromSlash(path.Dir(p)))); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return ioFault("remove a file", p, err)
			}
		}
	}
	return nil
}

// vouchStones writes the checksum beside each tombstone of a report whose
// writer died before it did, and leaves it on the disk.
func (a *Archive) vouchStones(id string) error {
	vs, err := a.Versions(Tombstones, id)
	if err != nil {
		return err
	}
	for _, v := range vs {
		b, err := a.read(Tombstones, id, v)
		if err != nil {
			return err
		}
		if err := a.finish(Tombstones, id, v, b); err != nil {
			return err
		}
	}
	return nil
}

// keptIsThere makes sure that what is to stay of a report does, unless a
// later erasure has taken it.
func (a *Archive) keptIsThere(g *graveyard, t *Tombstone) error {
	if g.documents[t.Kept.place()] != nil {
		return nil
	}
	b, err := a.fs.ReadFile(a.path(filepath.FromSlash(t.Kept.place())))
	if err == nil && hashOf(b) == t.Kept.SHA256 {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return ioFault("read a document", t.Kept.place(), err)
	}
	return newFault(ErrConflict, nil, ingest.Reason{Code: "erasure-kept-missing", Where: ingest.Place{File: t.Kept.place()},
		What: "what is to stay of an erased report is missing or damaged, so that nothing more was removed", Expected: "SHA-256 " + t.Kept.SHA256,
		Next: "bring this file back from a backup, then run windrow archive erase --finish"})
}

// cameAgain reports which originals are named by a note or a report that no
// tombstone names: these came after the erasure, and it isn't about them.
func (a *Archive) cameAgain(g *graveyard, hashes []string) (map[string]bool, error) {
	again := map[string]bool{}
	err := a.EachArrival(func(where string, n Arrival) error {
		if g.arrivals[where] == nil && slices.Contains(hashes, n.SHA256) {
			again[n.SHA256] = true
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = a.EachID(Reports, func(id string) error {
		vs, err := a.Versions(Reports, id)
		if err != nil {
			return err
		}
		for _, v := range vs {
			p := Erased{Kind: Reports, ID: id, Version: v}.place()
			if g.documents[p] != nil || g.kept[p] {
				continue
			}
			b, err := a.fs.ReadFile(a.path(filepath.FromSlash(p)))
			if err != nil {
				return ioFault("read a document", p, err)
			}
			for _, h := range hashes {
				if !again[h] && strings.Contains(string(b), h) && sourceOf(b) == h {
					again[h] = true
				}
			}
		}
		return nil
	})
	return again, err
}

func sourceOf(report []byte) string {
	var d struct {
		Source struct {
			SHA256 string `json:"sha256"`
		} `json:"source"`
	}
	_ = json.Unmarshal(report, &d) // what can't be read names nothing; Verify tells
	return d.Source.SHA256
}

// FinishErasure says in the archive that an erasure is complete. Call it when
// everything outside the archive is removed as well.
func (a *Archive) FinishErasure(t *Tombstone) error {
	f := *t
	f.Finished = true
	return a.putTombstone(&f)
}

// OpenErasures lists the erasures that were begun and not finished.
func (a *Archive) OpenErasures() ([]*Tombstone, error) {
	g, err := a.graves(nil)
	if err != nil {
		return nil, err
	}
	return g.open(), nil
}

// Graves tells of what was erased.
type Graves struct{ g *graveyard }

// Erasures reads all tombstones, to ask of many things whether they were
// erased. A tombstone that can't be read is an error.
func (a *Archive) Erasures() (*Graves, error) {
	g, err := a.graves(nil)
	return &Graves{g}, err
}

// Original reports whether an original was erased, by its SHA-256. It may
// have come again since.
func (g *Graves) Original(sha256hex string) bool { return g.g.originals[sha256hex] != nil }

// Version reports whether a version of a document was erased.
func (g *Graves) Version(kind, id string, version int) bool {
	return validID(id) && g.g.documents[Erased{Kind: kind, ID: id, Version: version}.place()] != nil
}

// Kept reports whether a version of a report is what stayed of it.
func (g *Graves) Kept(id string, version int) bool {
	return validID(id) && g.g.kept[Erased{Kind: Reports, ID: id, Version: version}.place()]
}

// Orphan reports whether the file that a report came in was erased, although
// the report was not.
func (g *Graves) Orphan(report string) bool { return g.g.orphans[report] }
