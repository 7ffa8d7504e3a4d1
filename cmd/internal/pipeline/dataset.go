package pipeline

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
	"example.org/windrow/normalize/dataset"
)

// MakeDataset writes the dataset of an archive into a folder. Whoever makes
// one, a command or a page, makes it here, so that nothing leaves without
// disclosure control. The options' key is [DatasetKey]'s. Errors are those of
// [dataset.Write] and of ctx.
func MakeDataset(ctx context.Context, a *archive.Archive, dir string, opt dataset.Options) (dataset.Summary, error) {
	return dataset.Write(dir, EachReport(ctx, a), opt)
}

// AppendDataset brings a dataset in parts up to date with an archive; where is
// a folder, or the address of an object store as [objects.Open] takes it.
// Errors are those of [dataset.Append], of objects.Open and of ctx.
func AppendDataset(ctx context.Context, a *archive.Archive, where string, opt dataset.PartsOptions) (told dataset.Appended, err error) {
	var store dataset.Store = dataset.Folder(where)
	if InStore(where) {
		s, err := objects.Open(ctx, where)
		if err != nil {
			return told, err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		store = s
	}
	return dataset.Append(store, EachReport(ctx, a), opt)
}

// mostOutline is how large a file of outlines may be, in bytes.
const mostOutline = 8 << 20

// CountyOutlines are the office's outlines of counties, for the map of a
// dataset; nil where it has none. The error is an *[ingest.Reason].
func CountyOutlines(cfg *config.Config) ([]byte, error) {
	f, err := os.Open(cfg.CountyMap)
	if cfg.CountyMap == "" || errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	var b []byte
	if err == nil {
		b, err = io.ReadAll(io.LimitReader(f, mostOutline+1))
		err = errors.Join(err, f.Close())
	}
	found := ""
	switch {
	case err != nil:
		found = ingest.Cause(err)
	case len(b) > mostOutline:
		found = "a file of more than " + ingest.Size(mostOutline)
	default:
		return b, nil
	}
	return nil, &ingest.Reason{Code: "outlines", Severity: ingest.Fail, Where: ingest.Place{File: cfg.CountyMap}, What: "the outlines of counties can't be read, and so the dataset would have no map", Expected: "a GeoJSON file", Found: found,
		Next: "mend the file, or correct county_map in windrow.yaml"}
}

// InStore says whether a dataset in parts is in an object store and not in a
// folder.
func InStore(where string) bool { return strings.Contains(where, "://") }

// EachReport yields the reports of an archive, each as it stands now, to whatever
// is made of all of them, until ctx ends.
func EachReport(ctx context.Context, a *archive.Archive) func(yield func(*normalize.Report) error) error {
	return func(yield func(*normalize.Report) error) error {
		return a.Each(archive.Reports, func(id string, _ int, b []byte) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			var rep normalize.Report
			if err := json.Unmarshal(b, &rep); err != nil {
				return fmt.Errorf("report %s in the archive: %w", id, err)
			}
			return yield(&rep)
		})
	}
}

// keyName is the file of the key where the settings name none.
const keyName = "dataset.key"

// keyFile is the file of the office's key; named says that the settings name
// it.
func keyFile(cfg *config.Config) (at string, named bool) {
	if cfg.DatasetKeyFile != "" {
		return cfg.DatasetKeyFile, true
	}
	return filepath.Join(cfg.Dir, keyName), false
}

// DatasetKey reads the office's key of datasets, or makes one where the
// settings name none and there is none; made is then its path. A key that is
// too short, or that others on the computer may read, is refused. The error is
// an *[ingest.Reason].
func DatasetKey(cfg *config.Config) (key []byte, made string, err error) {
	at, named := keyFile(cfg)
	key, err = readKey(at)
	if !errors.Is(err, os.ErrNotExist) || named {
		return key, "", keyFault(at, err)
	}
	if err := writeKey(at); err != nil {
		return nil, "", keyFault(at, err)
	}
	key, err = readKey(at)
	return key, at, keyFault(at, err)
}

// A KeyChange tells of a new key of datasets.
type KeyChange struct {
	At      string // file of the new key
	Mark    string // of the new key
	Old     string // file in which the old key is kept
	OldMark string
}

// NewDatasetKey puts a new key in place of the office's key of datasets, so
// that every sample has another code from then on. The old key is kept beside
// it, under its mark, for whoever must find the samples of earlier datasets
// again. The error is an *[ingest.Reason].
func NewDatasetKey(cfg *config.Config) (KeyChange, error) {
	at, _ := keyFile(cfg)
	old, err := readKey(at)
	if err != nil {
		return KeyChange{}, keyFault(at, err)
	}
	c := KeyChange{At: at, OldMark: dataset.KeyMark(old)}
	c.Old = strings.TrimSuffix(at, ".key") + "-" + c.OldMark + ".key"
	if _, err := os.Lstat(c.Old); err == nil {
		return KeyChange{}, keyFault(c.Old, os.ErrExist)
	}
	if err := os.Rename(at, c.Old); err != nil {
		return KeyChange{}, keyFault(at, err)
	}
	if err := writeKey(at); err != nil {
		return KeyChange{}, keyFault(at, errors.Join(err, os.Rename(c.Old, at)))
	}
	key, err := readKey(at)
	if err != nil {
		return KeyChange{}, keyFault(at, err)
	}
	c.Mark = dataset.KeyMark(key)
	return c, nil
}

// writeKey makes a key of 32 random bytes that nobody else may read, in a
// file that must not be there.
func writeKey(at string) error {
	secret := make([]byte, 32)
	if _, err := rand.Read(secret); err != nil {
		return err
	}
	f, err := os.OpenFile(at, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(hex.EncodeToString(secret) + "\n")
	return errors.Join(err, f.Sync(), f.Close())
}

func readKey(at string) ([]byte, error) {
	info, err := os.Stat(at)
	if err != nil {
		return nil, err
	}
	b, err := os.ReadFile(at)
	if err != nil {
		return nil, err
	}
	key := []byte(strings.TrimSpace(string(b)))
	if len(key) < dataset.MinKey {
		return nil, &ingest.Reason{Code: "key-too-short", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(at)}, What: "the key for datasets is too short to hide anything", Expected: fmt.Sprintf("at least %d characters", dataset.MinKey), Found: characters(len(key)),
			Next: "put a longer random text into the file; datasets made with the old key have other codes"}
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, &ingest.Reason{Code: "key-open-to-others", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(at)}, What: "others on this computer may read the key for datasets, and with it find every sample again", Expected: "rights 600: the office's account alone may read it", Found: fmt.Sprintf("rights %o", mode),
			Next: "chmod 600 " + filepath.Base(at) + "; if somebody may have read it, windrow dataset new-key"}
	}
	return key, nil
}

func characters(n int) string {
	if n == 1 {
		return "1 character"
	}
	return fmt.Sprintf("%d characters", n)
}

// keyFault is an error of a key's file in words; nil for none.
func keyFault(at string, err error) error {
	var r *ingest.Reason
	if err == nil || errors.As(err, &r) {
		return err
	}
	return &ingest.Reason{Code: "key-not-usable", Severity: ingest.Fail, Where: ingest.Place{File: at}, What: "the key for datasets can't be read or written", Expected: "a file that the office's account may read and write", Found: ingest.Cause(err),
		Next: "bring the key back from where you keep it, or correct dataset_key_file; the first dataset of an office makes one where none is named"}
}
