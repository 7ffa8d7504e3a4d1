package archive

import (
	"encoding/json"
	"errors"
	"io/fs"
	"strings"
	"time"
)

// A Written is what the archive's folder tells of one version of a document.
type Written struct {
	Version int       `json:"version"`
	Size    int64     `json:"size"` // bytes
	Dated   time.Time `json:"dated,omitzero"`
	// Dated is the date of the file, in universal time: when the version was
	// archived, unless the archive is a copy that did not keep dates. It is
	// evidence and no proof, as nothing in the document vouches for it.
}

// History lists the complete versions of a document in order; a document that
// isn't there has none. They are not read: Version reads and checks one.
func (a *Archive) History(kind, id string) ([]Written, error) {
	vs, err := a.Versions(kind, id)
	if err != nil {
		return nil, err
	}
	var out []Written
	for _, v := range vs {
		p := a.path(kind, shard(id), id, versionName(v))
		i, err := a.fs.Lstat(p)
		if err != nil {
			return nil, ioFault("look at a document", a.rel(p), err)
		}
		out = append(out, Written{Version: v, Size: i.Size(), Dated: i.ModTime().UTC()})
	}
	return out, nil
}

// Vouched reports whether the checksum stands beside a version, which a writer
// that died between the two has left out. To put the same document again
// writes it.
func (a *Archive) Vouched(kind, id string, version int) (bool, error) {
	if err := checkKey(kind, id); err != nil {
		return false, err
	}
	p := a.path(kind, shard(id), id, versionName(version)+sumSuffix)
	i, err := a.fs.Lstat(p)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, ioFault("look at a checksum", a.rel(p), err)
	}
	return i.Size() > 0, nil
}

// VouchLeft writes the checksum beside each document that has none, and says
// how many these are. A document is in the archive whole or not at all, so that
// one without is what a writer leaves that dies between the two. Call it only
// where such a writer is known to have died and no other is at work: at any other
// time a missing checksum is damage, of which [Archive.Verify] tells. What is no
// JSON is left to it, too.
func (a *Archive) VouchLeft() (int, error) {
	n := 0
	for _, kind := range Kinds() {
		err := a.EachID(kind, func(id string) error {
			dir := a.path(kind, shard(id), id)
			es, err := a.fs.ReadDir(dir)
			if err != nil {
				return ioFault("list a folder", a.rel(dir), err)
			}
			sums := map[string]bool{}
			for _, e := range es {
				sums[e.Name()] = strings.HasSuffix(e.Name(), sumSuffix)
			}
			for _, e := range es {
				v, ok := parseVersion(e.Name())
				if !ok || sums[e.Name()+sumSuffix] {
					continue
				}
				b, err := a.read(kind, id, v)
				if err != nil {
					return err
				}
				if !json.Valid(b) {
					continue
				}
				if err := a.finish(kind, id, v, b); err != nil {
					return err
				}
				n++
			}
			return nil
		})
		if err != nil {
			return n, err
		}
	}
	return n, nil
}
