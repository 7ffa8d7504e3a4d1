package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"path/filepath"
	"sync"
	"time"

	_ "embed"

	"example.org/windrow/ingest"
)

// Format is the version of the layout that this package writes and reads.
const Format = "windrow-archive/1"

// The kinds of JSON document that an archive keeps, which are also the names
// of their folders.
const (
	Reports  = "reports"
	Advice   = "advice"
	Rulings  = "rulings"  // persons' decisions on reports, under the report's id; the latest version is the one in force
	Proofs   = "proofs"   // what persons read in the pictures of scanned reports, under the report's id; the latest version is the one in force
	SignOffs = "signoffs" // of audits; each is written once and has no second version
	// Tombstones stand for what was erased, under the report's id; see [Tombstone].
	Tombstones = "tombstones"
)

// Kinds lists the kinds of JSON document that an archive keeps.
func Kinds() []string { return []string{Reports, Advice, SignOffs, Rulings, Proofs, Tombstones} }

// laterKinds are those that archives of the first days have no folder for.
var laterKinds = []string{SignOffs, Rulings, Proofs, Tombstones}

const (
	originalsDir = "originals"
	arrivalsDir  = "arrivals"
	incomingDir  = "incoming" // files that are being written
	formatFile   = "format.json"
	readmeFile   = "FORMAT.md"
	sumSuffix    = ".sha256" // of the file that holds the checksum of another
	staleTemp    = time.Hour // a temporary file this old has no writer any more
)

//go:embed FORMAT.md
var readme []byte

// An Archive is an open archive. It holds no file open and needs no closing.
type Archive struct {
	dir string
	fs  FS

	mu     sync.Mutex
	rooted map[string]bool      // folders whose own entry this process has put on the disk
	stones map[string]Tombstone // that were read, by place
}

// topDirs are the folders that every archive has.
func topDirs() []string {
	return append([]string{incomingDir, originalsDir, arrivalsDir}, Kinds()...)
}

// Open opens the archive in a folder, and makes one where the folder is
// absent or empty (its parent must exist). It refuses a folder that holds
// anything else, and an archive of a later version. Temporary files that a
// crash left behind are removed once they are an hour old.
func Open(dir string) (*Archive, error) { return OpenOn(OS(), dir) }

// OpenOn is Open on a given file system.
func OpenOn(fsys FS, dir string) (*Archive, error) {
	a := &Archive{dir: dir, fs: fsys, rooted: map[string]bool{}}
	have, err := a.checkFormat()
	if err != nil {
		return nil, err
	}
	if !have {
		if err := a.create(); err != nil {
			return nil, err
		}
	}
	// An archive on a medium that can only be read is still an archive, so
	// that a failure to make ready for writing is no failure to open: the
	// first write will say what is wrong.
	if a.makeTop() == nil {
		_ = a.sweep()
	}
	return a, nil
}

// OpenExisting opens an archive that must already be there. Use it where an
// absent folder means that a share is not connected.
func OpenExisting(dir string) (*Archive, error) { return OpenExistingOn(OS(), dir) }

// OpenExistingOn is OpenExisting on a given file system.
func OpenExistingOn(fsys FS, dir string) (*Archive, error) {
	a := &Archive{dir: dir, fs: fsys, rooted: map[string]bool{}}
	have, err := a.checkFormat()
	if err != nil {
		return nil, err
	}
	if !have {
		return nil, newFault(ErrFormat, nil, ingest.Reason{Code: "archive-gone", Where: ingest.Place{File: dir},
			What: "there is no archive in this folder", Expected: formatFile,
			Next: "if the folder lies on a network share, connect it; otherwise check the name"})
	}
	return a, nil
}

// Dir is the archive's folder; of one on a file system that has a name of its
// own, that name.
func (a *Archive) Dir() string {
	if n, ok := a.fs.(interface{ Name() string }); ok {
		return n.Name()
	}
	return a.dir
}

func (a *Archive) path(elem ...string) string {
	return filepath.Join(append([]string{a.dir}, elem...)...)
}

type formatDoc struct {
	Format    string   `json:"format"`
	Hash      string   `json:"hash"`
	Originals string   `json:"originals"`
	Documents string   `json:"documents"`
	Kinds     []string `json:"kinds"`
	Arrivals  string   `json:"arrivals"`
	ReadMe    string   `json:"read_me"`
}

func formatBytes() []byte {
	b, err := encode(formatDoc{
		Format: Format, Hash: "SHA-256",
		Originals: "originals/<first two hex digits>/sha256-<64 hex digits>",
		Documents: "<kind>/<second and third character of the id>/<id>/<version, four digits or more>.json, with .json.sha256 beside it",
		Kinds:     Kinds(),
		Arrivals:  "arrivals/<year>/<month>/<UTC time>-<first eight hex digits of the hash>-<n>.json",
		ReadMe:    readmeFile,
	})
	if err != nil {
		panic(err) // a constant struct of strings
	}
	return b
}

// encode writes JSON as the archive does: indented, not escaped for HTML,
// with a line end.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(v)
	return b.Bytes(), err
}

// checkFormat reports whether the folder already is an archive that this
// version can work on.
func (a *Archive) checkFormat() (bool, error) {
	b, err := a.fs.ReadFile(a.path(formatFile))
	if err == nil && len(b) > 0 {
		var f formatDoc
		if err := json.Unmarshal(b, &f); err != nil || f.Format != Format {
			return false, newFault(ErrFormat, err, ingest.Reason{Code: "archive-format", Where: ingest.Place{File: formatFile},
				What: "this version of Windrow can't work on this archive", Expected: Format, Found: f.Format,
				Next: "use the version of Windrow that made it, or a later one"})
		}
		return true, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return false, ioFault("be opened", formatFile, err)
	}
	es, err := a.fs.ReadDir(a.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, ioFault("be opened", a.dir, err)
	}
	for _, e := range es {
		switch e.Name() {
		case incomingDir, readmeFile, formatFile: // of a creation that was cut short
		default:
			return false, newFault(ErrFormat, nil, ingest.Reason{Code: "archive-format", Where: ingest.Place{File: a.dir},
				What: "the folder is neither empty nor an archive", Expected: formatFile, Found: e.Name(),
				Next: "name an empty folder, or the folder of an archive"})
		}
	}
	return false, nil
}

// create makes the folder and its two explanations. The description comes
// before format.json, so that an archive that has the second has both.
func (a *Archive) create() error {
	if err := a.fs.Mkdir(a.dir); err != nil && !errors.Is(err, fs.ErrExist) {
		return ioFault("be made", a.dir, err)
	}
	if err := a.fs.SyncDir(filepath.Dir(filepath.Clean(a.dir))); err != nil {
		return ioFault("be made", a.dir, err)
	}
	if err := a.fs.Mkdir(a.path(incomingDir)); err != nil && !errors.Is(err, fs.ErrExist) {
		return ioFault("be made", incomingDir, err)
	}
	for _, f := range []struct {
		name string
		b    []byte
	}{{readmeFile, readme}, {formatFile, formatBytes()}} {
		// Another process, or another version, may have been first.
		if _, err := a.writeNew(a.dir, f.name, f.b); err != nil && !errors.Is(err, ErrConflict) {
			return err
		}
	}
	return nil
}

// makeTop makes those of the archive's own folders that are missing, after a
// crash at creation or where an earlier version knew fewer kinds. Only Open
// does this; see ensure.
func (a *Archive) makeTop() error {
	made := false
	for _, d := range topDirs() {
		err := a.fs.Mkdir(a.path(d))
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return ioFault("make a folder", d, err)
		}
		made = made || err == nil
	}
	if !made {
		return nil // put on the disk again by the first write below them
	}
	return ioFault("make a folder", a.dir, a.fs.SyncDir(a.dir))
}
