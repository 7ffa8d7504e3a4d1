package archive

import (
	"errors"
	"io/fs"
	"path/filepath"
	"slices"
)

// bury reads the tombstones, so that what was erased is not missed. One
// that can't be understood excuses nothing, and is told.
func (v *verifier) bury() error {
	g, err := v.Archive.graves(func(id string, err error) {
		v.add(CodeSchema, Tombstones+"/"+shard(id)+"/"+id, nextRestore, "a tombstone here can't be understood, so that what it stands for may be told of as missing: %v", err)
	})
	v.grave, v.again = g, map[string]bool{}
	return err
}

// erased compares what the tombstones say with what is there. It comes last,
// when it is known what came again.
func (v *verifier) erased() {
	for _, t := range v.grave.all() {
		at := Tombstones + "/" + shard(t.ID) + "/" + t.ID
		if v.grave.documents[t.Kept.place()] == nil {
			if b, err := v.fs.ReadFile(v.path(filepath.FromSlash(t.Kept.place()))); errors.Is(err, fs.ErrNotExist) {
				v.add(CodeMissing, t.Kept.place(), nextRestore, "what stayed of an erased report is missing")
			} else if err == nil && hashOf(b) != t.Kept.SHA256 {
				v.add(CodeDamaged, t.Kept.place(), nextRestore, "what stayed of an erased report is not what its tombstone says")
			}
		}
		left := v.left(t)
		switch {
		case !t.Finished:
			v.add(CodeErasing, at, "run windrow archive erase --finish", "an erasure was begun on %s and not finished; of what it names, %d files are still here", t.On.UTC().Format("2006-01-02"), len(left))
		case len(left) > 0:
			for _, p := range left {
				v.add(CodeErased, p, "run windrow archive erase --finish", "this was erased on %s at a person's request and is here again, as if brought back from a backup", t.On.UTC().Format("2006-01-02"))
			}
		}
	}
}

// left lists what a tombstone names that is there.
func (v *verifier) left(t *Tombstone) (out []string) {
	places := slices.Clone(t.Arrivals)
	for _, d := range t.Documents {
		places = append(places, d.place(), d.place()+sumSuffix)
	}
	for _, h := range t.Originals {
		if !v.again[h] {
			places = append(places, v.rel(v.originalPath(Ref(refPrefix+h))))
		}
	}
	for _, p := range places {
		if _, err := v.fs.Lstat(v.path(filepath.FromSlash(p))); err == nil {
			out = append(out, p)
		}
	}
	return out
}

// cameAgain notes that an original is named by a note or report that no
// tombstone names.
func (v *verifier) cameAgain(place, hash string) {
	if v.grave.originals[hash] != nil && v.grave.arrivals[place] == nil && v.grave.documents[place] == nil && !v.grave.kept[place] {
		v.note(func() { v.again[hash] = true })
	}
}

// excused reports whether an original may be missing for a document or note.
func (v *verifier) excused(hash string) bool { return v.grave.originals[hash] != nil && !v.again[hash] }
