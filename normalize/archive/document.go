package archive

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// PutReport keeps the JSON of a report; see [Archive.Put].
func (a *Archive) PutReport(id string, b []byte) (version int, isNew bool, err error) {
	return a.Put(Reports, id, b)
}

// PutAdvice keeps the JSON of an advice; see [Archive.Put].
func (a *Archive) PutAdvice(id string, b []byte) (version int, isNew bool, err error) {
	return a.Put(Advice, id, b)
}

// Put keeps a JSON document as the next version under a kind and an id. If
// it equals the latest version nothing is written, and isNew is false. An id
// is an upper-case letter, two hexadecimal digits, and then lower-case
// letters, digits and . _ - up to 100 characters in all: a file name on every
// system. When Put returns without an error the document is on the disk.
func (a *Archive) Put(kind, id string, b []byte) (version int, isNew bool, err error) {
	if err := checkKey(kind, id); err != nil {
		return 0, false, err
	}
	if !json.Valid(b) {
		return 0, false, newFault(ErrKey, nil, ingest.Reason{Code: "archive-not-json",
			Where: ingest.Place{File: kind + "/" + id}, What: "what was to be archived is not a JSON document",
			Next: "report this: it is a fault of the program and not of the file"})
	}
	for {
		vs, err := a.list(kind, id)
		if err != nil {
			return 0, false, err
		}
		last := 0
		if len(vs.full) > 0 {
			last = vs.full[len(vs.full)-1]
			switch have, err := a.read(kind, id, last); {
			case errors.Is(err, ErrDamaged):
				// A new version beside it is safe, and a damaged latest one
				// must not keep a good one out.
			case err != nil:
				return 0, false, err
			case string(have) == string(b):
				return last, false, a.finish(kind, id, last, b)
			}
		}
		gone, err := a.lastErased(kind, id)
		if err != nil {
			return 0, false, err
		}
		next := max(last, vs.taken, gone) + 1
		isNew, err := a.put(b, versionName(next), kind, shard(id), id)
		switch {
		case errors.Is(err, ErrConflict):
			continue // another writer has taken this number; look again
		case err != nil:
			return 0, false, err
		}
		return next, isNew, a.finish(kind, id, next, b)
	}
}

// PutFrom keeps what write writes as the next version under a kind and an id,
// as [Archive.Put] does, and does not hold it all where it is the first. What
// is written must be one JSON document, and the same each time that write is
// called. It is called again where another version turns out to be there.
func (a *Archive) PutFrom(kind, id string, write func(io.Writer) error) (version int, isNew bool, err error) {
	if err := checkKey(kind, id); err != nil {
		return 0, false, err
	}
	vs, err := a.list(kind, id)
	if err != nil {
		return 0, false, err
	}
	gone, err := a.lastErased(kind, id)
	if err != nil {
		return 0, false, err
	}
	if max(vs.taken, gone) == 0 {
		if done, err := a.putFirst(kind, id, write); done || err != nil {
			return 1, done, err
		}
	}
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return 0, false, err
	}
	return a.Put(kind, id, b.Bytes())
}

// putFirst writes version 1 of a document, unless that name turns out to be
// taken, or the file system has no links: for these there is Put.
func (a *Archive) putFirst(kind, id string, write func(io.Writer) error) (done bool, err error) {
	h := sha256.New()
	tmp, err := a.writeTempFrom(func(f io.Writer) error {
		w := bufio.NewWriterSize(io.MultiWriter(f, h), 1<<20)
		if err := write(w); err != nil {
			return err
		}
		return w.Flush()
	})
	if err != nil {
		return false, err
	}
	dir, err := a.ensure(kind, shard(id), id)
	if err != nil || a.fs.Link(tmp, filepath.Join(dir, versionName(1))) != nil {
		_ = a.fs.Remove(tmp) // if this fails too, the next sweep has it
		return false, nil
	}
	_ = a.fs.Remove(tmp) // the file stands; the next sweep has a leftover
	if err := a.settle(dir); err != nil {
		return false, err
	}
	name := versionName(1)
	_, err = a.put(sumOf(name, h.Sum(nil)), name+sumSuffix, kind, shard(id), id)
	return err == nil, err
}

// PutSignOff keeps the JSON of a sign-off, once: the same document again
// changes nothing, another under its id is refused with an ErrConflict.
func (a *Archive) PutSignOff(id string, b []byte) error {
	have, _, err := a.Latest(SignOffs, id)
	switch {
	case errors.Is(err, ErrNotFound), err == nil && string(have) == string(b):
		_, _, err = a.Put(SignOffs, id, b)
	case err == nil:
		err = newFault(ErrConflict, nil, ingest.Reason{Code: "archive-conflict", Where: ingest.Place{File: SignOffs + "/" + id},
			What: "another sign-off stands under this id, and none is ever changed", Next: "run windrow archive verify"})
	}
	return err
}

// finish writes the checksum beside a version whose bytes we know, which a
// writer that died may have left out, and leaves folder and checksum on the
// disk.
func (a *Archive) finish(kind, id string, version int, b []byte) error {
	name := versionName(version)
	_, err := a.put(sumLine(name, b), name+sumSuffix, kind, shard(id), id)
	return err
}

func sumLine(name string, b []byte) []byte {
	h := sha256.Sum256(b)
	return sumOf(name, h[:])
}

func sumOf(name string, sha []byte) []byte {
	return []byte(hex.EncodeToString(sha) + "  " + name + "\n")
}

func versionName(v int) string { return fmt.Sprintf("%04d.json", v) }

// parseVersion reads a name that versionName wrote.
func parseVersion(name string) (int, bool) {
	d, ok := strings.CutSuffix(name, ".json")
	if !ok || len(d) < 4 || len(d) > 9 {
		return 0, false
	}
	v, err := strconv.Atoi(d)
	return v, err == nil && v > 0 && versionName(v) == name
}

// shard spreads ids over 256 folders. Ids are hashes, so that their own
// digits serve.
func shard(id string) string { return id[1:3] }

// validID reports whether an id is one that Put takes.
func validID(id string) bool {
	if len(id) < 4 || len(id) > 100 || id[0] < 'A' || id[0] > 'Z' || !isHex(id[1]) || !isHex(id[2]) || id[len(id)-1] == '.' {
		return false
	}
	for i := 3; i < len(id); i++ {
		c := id[i]
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' && c != '_' && c != '.' {
			return false
		}
	}
	return true
}

func checkKey(kind, id string) error {
	if !slices.Contains(Kinds(), kind) {
		return badKey("the kind of a document", kind, strings.Join(Kinds(), ", "))
	}
	if !validID(id) {
		return badKey("the id of a document", id,
			"an upper-case letter, two hexadecimal digits, then lower-case letters, digits, and . _ -, such as R0123456789abcdef")
	}
	return nil
}

type versions struct {
	full  []int // those that are complete, in order
	taken int   // the highest number that is taken, complete or not
}

// list finds the versions of a document; none is no error.
func (a *Archive) list(kind, id string) (versions, error) {
	var vs versions
	dir := a.path(kind, shard(id), id)
	es, err := a.fs.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := a.fs.Lstat(a.path(kind)); err != nil && !a.lacks(kind, err) {
			return vs, ioFault("look for a document", kind, err)
		}
		return vs, nil
	}
	if err != nil {
		return vs, ioFault("list a folder", a.rel(dir), err)
	}
	for _, e := range es {
		v, ok := parseVersion(e.Name())
		if !ok {
			continue
		}
		i, err := e.Info()
		if err != nil {
			return vs, ioFault("look at a document", a.rel(filepath.Join(dir, e.Name())), err)
		}
		vs.taken = max(vs.taken, v)
		if i.Mode().IsRegular() && i.Size() > 0 {
			vs.full = append(vs.full, v)
		}
	}
	slices.Sort(vs.full)
	return vs, nil
}

// read reads one version and checks it against the checksum beside it, if
// its writer lived to write one.
func (a *Archive) read(kind, id string, version int) ([]byte, error) {
	p := a.path(kind, shard(id), id, versionName(version))
	b, err := a.fs.ReadFile(p)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, a.wasErased(fmt.Sprintf("version %d of %s in %s", version, id, kind), a.rel(p), func(g *graveyard) *Tombstone { return g.documents[a.rel(p)] })
	}
	if err != nil {
		return nil, ioFault("read a document", a.rel(p), err)
	}
	sum, err := a.fs.ReadFile(p + sumSuffix)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(sum) == 0 {
		return b, nil
	}
	if err != nil {
		return b, ioFault("read a checksum", a.rel(p+sumSuffix), err)
	}
	if want := sumLine(versionName(version), b); string(sum) != string(want) {
		was, _, _ := strings.Cut(string(sum), " ")
		return b, damaged(a.rel(p), was, string(want[:sha256.Size*2]))
	}
	return b, nil
}

// Version reads one version of a document. Damaged bytes are returned
// together with an ErrDamaged.
func (a *Archive) Version(kind, id string, version int) ([]byte, error) {
	if err := checkKey(kind, id); err != nil {
		return nil, err
	}
	return a.read(kind, id, version)
}

// Latest reads the version of a document that holds, and its number. Damaged
// bytes are returned together with an ErrDamaged; a document that isn't there
// gives ErrNotFound.
func (a *Archive) Latest(kind, id string) ([]byte, int, error) {
	vs, err := a.Versions(kind, id)
	if err != nil {
		return nil, 0, err
	}
	if len(vs) == 0 {
		return nil, 0, a.noneLeft(kind, id)
	}
	v := vs[len(vs)-1]
	b, err := a.read(kind, id, v)
	return b, v, err
}

// noneLeft is the error for a document without any version.
func (a *Archive) noneLeft(kind, id string) error {
	switch last, err := a.lastErased(kind, id); {
	case err != nil || last == 0:
		return notFound(id + " in " + kind)
	default:
		_, err = a.read(kind, id, last)
		return err
	}
}

// Versions lists the numbers of a document's versions in order; a document
// that isn't there has none.
func (a *Archive) Versions(kind, id string) ([]int, error) {
	if err := checkKey(kind, id); err != nil {
		return nil, err
	}
	vs, err := a.list(kind, id)
	return vs.full, err
}

// EachID visits the ids of a kind in order, within the order of their second
// and third characters. It stops at the first error of visit and returns it.
func (a *Archive) EachID(kind string, visit func(id string) error) error {
	if !slices.Contains(Kinds(), kind) {
		return badKey("the kind of a document", kind, strings.Join(Kinds(), ", "))
	}
	shards, err := a.fs.ReadDir(a.path(kind))
	if a.lacks(kind, err) {
		return nil
	}
	if err != nil {
		return ioFault("list a folder", kind, err)
	}
	for _, s := range shards {
		if !s.IsDir() {
			continue
		}
		ids, err := a.fs.ReadDir(a.path(kind, s.Name()))
		if err != nil {
			return ioFault("list a folder", kind+"/"+s.Name(), err)
		}
		for _, id := range ids {
			if !id.IsDir() || !validID(id.Name()) || shard(id.Name()) != s.Name() {
				continue // Verify tells of strays
			}
			if err := visit(id.Name()); err != nil {
				return err
			}
		}
	}
	return nil
}

// lacks reports whether a kind's folder is missing because the archive was
// made before there was the kind, and not because a share is not connected.
func (a *Archive) lacks(kind string, err error) bool {
	if !errors.Is(err, fs.ErrNotExist) || !slices.Contains(laterKinds, kind) {
		return false
	}
	b, err := a.fs.ReadFile(a.path(formatFile))
	var f formatDoc
	return err == nil && json.Unmarshal(b, &f) == nil && !slices.Contains(f.Kinds, kind)
}

// Each visits the latest version of every document of a kind, in the order
// of EachID. It stops at the first error and returns it: that of visit, or
// one of reading, such as an ErrDamaged.
func (a *Archive) Each(kind string, visit func(id string, version int, b []byte) error) error {
	return a.EachID(kind, func(id string) error {
		b, v, err := a.Latest(kind, id)
		if errors.Is(err, ErrNotFound) {
			return nil // its first version is being written
		}
		if err != nil {
			return err
		}
		return visit(id, v, b)
	})
}
