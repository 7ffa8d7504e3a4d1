package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/labs"
)

// Reading gives the same stages, with the same parsers, reading by other
// mappings. They are not to be closed.
func (s *Stages) Reading(by *mappings.Set) *Stages {
	out := *s
	out.mapped = &atomic.Pointer[mappings.Set]{}
	out.mapped.Store(by)
	return &out
}

// Sketch reads what has been read before once more by the mappings of these
// stages, for somebody who is writing one: from the same pages, and without a
// second engine's word on them. A text is cut anew, since a mapping says how.
// The error is set only when ctx ended.
func (s *Stages) Sketch(ctx context.Context, was *Reading, d Defaults) (*Reading, error) {
	rd := &Reading{Source: was.Source, Docs: was.Docs}
	if len(rd.Docs) == 0 || kindOf(rd.Source) == ingest.KindText {
		rd.Docs, rd.why = s.documents(ctx, rd.Source, d)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(rd.Docs) > 0 {
		match, why := s.Mappings().Recognise(rd.Docs)
		if why != nil {
			rd.why = []*ingest.Reason{why}
		} else {
			rd.Match, rd.Extract = match, match.Read()
		}
	}
	s.build(rd, d, false)
	return rd, nil
}

// Remap loads the mappings anew, as they lie in their folders now, and has
// everything read by them from then on. No file is worked on meanwhile. The
// reasons are mistakes in mapping files; nothing is changed while the folders
// can't be read.
func (o *Office) Remap() []*ingest.Reason {
	dirs := slices.Clone(o.Stages.folders)
	if at := o.Config.Mappings; !slices.Contains(dirs, at) {
		dirs = append([]string{at}, dirs...) // made since; what was named by itself outranks it
	}
	set, reasons := LoadMappings(dirs)
	for _, r := range reasons {
		if r.Code != "mapping-error" {
			return reasons
		}
	}
	o.deciding.Lock()
	defer o.deciding.Unlock()
	o.Stages.mapped.Store(set)
	return reasons
}

// ReadHeld reads reports anew as replay does and writes what comes of it, such
// as after a mapping was mended: those that it reads are held no more, and
// their files leave the folder of held ones. Between two files others may be
// worked on. tell is told of how many pieces of work there are and of what
// came of each.
func (o *Office) ReadHeld(ctx context.Context, ids []string, on time.Time, tell func(all int, list []*Replayed)) error {
	if len(ids) == 0 {
		return nil
	}
	r, err := PlanReplay(ctx, o.Config, o.Stages, o.Archive, ReplayFilter{IDs: ids, Beside: true, Offices: o.Offices()})
	if err != nil {
		return err
	}
	r.Office, r.Index, r.Register, r.Today, r.Tell = o, o.Index, o.Register(ctx), on.Format(time.DateOnly), o.Tell
	tell(r.Len(), nil)
	for i := range r.Len() {
		if err := ctx.Err(); err != nil {
			return err
		}
		var list []*Replayed
		err := o.Sole(ctx, func(ctx context.Context) (err error) {
			list, err = r.Do(context.WithoutCancel(ctx), i) // half of a report would be none
			return err
		})
		if err != nil {
			return err
		}
		tell(r.Len(), list)
	}
	return nil
}

// WouldRead tells what would come of archived reports if they were read by
// other mappings; nothing is changed.
func (o *Office) WouldRead(ctx context.Context, by *mappings.Set, ids []string, on time.Time, tell func(all int, list []*Replayed)) error {
	if len(ids) == 0 {
		return nil
	}
	r, err := PlanReplay(ctx, o.Config, o.Stages.Reading(by), o.Archive, ReplayFilter{IDs: ids})
	if err != nil {
		return err
	}
	r.Index, r.Register, r.Today, r.Tell = o.Index, o.Register(ctx), on.Format(time.DateOnly), o.Tell
	tell(r.Len(), nil)
	for i := range r.Len() {
		list, err := r.Do(ctx, i)
		if err != nil {
			return err
		}
		tell(r.Len(), list)
	}
	return nil
}

// MappingText is the text of a mapping that is in force, and the folder in
// which its file lies; "" for one that comes with the program. The error tells
// of a file that was changed or removed since it was loaded.
func (s *Stages) MappingText(m *mappings.Mapping, office string) (text []byte, folder string, err error) {
	dirs := slices.Clone(s.folders)
	if !slices.Contains(dirs, office) {
		dirs = append([]string{office}, dirs...)
	}
	is := func(b []byte) bool {
		sum := sha256.Sum256(b)
		return hex.EncodeToString(sum[:]) == m.SHA256
	}
	for _, d := range slices.Backward(dirs) {
		if b, err := os.ReadFile(filepath.Join(d, m.File)); err == nil && is(b) {
			return b, d, nil
		}
	}
	if b, err := labs.FS.ReadFile(m.File); err == nil && is(b) {
		return b, "", nil
	}
	return nil, "", &ingest.Reason{Code: "mapping-changed", Severity: ingest.Fail, Where: ingest.Place{File: m.File}, What: "the file of this mapping is not as it was when it was loaded", Expected: "the mapping that reports are read by now", Found: "another text, or no file",
		Next: "stop Windrow and start it again, so that the file as it is now is used; then begin anew"}
}
