package pipeline

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize/archive"
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
