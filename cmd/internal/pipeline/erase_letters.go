package pipeline

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// letterName finds the id of a record in the name of its letter, which ends
// with it, or with it and what tells replaced letters apart.
var letterName = regexp.MustCompile(`R[0-9a-f]{16}-[0-9]+`)

// RemoveErasedLetters removes from the folder of letters, and from those of
// replaced ones in it, every letter on a record whose advice was erased and is
// not in the archive. It gives the paths of what it removed, and may be called
// again and again.
func RemoveErasedLetters(cfg *config.Config, a *archive.Archive) (removed []string, err error) {
	gone := map[string]bool{}
	err = a.EachTombstone(func(t *archive.Tombstone) error {
		for _, d := range t.Documents {
			if d.Kind != archive.Advice {
				continue
			}
			vs, err := a.Versions(archive.Advice, d.ID)
			if err != nil {
				return err
			}
			gone[d.ID] = len(vs) == 0
		}
		return nil
	})
	if err != nil || len(gone) == 0 {
		return nil, err
	}
	err = filepath.WalkDir(cfg.Letters, func(p string, d fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return folderFault(cfg.Letters, err)
		case d.IsDir():
			return nil
		}
		ids := letterName.FindAllString(filepath.Base(p), -1)
		if len(ids) == 0 || !gone[ids[len(ids)-1]] {
			return nil
		}
		if err := os.Remove(p); err != nil {
			return folderFault(filepath.Dir(p), err)
		}
		removed = append(removed, p)
		return nil
	})
	return removed, err
}

// Finished says what the completion of erasures did.
type Finished struct {
	Completed  int // erasures that were open
	Tombstones int // erasures in the archive
	Letters    []string
}

// FinishErasures removes what the tombstones of an archive name, in the
// archive, among the letters and among the drafts of mappings, and says in the archive that it is done. The
// index goes first, since it holds names of files and labels: begun anew, it
// knows nothing that is to be forgotten. The office must be locked, and its
// index not open. It may be cut short and called again.
func FinishErasures(cfg *config.Config, a *archive.Archive) (f Finished, err error) {
	return finishErasures(cfg, a, func() error { return index.Remove(cfg.Index) }, func([]string) error { return nil })
}

// finishErasures has first done before anything is removed, unless it is nil,
// and after once the archive has lost the originals with these SHA-256.
func finishErasures(cfg *config.Config, a *archive.Archive, first func() error, after func(erased []string) error) (f Finished, err error) {
	if first != nil {
		if err := first(); err != nil {
			return f, err
		}
	}
	var erased []string
	if err := a.EachTombstone(func(t *archive.Tombstone) error {
		f.Tombstones++
		erased = append(erased, t.Originals...)
		return a.CarryOut(t)
	}); err != nil {
		return f, err
	}
	if err := after(erased); err != nil {
		return f, err
	}
	if f.Letters, err = RemoveErasedLetters(cfg, a); err != nil {
		return f, err
	}
	if err := removeErasedDrafts(cfg, a); err != nil {
		return f, err
	}
	open, err := a.OpenErasures()
	if err != nil {
		return f, err
	}
	for _, t := range open {
		if err := a.FinishErasure(t); err != nil {
			return f, err
		}
		f.Completed++
	}
	return f, nil
}
