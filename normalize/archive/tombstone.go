package archive

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// TombstoneSchema is the version of the form of tombstones that this package
// writes and reads.
const TombstoneSchema = "windrow-tombstone/1"

// A Tombstone stands for what was erased of one report at a person's request,
// under the report's id. It is written before anything is removed, so that an
// erasure that is cut short shows and can be completed, and once more with
// Finished when everything is gone. It names files by their place and hash
// only, and must hold nothing that tells who the person was.
type Tombstone struct {
	Schema    string    `json:"schema"`
	ID        string    `json:"id"` // of the report
	By        string    `json:"by"` // who erased
	On        time.Time `json:"on"` // in universal time, to the second
	Because   string    `json:"because"`
	Finished  bool      `json:"finished"`            // everything below is gone
	Kept      Erased    `json:"kept"`                // the version of the report that stays, without what told who the person was
	Originals []string  `json:"originals"`           // SHA-256 of the files that went
	Documents []Erased  `json:"documents"`           // the versions that went
	Arrivals  []string  `json:"arrivals"`            // the places of the notes that went
	Orphans   []string  `json:"orphans,omitempty"`   // ids of reports of others that came in an original that went, and can't be read again as they were
	Requested []string  `json:"requested,omitempty"` // ids of the records whose client asked; all of the report where there are none
}

// An Erased names one version of a document.
type Erased struct {
	Kind    string `json:"kind"`
	ID      string `json:"id"`
	Version int    `json:"version"`
	SHA256  string `json:"sha256"` // of its bytes
}

// place is where a version stands, from the archive's folder.
func (d Erased) place() string {
	return d.Kind + "/" + shard(d.ID) + "/" + d.ID + "/" + versionName(d.Version)
}

// ParseTombstone reads a tombstone and refuses one that is not whole, or that
// names anything but what an archive may hold: what it names will be removed.
func ParseTombstone(b []byte) (*Tombstone, error) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	var t Tombstone
	if err := d.Decode(&t); err != nil {
		return nil, err
	}
	return &t, t.check()
}

func (t *Tombstone) check() error {
	switch {
	case t.Schema != TombstoneSchema:
		return fmt.Errorf("its form is %q and not %s", t.Schema, TombstoneSchema)
	case !validID(t.ID), strings.TrimSpace(t.By) == "", strings.TrimSpace(t.Because) == "", t.On.IsZero():
		return errors.New("it does not say of which report, by whom, when or why")
	case t.Kept.Kind != Reports || t.Kept.ID != t.ID:
		return errors.New("it does not name the version of its report that stays")
	}
	for _, d := range append([]Erased{t.Kept}, t.Documents...) {
		ofReport := d.ID == t.ID || d.Kind == Advice && strings.HasPrefix(d.ID, t.ID+"-")
		if !erasable(d.Kind) || !validID(d.ID) || d.Version < 1 || !isHash(d.SHA256) || !ofReport {
			return fmt.Errorf("it names a document that it can't be about: %s/%s, version %d", d.Kind, d.ID, d.Version)
		}
		if d.Kind == Reports && d.Version > t.Kept.Version {
			return fmt.Errorf("it names version %d of the report, which is later than the one that stays", d.Version)
		}
	}
	for _, d := range t.Documents {
		if d.place() == t.Kept.place() {
			return errors.New("it names the same version as one that went and one that stays")
		}
	}
	for _, h := range t.Originals {
		if !isHash(h) {
			return fmt.Errorf("it names an original by %q, which is no SHA-256", h)
		}
	}
	for _, p := range t.Arrivals {
		if !validArrivalPlace(p) {
			return fmt.Errorf("it names a note by %q, which is no place of one", p)
		}
	}
	return nil
}

// JSON is the tombstone as the archive keeps it.
func (t *Tombstone) JSON() ([]byte, error) { return encode(t) }

// A graveyard is what all tombstones of an archive say together.
type graveyard struct {
	stones    map[string][]*Tombstone // by report: each erasure once, with Finished where it was
	latest    map[string]int          // by report: the number of the last version of its tombstone
	originals map[string]*Tombstone   // by SHA-256
	documents map[string]*Tombstone   // by place
	kept      map[string]bool         // by place
	arrivals  map[string]*Tombstone   // by place
	orphans   map[string]bool
}

func newGraveyard() *graveyard {
	return &graveyard{stones: map[string][]*Tombstone{}, latest: map[string]int{}, originals: map[string]*Tombstone{},
		documents: map[string]*Tombstone{}, kept: map[string]bool{}, arrivals: map[string]*Tombstone{}, orphans: map[string]bool{}}
}

// graves reads every tombstone. An archive without any, which is the common
// one, is found to be so by one look into one folder. bad is told of a
// tombstone that can't be read; nil makes that an error.
func (a *Archive) graves(bad func(id string, err error)) (*graveyard, error) {
	g := newGraveyard()
	err := a.EachID(Tombstones, func(id string) error {
		err := g.read(a, id)
		if err != nil && bad != nil {
			bad(id, err)
			return nil
		}
		return err
	})
	return g, err
}

// read adds the tombstones of one report.
func (g *graveyard) read(a *Archive, id string) error {
	vs, err := a.Versions(Tombstones, id)
	if err != nil {
		return err
	}
	var open *Tombstone
	for _, v := range vs {
		t, err := a.tombstone(id, v)
		if err != nil {
			return err
		}
		if t.Finished && open != nil && sameErasure(open, t) {
			open.Finished = true
		} else {
			g.stones[id] = append(g.stones[id], t)
			open = t
		}
		g.latest[id] = v
		g.kept[t.Kept.place()] = true
		for _, h := range t.Originals {
			g.originals[h] = t
		}
		for _, d := range t.Documents {
			g.documents[d.place()] = t
		}
		for _, p := range t.Arrivals {
			g.arrivals[p] = t
		}
		for _, o := range t.Orphans {
			g.orphans[o] = true
		}
	}
	return nil
}

// tombstone reads one version of a tombstone, once: what stands never changes.
func (a *Archive) tombstone(id string, v int) (*Tombstone, error) {
	place := Erased{Kind: Tombstones, ID: id, Version: v}.place()
	a.mu.Lock()
	known, ok := a.stones[place]
	a.mu.Unlock()
	if ok {
		return &known, nil
	}
	b, err := a.read(Tombstones, id, v)
	if err != nil {
		return nil, err
	}
	t, err := ParseTombstone(b)
	if err == nil && t.ID != id {
		err = fmt.Errorf("it says that it is of %s", t.ID)
	}
	if err != nil {
		return nil, newFault(ErrDamaged, err, ingest.Reason{Code: "tombstone-damaged", Where: ingest.Place{File: place},
			What: "the tombstone of an erased report can't be understood", Found: err.Error(), Next: "bring this file back from a backup; run windrow archive verify"})
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.stones == nil {
		a.stones = map[string]Tombstone{}
	}
	a.stones[place] = *t
	return t, nil
}

// sameErasure reports whether two tombstones differ in nothing but Finished.
func sameErasure(x, y *Tombstone) bool {
	a, b := *x, *y
	a.Finished, b.Finished = true, true
	ab, err1 := a.JSON()
	bb, err2 := b.JSON()
	return err1 == nil && err2 == nil && bytes.Equal(ab, bb)
}

// open lists the erasures that were begun and not finished, in order.
func (g *graveyard) open() (out []*Tombstone) {
	for _, t := range g.all() {
		if !t.Finished {
			out = append(out, t)
		}
	}
	return out
}

// all lists the erasures in order of their reports' ids.
func (g *graveyard) all() (out []*Tombstone) {
	for _, id := range slices.Sorted(maps.Keys(g.stones)) {
		out = append(out, g.stones[id]...)
	}
	return out
}

// EachTombstone visits the erasures of the archive, each once, in order of
// the reports' ids and of their time. It stops at the first error.
func (a *Archive) EachTombstone(visit func(t *Tombstone) error) error {
	g, err := a.graves(nil)
	if err != nil {
		return err
	}
	for _, t := range g.all() {
		if err := visit(t); err != nil {
			return err
		}
	}
	return nil
}

// erasable reports whether documents of a kind can be about a person.
func erasable(kind string) bool {
	return kind == Reports || kind == Advice || kind == Rulings || kind == Proofs
}

// lastErased is the highest version of a document that was erased, whose
// number must not be given again. 0 is for none.
func (a *Archive) lastErased(kind, id string) (int, error) {
	if !erasable(kind) {
		return 0, nil
	}
	of, _, _ := strings.Cut(id, "-")
	if _, err := a.fs.Lstat(a.path(Tombstones, shard(of), of)); errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	g := newGraveyard()
	if err := g.read(a, of); err != nil {
		return 0, err
	}
	last := 0
	for _, t := range g.stones[of] {
		for _, d := range t.Documents {
			if d.Kind == kind && d.ID == id {
				last = max(last, d.Version)
			}
		}
	}
	return last, nil
}

// wasErased words that something is not there since it was erased, or gives
// the error for what is simply not there. A tombstone that can't be read
// can't excuse anything.
func (a *Archive) wasErased(what, path string, find func(g *graveyard) *Tombstone) error {
	g, err := a.graves(func(string, error) {})
	if err != nil {
		return notFound(what)
	}
	t := find(g)
	if t == nil {
		return notFound(what)
	}
	return newFault(ErrErased, errors.Join(ErrNotFound, fs.ErrNotExist), ingest.Reason{Code: "archive-erased", Where: ingest.Place{File: path},
		What:  "this was erased from the archive at a person's request",
		Found: fmt.Sprintf("erased by %s on %s", t.By, t.On.UTC().Format(time.DateOnly)), Next: "nothing: it is gone for good, and what may stay of the report is its latest version"})
}

func hashOf(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}
