package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"strings"
)

// A Ref names an original by its content: the algorithm, a hyphen, and the
// hash in lower-case hexadecimal, such as sha256-9f86d0….
type Ref string

const refPrefix = "sha256-"

// RefOf is the reference of some bytes.
func RefOf(b []byte) Ref {
	h := sha256.Sum256(b)
	return Ref(refPrefix + hex.EncodeToString(h[:]))
}

// RefFromHash makes a reference from a SHA-256 in lower-case hexadecimal.
func RefFromHash(sha256hex string) (Ref, error) {
	if !isHash(sha256hex) {
		return "", badKey("the hash of an original", sha256hex, "64 lower-case hexadecimal digits")
	}
	return Ref(refPrefix + sha256hex), nil
}

// SHA256 is the hash alone, in lower-case hexadecimal.
func (r Ref) SHA256() string { return strings.TrimPrefix(string(r), refPrefix) }

func isHash(s string) bool {
	if len(s) != sha256.Size*2 {
		return false
	}
	for i := range len(s) {
		if !isHex(s[i]) {
			return false
		}
	}
	return true
}

func isHex(c byte) bool { return c >= '0' && c <= '9' || c >= 'a' && c <= 'f' }

// isOriginal reports whether a file name is that of an original.
func isOriginal(name string) bool {
	h, ok := strings.CutPrefix(name, refPrefix)
	return ok && isHash(h)
}

func (a *Archive) originalPath(r Ref) string {
	h := r.SHA256()
	return a.path(originalsDir, h[:2], string(r))
}

// PutOriginal keeps the bytes of a file as they came, under their hash. The
// same bytes again change nothing. When it returns without an error the
// bytes are on the disk and the caller may remove the file they came from.
func (a *Archive) PutOriginal(b []byte) (Ref, error) {
	r := RefOf(b)
	_, err := a.put(b, string(r), originalsDir, r.SHA256()[:2])
	if errors.Is(err, ErrConflict) {
		have, rerr := a.fs.ReadFile(a.originalPath(r))
		if rerr == nil && RefOf(have) != r {
			return "", damaged(a.rel(a.originalPath(r)), r.SHA256(), RefOf(have).SHA256())
		}
	}
	if err != nil {
		return "", err
	}
	return r, nil
}

// Has reports whether an original with this SHA-256 (lower-case hexadecimal)
// is there. It doesn't read it; [Archive.Original] does.
func (a *Archive) Has(sha256hex string) (bool, error) {
	r, err := RefFromHash(sha256hex)
	if err != nil {
		return false, err
	}
	p := a.originalPath(r)
	info, err := a.fs.Lstat(p)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		// Don't say "no" on behalf of a share that isn't connected.
		if _, err := a.fs.Lstat(a.path(originalsDir)); err != nil {
			return false, ioFault("look for an original", a.rel(p), err)
		}
		return false, nil
	case err != nil:
		return false, ioFault("look for an original", a.rel(p), err)
	}
	return info.Mode().IsRegular() && (info.Size() > 0 || r == RefOf(nil)), nil
}

// Original reads an original by its SHA-256 (lower-case hexadecimal) and
// checks it. Damaged bytes are returned together with an ErrDamaged.
func (a *Archive) Original(sha256hex string) ([]byte, error) {
	r, err := RefFromHash(sha256hex)
	if err != nil {
		return nil, err
	}
	p := a.originalPath(r)
	b, err := a.fs.ReadFile(p)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, a.wasErased("original with the SHA-256 "+sha256hex, a.rel(p), func(g *graveyard) *Tombstone { return g.originals[sha256hex] })
	}
	if err != nil {
		return nil, ioFault("read an original", a.rel(p), err)
	}
	if got := RefOf(b); got != r {
		return b, damaged(a.rel(p), r.SHA256(), got.SHA256())
	}
	return b, nil
}

// EachOriginal visits every original in order of its hash, with its size in
// bytes; the bytes are not read. It stops at the first error of visit and
// returns it.
func (a *Archive) EachOriginal(visit func(r Ref, size int64) error) error {
	return a.walk(a.path(originalsDir), func(path string, e fs.DirEntry) error {
		if !isOriginal(e.Name()) || a.originalPath(Ref(e.Name())) != path {
			return nil // Verify tells of strays
		}
		i, err := e.Info()
		if err != nil {
			return ioFault("look at an original", a.rel(path), err)
		}
		return visit(Ref(e.Name()), i.Size())
	})
}
