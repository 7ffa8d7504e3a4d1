package pipeline

import (
	"context"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive/index"
)

// CodeIndexAnew marks an index that was made again from the archive while the
// office was at work.
const CodeIndexAnew = "index-anew"

// tellIndex tells of an index that failed after everything was in the archive.
// Nothing is lost by it: the index catches up before the next file.
func (o *Office) tellIndex(err error) {
	o.missed.Add(1)
	o.amiss.Store(true)
	r := *ingest.AsReason(err)
	r.Severity = ingest.Flag
	o.Tell(&r)
}

// mendIndex makes an index good that failed or whose file is gone, and tells
// of it. Its error is an indexAmiss. A worker of a central engine leaves that to
// the server that all of them ask.
func (o *Office) mendIndex(ctx context.Context) error {
	sound := func() bool { return o.engine != nil || !o.amiss.Load() && !o.Index.Gone() }
	if sound() {
		return nil
	}
	o.mending.Lock() // nobody writes to it now
	defer o.mending.Unlock()
	if sound() { // another did it
		return nil
	}
	why, err := o.Index.Renew(ctx, o.Archive)
	if err != nil {
		return indexAmiss{err}
	}
	o.amiss.Store(false)
	if why != "" {
		o.Tell(&ingest.Reason{Code: CodeIndexAnew, Severity: ingest.Note, Where: ingest.Place{File: index.Shown(o.Config.Index)},
			What: "the index was made again from the archive, since " + why, Next: "nothing is lost, and nothing has to be done; see what else deletes or changes files of the office"})
	}
	return nil
}
