package access

import (
	"os"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// A roster is the list of users as it stands in its file now: who was disabled
// or removed is out at the next page.
type roster struct {
	path string

	mu     sync.Mutex
	looked time.Time
	seen   os.FileInfo
	list   *List
	fault  *ingest.Reason
}

// lookEvery is how long what the file said holds at the most.
const lookEvery = time.Second

// now is the list in force. A file that is faulty or not there lets nobody in
// until it is put right.
func (r *roster) now(now time.Time) (*List, *ingest.Reason) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if since := now.Sub(r.looked); r.list != nil && since >= 0 && since < lookEvery {
		return r.list, nil
	}
	r.looked = now
	fi, err := os.Stat(r.path)
	if err == nil && r.list != nil && r.seen != nil && os.SameFile(fi, r.seen) && fi.ModTime().Equal(r.seen.ModTime()) && fi.Size() == r.seen.Size() {
		return r.list, nil
	}
	l, missing, rs := ReadList(r.path)
	switch {
	case missing:
		r.list, r.fault = nil, noUsers(r.path)
	case len(rs) > 0:
		// It goes into a log, where nobody's name belongs.
		fault := *rs[0]
		fault.Code, fault.Found = "users-faulty", ""
		r.list, r.fault = nil, &fault
	default:
		r.list, r.fault, r.seen = l, nil, fi
	}
	return r.list, r.fault
}
