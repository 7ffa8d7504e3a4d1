package pipeline

import (
	"errors"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// release moves files out of the folder of held ones when nothing in them
// waits any more: the note beside such a file would go on saying that none of
// its numbers are used. It asks the archive and not what has just been done,
// so that a file that a killed process left there is moved by the next one.
// It gives where the files lie now.
func (r *Replay) release(files []replayFile) []string {
	o := r.Office
	if o == nil {
		return nil
	}
	r.shelved.Do(func() { r.shelf = folder.NewShelf(o.Config.Held, nil) })
	var out []string
	for _, f := range files {
		if !r.shelf.Has(f.sha) || r.waits(f) {
			continue
		}
		moved, err := r.shelf.Release(f.sha, o.Config.Done, o.Today())
		out = append(out, moved...)
		if err != nil {
			o.Tell(ingest.AsReason(err))
		}
	}
	return out
}

// waits reports whether a report of a file is held, or can't be looked up.
// One that a person set aside waits for nobody, yet its numbers are not used,
// as its note says.
func (r *Replay) waits(f replayFile) bool {
	b, err := r.a.Original(f.sha)
	if err != nil {
		return true
	}
	src := ingest.NewSource(f.name, b)
	known := 0
	for _, m := range append([]*ingest.Source{src}, r.st.unpack(src).members...) {
		switch h, _, err := r.header(idOf(m)); {
		case errors.Is(err, archive.ErrNotFound):
		case err != nil || h.Status == normalize.Held:
			return true
		default:
			known++
		}
	}
	return known == 0
}
