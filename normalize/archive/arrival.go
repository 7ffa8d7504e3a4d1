package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"time"

	"example.org/windrow/ingest"
)

// An Arrival is the note that a file came, and what became of it.
type Arrival struct {
	Name    string    `json:"name"`             // as it came
	Member  string    `json:"member,omitempty"` // name inside an archive or mail, "" for the file itself
	Channel string    `json:"channel"`          // the way it came: folder, command, upload, …
	Office  string    `json:"office,omitempty"`
	Time    time.Time `json:"time"` // kept in universal time, to the second
	SHA256  string    `json:"sha256"`
	Size    int64     `json:"size"`             // bytes
	Outcome string    `json:"outcome"`          // ok, flagged, held, again (the same bytes were there already), …
	Report  string    `json:"report,omitempty"` // id of the report that was made of it
}

const arrivalTime = "20060102T150405Z"

var arrivalName = regexp.MustCompile(`^(\d{8}T\d{6}Z)-([0-9a-f]{8})-([1-9]\d*)\.json$`)

// PutArrival adds a note to the archive and returns where it stands, from the
// archive's folder. A note that is there already, to the letter, is not added
// again: who passes a time that a second attempt repeats (that of the file,
// not that of the clock) leaves one note, however often the attempt was cut
// short. The year of the time must be from 1970 to 9999.
func (a *Archive) PutArrival(n Arrival) (where string, err error) {
	n.Time = n.Time.UTC().Truncate(time.Second)
	if !isHash(n.SHA256) {
		return "", badKey("the hash of an arrival", n.SHA256, "64 lower-case hexadecimal digits")
	}
	if y := n.Time.Year(); y < 1970 || y > 9999 {
		return "", badKey("the time of an arrival", n.Time.Format(time.RFC3339), "a year from 1970 to 9999")
	}
	b, err := encode(n)
	if err != nil {
		return "", ioFault("write an arrival", n.Name, err)
	}
	y, m := n.Time.Format("2006"), n.Time.Format("01")
	g, err := a.graves(func(string, error) {}) // Verify tells of one that can't be read
	if err != nil {
		return "", err
	}
	for i := 1; ; i++ {
		name := fmt.Sprintf("%s-%s-%d.json", n.Time.Format(arrivalTime), n.SHA256[:8], i)
		if g.arrivals[path.Join(arrivalsDir, y, m, name)] != nil {
			continue // that one was erased, and its place is not given again
		}
		_, err := a.put(b, name, arrivalsDir, y, m)
		if errors.Is(err, ErrConflict) {
			continue
		}
		if err != nil {
			return "", err
		}
		return path.Join(arrivalsDir, y, m, name), nil
	}
}

// EachArrival visits the notes in order of time, with the place of each from
// the archive's folder. It stops at the first error and returns it.
func (a *Archive) EachArrival(visit func(where string, n Arrival) error) error {
	return a.EachArrivalPlace(func(where string) error {
		n, err := a.Arrival(where)
		if errors.Is(err, errReserved) {
			return nil
		}
		if err != nil {
			return err
		}
		return visit(where, n)
	})
}

// EachArrivalPlace visits the places of the notes in order of time, without
// reading them.
func (a *Archive) EachArrivalPlace(visit func(where string) error) error {
	return a.walk(a.path(arrivalsDir), func(p string, e fs.DirEntry) error {
		if where := a.rel(p); validArrivalPlace(where) {
			return visit(where)
		}
		return nil // Verify tells of strays
	})
}

// errReserved marks a name that was taken and never filled; see Archive.name.
var errReserved = errors.New("empty")

// Arrival reads one note by its place.
func (a *Archive) Arrival(where string) (Arrival, error) {
	var n Arrival
	if !validArrivalPlace(where) {
		return n, badKey("the place of an arrival", where, "such as arrivals/2026/11/20261125T143911Z-abcdef01-1.json")
	}
	b, err := a.fs.ReadFile(a.path(where))
	if errors.Is(err, fs.ErrNotExist) {
		return n, a.wasErased("arrival "+where, where, func(g *graveyard) *Tombstone { return g.arrivals[where] })
	}
	if err != nil {
		return n, ioFault("read an arrival", where, err)
	}
	if len(b) == 0 {
		return n, newFault(ErrNotFound, errReserved, ingest.Reason{Code: "archive-not-found", Where: ingest.Place{File: where},
			What: "the note of an arrival was begun and never written", Next: "nothing needs to be done"})
	}
	if err := json.Unmarshal(b, &n); err != nil {
		return n, newFault(ErrDamaged, err, ingest.Reason{Code: "archive-damaged", Where: ingest.Place{File: where},
			What: "the note of an arrival can't be read", Found: err.Error(),
			Next: "bring this file back from a backup; run windrow archive verify to see whether there are others"})
	}
	return n, nil
}

// validArrivalPlace reports whether a place is one where PutArrival puts
// notes.
func validArrivalPlace(where string) bool {
	dir, name := path.Split(where)
	m := arrivalName.FindStringSubmatch(name)
	if m == nil {
		return false
	}
	t, err := time.Parse(arrivalTime, m[1])
	return err == nil && dir == arrivalsDir+"/"+t.Format("2006/01")+"/"
}
