package pipeline

import (
	"encoding/json"
	"os"
	"path/filepath"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/ingest"
)

// The jobs that leave a note of how they went, for who watches the office:
// they run as programs of their own, and the metrics are those of the watch.
const (
	Verified = ".windrow-verified.json" // the newest archive verify
	Exported = ".windrow-exported.json" // the newest archive export
)

type jobNote struct {
	At       time.Time `json:"at"`
	Failed   bool      `json:"failed"`
	Problems int       `json:"problems"`
}

// NoteJob writes how a job went into the office's folder. The note is no part
// of the archive, and nothing but metrics and the doctor is made of it.
func NoteJob(c *config.Config, name string, j metrics.Job) error {
	b, err := json.Marshal(jobNote{j.At.UTC().Truncate(time.Second), j.Failed, j.Problems})
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(c.Dir, name+".*.tmp")
	if err != nil {
		return noteFault(c, err)
	}
	_, err = f.Write(append(b, '\n'))
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Chmod(f.Name(), 0o644) // it holds a time and a number, and another user may watch
	}
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(c.Dir, name))
	}
	if err != nil {
		_ = os.Remove(f.Name()) // nobody reads it under this name
		return noteFault(c, err)
	}
	return nil
}

func noteFault(c *config.Config, err error) error {
	return &ingest.Reason{Code: "note-not-written", Severity: ingest.Flag, Where: ingest.Place{File: c.Dir}, What: "how this went can't be noted in the office's folder, so that the metrics don't know of it",
		Expected: "a folder that can be written to", Found: ingest.Cause(err), Next: "run it as the user who watches the office, or check the rights of the folder"}
}

// ReadJob is how a job went the last time, zero for never; and an error where
// its note can't be understood.
func ReadJob(c *config.Config, name string) (metrics.Job, error) {
	b, err := os.ReadFile(filepath.Join(c.Dir, name))
	if os.IsNotExist(err) {
		return metrics.Job{}, nil
	}
	var n jobNote
	if err == nil {
		err = json.Unmarshal(b, &n)
	}
	return metrics.Job{At: n.At, Failed: n.Failed, Problems: n.Problems}, err
}

// jobOf is ReadJob for the metrics: a note that can't be read is a job that
// failed, as nobody knows how it went.
func jobOf(c *config.Config, name string) metrics.Job {
	j, err := ReadJob(c, name)
	if err != nil {
		return metrics.Job{At: j.At, Failed: true}
	}
	return j
}
