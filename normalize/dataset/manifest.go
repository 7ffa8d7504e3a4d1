package dataset

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/ingest"
)

// ManifestSchema is the version of the form of manifests that this package
// writes and reads.
const ManifestSchema = "windrow-parts/1"

// own is the folder of what is no table: Hive, Spark and Trino pass over names
// that begin with an underscore.
const own = "_windrow"

// A Manifest names the files that make up one edition of a dataset in parts.
// It is written last and once, as _windrow/manifest-EDITION.json; the one with
// the greatest number holds, and a file that it does not name is no part of the
// dataset.
type Manifest struct {
	Schema  string `json:"schema"`
	Edition int    `json:"edition"` // from 1
	Title   string `json:"title"`
	Office  string `json:"office,omitempty"`
	Terms   string `json:"terms"`
	Windrow string `json:"windrow,omitempty"` // the version that wrote it
	Scope   Scope  `json:"scope"`
	// Samples are in the tables; Waiting are too few alike, until others come;
	// Withdrawn were in an earlier edition and never come back.
	Samples   int         `json:"samples"`
	Waiting   int         `json:"waiting"`
	Withdrawn int         `json:"withdrawn"`
	Keys      []string    `json:"partition_keys"` // in the names of folders, by Hive's convention
	Tables    []PartTable `json:"tables"`
	Parts     []Part      `json:"parts"`
	Marks     string      `json:"marks,omitempty"` // the file of the marks of what was withdrawn
}

// A Scope is what every edition of one dataset in parts has in common.
type Scope struct {
	Tables   string    `json:"tables_version"` // of the form of the tables
	KeyMark  string    `json:"key_mark"`
	K        int       `json:"k"` // the least number of clients in a group
	Decision *Decision `json:"decision,omitempty"`
	State    string    `json:"state,omitempty"`
	County   string    `json:"county,omitempty"` // "" for all
	CSV      bool      `json:"csv"`              // as comma-separated values, too
}

// A PartTable describes a table as its files have it: without the columns that
// the names of the folders tell.
type PartTable struct {
	Name   string  `json:"name"`
	Fields []field `json:"fields"` // of the Table Schema standard
}

// A Part is the samples that one run wrote of one partition.
type Part struct {
	State   string     `json:"state"`
	County  string     `json:"county"`
	Year    string     `json:"year"`
	Samples int        `json:"samples"`
	Ledger  string     `json:"ledger"` // the file that tells which samples are in which group
	Files   []PartFile `json:"files"`
}

// A PartFile is one file of a part; its name has the beginning of its SHA-256.
type PartFile struct {
	Table  string `json:"table"`
	Format string `json:"format"` // parquet or csv
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	Rows   int    `json:"rows"`
	SHA256 string `json:"sha256"`
}

// A ledger tells which samples of a part are in which group, with a keyed mark
// of what is published of each. It holds nothing of a sample that its rows
// don't show.
type ledger struct {
	Schema string        `json:"schema"`
	Groups []ledgerGroup `json:"groups"`
}

type ledgerGroup struct {
	ID      string            `json:"id"`
	Levels  levels            `json:"levels"`
	Quasi   quasi             `json:"quasi"`
	Tests   []string          `json:"tests"`
	Limits  []ledgerLimit     `json:"limits,omitempty"`
	Samples map[string]string `json:"samples"` // marks by code
}

type ledgerLimit struct {
	Lab, Test, Sign, Value string
}

// withdrawn are the marks of the samples that were withdrawn, which tell
// nothing without the key.
type withdrawn struct {
	Schema string   `json:"schema"`
	Marks  []string `json:"marks"`
}

func manifestName(edition int) string { return fmt.Sprintf("%s/manifest-%08d.json", own, edition) }

// The names that this package gives: what else lies in a store is left alone.
var (
	manifestNames = regexp.MustCompile(`^` + own + `/manifest-([0-9]{8})\.json$`)
	ownNames      = regexp.MustCompile(`^(?:` + own + `/(?:manifest-[0-9]{8}|ledger-[0-9a-f]{32}|withdrawn-[0-9a-f]{32})\.json|(?:parquet|csv)/(?:results|estimates|derived)/state=[^/]+/county=[^/]+/year=[^/]+/part-[0-9a-f]{32}\.(?:parquet|csv)|(?:.*/)?\` + unfinished + `[0-9]+)$`)
)

// contentName is a name that has the beginning of the SHA-256 of the bytes.
func contentName(dir, kind, ext string, b []byte) (name, hash string) {
	h := sha256.Sum256(b)
	hash = hex.EncodeToString(h[:])
	return path.Join(dir, kind+"-"+hash[:32]+ext), hash
}

// unknownPartition is what Hive calls the partition of rows whose key is not
// known.
const unknownPartition = "__HIVE_DEFAULT_PARTITION__"

// partitionFolder is the name of the folder of a key's value: bytes other than
// plain letters, digits, point, hyphen and underscore as %XX, which Hive, Spark,
// Trino and DuckDB undo.
func partitionFolder(key, value string) string {
	if value == "" {
		return key + "=" + unknownPartition
	}
	var b strings.Builder
	for i := range len(value) {
		switch c := value[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '-', c == '_', c == '.':
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return key + "=" + b.String()
}

func (p *Part) folder() string {
	return path.Join(partitionFolder("state", p.State), partitionFolder("county", p.County), partitionFolder("year", p.Year))
}

// names are the files that an edition is made of.
func (m *Manifest) names() map[string]bool {
	out := map[string]bool{}
	if m.Edition == 0 {
		return out
	}
	out[manifestName(m.Edition)] = true
	if m.Marks != "" {
		out[m.Marks] = true
	}
	for _, p := range m.Parts {
		out[p.Ledger] = true
		for _, f := range p.Files {
			out[f.Path] = true
		}
	}
	return out
}

// encode is JSON with an indent, not escaped for HTML, with a line end.
func encode(v any, indent string) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", indent)
	err := e.Encode(v)
	return b.Bytes(), err
}

// CurrentManifest is the edition that holds; its Edition is 0 where there is none
// yet. The error is an *[ingest.Reason].
func CurrentManifest(s Store) (*Manifest, error) {
	names, err := s.Names()
	if err != nil {
		return nil, partsFault(s, err)
	}
	return manifestAmong(s, names)
}

func manifestAmong(s Store, names []string) (*Manifest, error) {
	last, there := "", map[string]bool{}
	for _, n := range names {
		there[n] = true
		if manifestNames.MatchString(n) {
			last = max(last, n)
		}
	}
	m := &Manifest{}
	if last == "" {
		return m, nil
	}
	b, err := s.ReadFile(last)
	if err != nil {
		return nil, partsFault(s, err)
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(m); err != nil {
		return nil, partsDamaged(s, last, err.Error())
	}
	if m.Schema != ManifestSchema || manifestName(m.Edition) != last {
		return nil, partsDamaged(s, last, fmt.Sprintf("a manifest of the form %q for edition %d", m.Schema, m.Edition))
	}
	for n := range m.names() {
		if !ownNames.MatchString(n) {
			return nil, partsDamaged(s, last, "it names "+n)
		}
		if !there[n] {
			return nil, partsDamaged(s, n, "nothing: the file is not there")
		}
	}
	return m, nil
}

func partsDamaged(s Store, name, found string) error {
	return &ingest.Reason{Code: "dataset-parts-damaged", Severity: ingest.Fail, Where: ingest.Place{File: s.Name() + "/" + name}, What: "the dataset in parts can't be carried on",
		Expected: "the files that Windrow wrote, as it wrote them", Found: found, Next: "bring the folder back from a copy; or begin a new dataset in an empty place, after \"windrow dataset new-key\""}
}

func partsFault(s Store, err error) error {
	var r *ingest.Reason
	if errors.As(err, &r) {
		return err
	}
	return &reasonError{&ingest.Reason{Code: "dataset-failed", Severity: ingest.Fail, Where: ingest.Place{File: s.Name()}, What: "the dataset in parts could not be written", Found: err.Error(),
		Next: "the edition before holds as it was; check room and rights of the place, then run again"}, err}
}

// readOwn reads a file whose name has its SHA-256, into v.
func readOwn(s Store, name string, v any) error {
	b, err := s.ReadFile(name)
	if err != nil {
		return partsFault(s, err)
	}
	h := sha256.Sum256(b)
	if !strings.Contains(path.Base(name), hex.EncodeToString(h[:])[:32]) {
		return partsDamaged(s, name, "other bytes than its name says")
	}
	if err := json.Unmarshal(b, v); err != nil {
		return partsDamaged(s, name, err.Error())
	}
	return nil
}

// putOwn writes a file whose name has its SHA-256. One that is there already,
// from a run that was killed, is as good.
func putOwn(s Store, name string, b []byte) error {
	err := s.PutNew(name, b)
	if !errors.Is(err, fs.ErrExist) {
		return err
	}
	old, err := s.ReadFile(name)
	if err == nil && !bytes.Equal(old, b) {
		err = partsDamaged(s, name, "other bytes than its name says")
	}
	return err
}

// classOf is the class that a group of a ledger was published as.
func (g *ledgerGroup) class() (*class, error) {
	cl := &class{levels: g.Levels, quasi: g.Quasi, shared: g.Tests, limits: limits{}}
	for i, l := range g.Levels {
		if l > heights[i] {
			return nil, errors.New("a level that is not on the ladder")
		}
	}
	for _, l := range g.Limits {
		d, _, err := apd.NewFromString(l.Value)
		if err != nil {
			return nil, err
		}
		cl.limits[[3]string{l.Lab, l.Test, l.Sign}] = d
	}
	return cl, nil
}
