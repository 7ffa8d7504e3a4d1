// Package queue hands files that several offices took to several workers, on
// a PostgreSQL database.
//
// Enters: a [Job] for each file that an office has put into the archive.
// Leaves: the job in the hands of one worker at a time, until one has done it;
// and what that one says of it, for the office that waits. Never: it holds the
// bytes of a file, forgets a job that was put, or gives up one because its
// worker died: such a job is given to another worker once its time is over.
// A job may therefore be done twice, and what is done must bear that.
//
// On one machine there is no queue: the watched folder is one, as a file
// leaves it only when it is done with.
//
// The package is a leaf of cmd: it imports nothing of Windrow. The work is
// done by River (github.com/riverqueue/river), behind the interface below.
package queue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"log/slog"
	"time"
)

// A Job is a file to work on, whose bytes are in the archive.
type Job struct {
	SHA256  string    `json:"sha256"` // of the original, in lower-case hexadecimal
	Name    string    `json:"name"`   // under which it came
	Channel string    `json:"channel"`
	Time    time.Time `json:"time"` // of the file
	Office  string    `json:"office"`
	County  string    `json:"county"`   // of a sample whose report names none
	LandUse string    `json:"land_use"` // where a report names none
}

// Key is by what a job is known for the same: the same bytes, come in the same
// way to the same office under the same name at the same time. Bytes that come
// again in another way are another job, since that they came is to be noted;
// the archive knows the bytes for the same.
func (j Job) Key() string {
	j.Time = j.Time.UTC().Truncate(time.Second)
	b, _ := json.Marshal(j) // of strings and a time; never fails
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

// A State is how a job stands.
type State struct {
	Done   bool
	Result json.RawMessage // what the worker said of it, once it is done
	GaveUp bool            // every attempt failed, and there will be no more
	Failed string          // why the last attempt failed, "" for none
	Tries  int             // attempts so far
}

// Counts are how many jobs there are of each sort.
type Counts struct {
	Waiting int `json:"waiting"` // for a worker, or for their next attempt
	Running int `json:"running"`
	GaveUp  int `json:"gave_up"` // and not yet forgotten
}

// A Queue is an open queue. Close it after use.
type Queue interface {
	// Put puts a job and gives its number. A job that is there already and
	// not done is not put again: the number is that of the first.
	Put(ctx context.Context, j Job) (id int64, err error)
	// State tells how a job stands. One that is done is remembered for a day.
	State(ctx context.Context, id int64) (State, error)
	// Counts counts the jobs.
	Counts(ctx context.Context) (Counts, error)
	// Work takes jobs and does them until ctx ends; those in hand are then
	// finished, as far as Grace allows. An error of do has the job tried again
	// later, by this worker or another.
	Work(ctx context.Context, opt Options, do func(ctx context.Context, j Job) (json.RawMessage, error)) error
	// Forget removes the jobs on these bytes that are done or given up, with
	// the names of their files. Who still asks for one is told that it is gone.
	Forget(ctx context.Context, sha256hex []string) error
	// Close lets go of the database.
	Close() error
}

// Options are how a worker works.
type Options struct {
	Workers int           // jobs at once
	Longest time.Duration // how long a job may take; a little later it is given to another worker
	Grace   time.Duration // how long jobs in hand may still take at the end
	Log     *slog.Logger
}

// tries is how often a job is attempted before it is given up, with growing
// waits in between: for some four hours. The office that waits for it puts it
// again after that.
const tries = 30

// wait is how long to wait after so many failed attempts.
func wait(failed int) time.Duration {
	return min(time.Second<<min(max(failed-1, 0), 20), 10*time.Minute)
}
