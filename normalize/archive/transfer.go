package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"example.org/windrow/ingest"
)

// A Transfer says what an export or an import did.
type Transfer struct {
	Originals int   `json:"originals"` // that were looked at, and so on
	Documents int   `json:"documents"`
	Arrivals  int   `json:"arrivals"`
	New       int   `json:"new"`        // files that the other side did not have
	Bytes     int64 `json:"bytes"`      // of the new ones
	Skipped   int   `json:"skipped"`    // that were erased on the other side
	Unvouched int   `json:"unvouched"`  // documents without a checksum, being written or left by a crash
	Erasures  int   `json:"tombstones"` // that were carried over, and carried out
}

// A sink is where a transfer writes. A place is from the archive's folder.
type sink interface {
	put(place string, b []byte) (isNew bool, err error)
}

type archiveSink struct{ a *Archive }

func (s archiveSink) put(place string, b []byte) (bool, error) {
	parts := strings.Split(place, "/")
	return s.a.put(b, parts[len(parts)-1], parts[0], parts[1:len(parts)-1]...)
}

type transfer struct {
	ctx  context.Context
	src  *Archive
	to   sink
	skip func(place string) bool // erased on the other side
	late map[string]bool         // documents that are copied with the tombstones

	mu    sync.Mutex // of what follows
	n     Transfer
	gone  []string // listed and not there when it was to be read
	noSum []string // documents without a checksum when they were read
}

// atOnce is how many files of one kind are copied at the same time.
func (t *transfer) atOnce() int {
	if s, ok := t.to.(archiveSink); ok {
		return atOnce(t.src.fs, s.a.fs)
	}
	return atOnce(t.src.fs)
}

// ExportTo copies the archive into another folder, which is made where it is
// absent or empty. It may run beside writers. A folder that already holds a
// copy gets what is new, and loses what was erased here since; one that holds
// an archive of something else is refused before anything is written. Every
// file is checked against its hash on the way.
func (a *Archive) ExportTo(ctx context.Context, dir string) (Transfer, error) {
	to, err := Open(dir)
	if err != nil {
		return Transfer{}, err
	}
	return a.exportOn(ctx, to)
}

func (a *Archive) exportOn(ctx context.Context, to *Archive) (Transfer, error) {
	err := to.EachID(Reports, func(id string) error {
		here, err := a.list(Reports, id)
		if err != nil || here.taken > 0 {
			return err
		}
		return newFault(ErrConflict, nil, ingest.Reason{Code: "export-elsewhere", Where: ingest.Place{File: to.dir},
			What: "the folder holds an archive with a report that this one does not have, so that it is no earlier copy of this one", Found: "report " + id,
			Next: "name an empty folder, or the folder of an earlier export of this archive"})
	})
	if err != nil {
		return Transfer{}, err
	}
	t := &transfer{ctx: ctx, src: a, to: archiveSink{to}, skip: func(string) bool { return false }}
	// What a writer writes last is copied first, so that nothing that was
	// copied names anything that was not; and what was erased meanwhile is
	// erased at the end.
	for _, step := range []func() error{t.arrivals, t.documents, t.originals} {
		if err := step(); err != nil {
			return t.n, err
		}
	}
	if err := t.tombstones(to); err != nil {
		return t.n, err
	}
	return t.n, t.account()
}

// ImportFrom copies another archive into this one, in which no writer may be
// at work. The other is checked first, every byte of it, and compared with
// this one: unless all of it is sound and nothing contradicts what is here,
// an error says so and nothing is written; the problems are given where it is
// not sound. What was erased here stays erased, and what was erased there is
// erased here. It may be called again after it was cut short, and again when
// it was not.
func (a *Archive) ImportFrom(ctx context.Context, other *Archive, validate func(kind string, b []byte) error) (Transfer, []Problem, error) {
	problems, _, err := other.Verify(ctx, validate)
	if err != nil {
		return Transfer{}, problems, err
	}
	grave := slices.DeleteFunc(slices.Clone(problems), func(p Problem) bool { return p.Code == CodeNoSum })
	if len(grave) > 0 {
		return Transfer{}, grave, newFault(ErrDamaged, nil, ingest.Reason{Code: "import-not-sound", Where: ingest.Place{File: other.dir},
			What: "what was to be imported is not sound, so that nothing of it was", Found: fmt.Sprintf("%d problems, the first: %s", len(grave), grave[0]),
			Next: "make the copy anew, or mend it; then import again"})
	}
	here, err := a.graves(nil)
	if err != nil {
		return Transfer{}, nil, err
	}
	there, err := other.graves(nil)
	if err != nil {
		return Transfer{}, nil, err
	}
	t := &transfer{ctx: ctx, src: other, to: archiveSink{a}}
	if t.skip, err = erasedHere(here, other); err != nil {
		return t.n, nil, err
	}
	if err := t.compare(a, there); err != nil {
		return t.n, nil, err
	}
	// In the order in which a writer writes, so that an import that is cut
	// short leaves nothing that names what is not there.
	for _, step := range []func() error{t.originals, t.documents, func() error { return t.tombstones(a) }, t.arrivals} {
		if err := step(); err != nil {
			return t.n, nil, err
		}
	}
	return t.n, nil, t.account()
}

// erasedHere tells of what was erased on this side and must not come back by
// an import. An original that came again there since the erasure may.
func erasedHere(here *graveyard, other *Archive) (func(place string) bool, error) {
	var hashes []string
	for h := range here.originals {
		ok, err := other.Has(h)
		if err != nil {
			return nil, err
		}
		if ok {
			hashes = append(hashes, h)
		}
	}
	again := map[string]bool{}
	if len(hashes) > 0 {
		var err error
		if again, err = other.cameAgain(here, hashes); err != nil {
			return nil, err
		}
	}
	return func(place string) bool {
		if h, ok := strings.CutPrefix(path.Base(place), refPrefix); ok {
			return here.originals[h] != nil && !again[h]
		}
		place = strings.TrimSuffix(place, sumSuffix)
		return here.documents[place] != nil || here.arrivals[place] != nil
	}, nil
}

// compare refuses an import that contradicts what is here.
func (t *transfer) compare(a *Archive, there *graveyard) error {
	conflict := func(place, what string) error {
		return newFault(ErrConflict, nil, ingest.Reason{Code: "import-conflict", Where: ingest.Place{File: place},
			What: what + ", so that nothing was imported", Next: "compare the two; they are no copies of the same archive, or one of them was worked on after they parted"})
	}
	check := func(place string) error {
		if err := t.ctx.Err(); err != nil {
			return err
		}
		if t.skip(place) {
			return nil
		}
		have, err := a.fs.ReadFile(a.path(filepath.FromSlash(place)))
		if errors.Is(err, fs.ErrNotExist) || err == nil && len(have) == 0 {
			return nil
		}
		if err != nil {
			return ioFault("read a file", place, err)
		}
		b, err := t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place)))
		if err != nil {
			return ioFault("read a file", place, err)
		}
		if string(have) != string(b) && there.documents[place] == nil {
			return conflict(place, "the archive has other content under this name")
		}
		return nil
	}
	if err := t.src.eachDocument(func(p string) error { return check(p) }, Kinds()...); err != nil {
		return err
	}
	if err := t.src.EachArrivalPlace(check); err != nil {
		return err
	}
	for _, s := range there.all() {
		for _, d := range s.Documents {
			b, err := a.fs.ReadFile(a.path(filepath.FromSlash(d.place())))
			if err == nil && len(b) > 0 && hashOf(b) != d.SHA256 {
				return conflict(d.place(), "what was erased there is not what is here under the same name")
			}
		}
	}
	return nil
}

// eachDocument visits the places of all complete versions of some kinds.
func (a *Archive) eachDocument(visit func(place string) error, kinds ...string) error {
	for _, kind := range kinds {
		if err := a.EachID(kind, func(id string) error { return a.eachVersion(kind, id, visit) }); err != nil {
			return err
		}
	}
	return nil
}

// eachVersion visits the places of all complete versions of one document.
func (a *Archive) eachVersion(kind, id string, visit func(place string) error) error {
	vs, err := a.Versions(kind, id)
	for _, v := range vs {
		if err == nil {
			err = visit(Erased{Kind: kind, ID: id, Version: v}.place())
		}
	}
	return err
}

// copy takes one file over. check says what is wrong with its bytes.
func (t *transfer) copy(place string, check func(b []byte) error) error {
	if err := t.ctx.Err(); err != nil {
		return err
	}
	if t.skip(place) {
		t.note(func() { t.n.Skipped++ })
		return nil
	}
	b, err := t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place)))
	if errors.Is(err, fs.ErrNotExist) {
		t.note(func() { t.gone = append(t.gone, place) })
		return nil
	}
	if err != nil {
		return ioFault("read a file", place, err)
	}
	if err := check(b); err != nil {
		return err
	}
	return t.put(place, b)
}

// put writes a file on the other side and counts it.
func (t *transfer) put(place string, b []byte) error {
	isNew, err := t.to.put(place, b)
	if isNew {
		t.note(func() {
			t.n.New++
			t.n.Bytes += int64(len(b))
		})
	}
	return err
}

// note changes what the copies that are made at once share.
func (t *transfer) note(change func()) {
	t.mu.Lock()
	defer t.mu.Unlock()
	change()
}

func (t *transfer) originals() error {
	list := func(visit func(Ref) error) error {
		return t.src.EachOriginal(func(r Ref, size int64) error {
			if size == 0 && r != RefOf(nil) {
				return nil // a name that was taken and never filled
			}
			return visit(r)
		})
	}
	return spread(t.ctx, t.atOnce(), list, func(r Ref) error {
		t.note(func() { t.n.Originals++ })
		place := t.src.rel(t.src.originalPath(r))
		return t.copy(place, func(b []byte) error {
			if got := RefOf(b); got != r {
				return damaged(place, r.SHA256(), got.SHA256())
			}
			return nil
		})
	})
}

func (t *transfer) documents() error {
	for _, kind := range Kinds() {
		if kind == Tombstones {
			continue
		}
		list := func(visit func(id string) error) error { return t.src.EachID(kind, visit) }
		err := spread(t.ctx, t.atOnce(), list, func(id string) error {
			return t.src.eachVersion(kind, id, func(place string) error {
				if t.late[place] {
					return nil
				}
				return t.document(place)
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// document copies a version with the checksum beside it.
func (t *transfer) document(place string) error {
	t.note(func() { t.n.Documents++ })
	name := path.Base(place)
	var sum []byte
	err := t.copy(place, func(b []byte) error {
		var err error
		sum, err = t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place + sumSuffix)))
		if errors.Is(err, fs.ErrNotExist) || err == nil && len(sum) == 0 {
			sum = nil
			t.note(func() { t.noSum = append(t.noSum, place) })
			return nil
		}
		if err != nil {
			return ioFault("read a checksum", place+sumSuffix, err)
		}
		if want := sumLine(name, b); string(sum) != string(want) {
			was, _, _ := strings.Cut(string(sum), " ")
			return damaged(place, was, hashOf(b))
		}
		return nil
	})
	if err != nil || sum == nil {
		return err
	}
	return t.put(place+sumSuffix, sum)
}

func (t *transfer) arrivals() error {
	return spread(t.ctx, t.atOnce(), t.src.EachArrivalPlace, func(where string) error {
		if i, err := t.src.fs.Lstat(t.src.path(filepath.FromSlash(where))); err == nil && i.Size() == 0 {
			return nil
		}
		t.note(func() { t.n.Arrivals++ })
		return t.copy(where, func(b []byte) error {
			var n Arrival
			if err := json.Unmarshal(b, &n); err != nil {
				_, err = t.src.Arrival(where)
				return err
			}
			return nil
		})
	})
}

// tombstones takes the tombstones over and, where the other side is an
// archive, has them take effect there: what was begun first, then the
// removal, then that it is finished.
func (t *transfer) tombstones(to *Archive) error {
	there, err := t.src.graves(nil)
	if err != nil {
		return err
	}
	var finished []string
	done := map[string]bool{}
	err = t.src.eachDocument(func(place string) error {
		b, err := t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place)))
		if err != nil {
			return ioFault("read a document", place, err)
		}
		s, err := ParseTombstone(b)
		if err != nil {
			return err // graves has read it
		}
		if kept := s.Kept.place(); there.documents[kept] == nil && !done[kept] {
			done[kept] = true
			if err := t.document(kept); err != nil { // it may have come after its kind was copied
				return err
			}
			if !t.late[kept] {
				t.n.Documents--
			}
		}
		if s.Finished && to != nil {
			finished = append(finished, place)
			return nil
		}
		return t.document(place)
	}, Tombstones)
	if err != nil {
		return err
	}
	stones := there.all()
	t.n.Erasures = len(stones)
	if to == nil {
		return nil
	}
	for _, s := range stones {
		if err := to.CarryOut(s); err != nil {
			return err
		}
	}
	for _, place := range finished {
		if err := t.document(place); err != nil {
			return err
		}
	}
	return nil
}

// account looks again at what was not there, or without a checksum, when it
// was its turn.
func (t *transfer) account() error {
	for _, place := range t.noSum {
		b, err1 := t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place)))
		sum, err2 := t.src.fs.ReadFile(t.src.path(filepath.FromSlash(place + sumSuffix)))
		if err1 != nil || err2 != nil || string(sum) != string(sumLine(path.Base(place), b)) {
			t.n.Unvouched++ // whoever verifies the copy is told so too
			continue
		}
		if err := t.put(place+sumSuffix, sum); err != nil {
			return err
		}
	}
	if len(t.gone) == 0 {
		return nil
	}
	there, err := t.src.graves(nil)
	if err != nil {
		return err
	}
	for _, p := range t.gone {
		h := strings.TrimPrefix(path.Base(p), refPrefix)
		if there.documents[strings.TrimSuffix(p, sumSuffix)] == nil && there.arrivals[p] == nil && there.originals[h] == nil {
			return newFault(ErrNotFound, fs.ErrNotExist, ingest.Reason{Code: "archive-not-found", Where: ingest.Place{File: p},
				What: "a file of the archive went away while it was being copied, and was not erased", Next: "see whether the drive is connected, then run again; windrow archive verify tells what is missing"})
		}
	}
	return nil
}
