package pipeline

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize/archive"
)

// DraftsFolder is where the workbench keeps the mappings that somebody works on,
// in the folder of the office's mappings: a text for each report, under its id,
// and beside it, as JSON, what it was drafted from.
func DraftsFolder(cfg *config.Config) string { return filepath.Join(cfg.Mappings, "drafts") }

// removeErasedDrafts removes the drafts that were made from a report of which a
// person was erased: their examples are what stands on it. It may be called
// again and again.
func removeErasedDrafts(cfg *config.Config, a *archive.Archive) error {
	dir := DraftsFolder(cfg)
	files, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return folderFault(dir, err)
	}
	var erased []string
	if err := a.EachTombstone(func(t *archive.Tombstone) error { erased = append(erased, t.ID); return nil }); err != nil || len(erased) == 0 {
		return err
	}
	for _, f := range files {
		draft, suffix, _ := strings.Cut(f.Name(), ".")
		if suffix != "json" && suffix != "yaml" {
			continue
		}
		// The note names every report that the draft was made from.
		note, err := os.ReadFile(filepath.Join(dir, draft+".json"))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return folderFault(dir, err)
		}
		for _, id := range erased {
			if draft != id && !bytes.Contains(note, []byte(id)) {
				continue
			}
			// The text first: without its note nobody would look for it again.
			for _, end := range []string{".yaml", ".json"} {
				if err := os.Remove(filepath.Join(dir, draft+end)); err != nil && !errors.Is(err, fs.ErrNotExist) {
					return folderFault(dir, err)
				}
			}
			break
		}
	}
	return nil
}
