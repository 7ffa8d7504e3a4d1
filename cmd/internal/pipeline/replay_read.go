package pipeline

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/difference"
)

// Do does the i-th piece of work and tells what came of each report in it that
// the filter lets through. Pieces may be done at once; no more documents are
// in memory than the stages may read at once. The error is set when ctx ended
// before the piece was read, or when what should be written could not be.
func (r *Replay) Do(ctx context.Context, i int) ([]*Replayed, error) {
	job := r.jobs[i]
	if job.report != "" {
		return r.withoutFile(job.report)
	}
	best := map[string]*reread{}
	var order []string
	archived := map[string]*replayHeader{}
	var out []*Replayed
	for _, file := range job.files {
		all, olds, failed, err := r.file(ctx, file)
		if err != nil {
			return nil, err
		}
		out = append(out, failed...)
		for id, h := range olds {
			archived[id] = h
		}
		for _, x := range all {
			// A report that came in several files is as archived when one of them
			// gives it so; otherwise that of the first file holds.
			switch was := best[x.rep.ID]; {
			case was == nil:
				order = append(order, x.rep.ID)
				best[x.rep.ID] = x
			case was.diff != nil && x.diff == nil:
				best[x.rep.ID] = x
			}
		}
	}
	for _, id := range order {
		x, err := r.finish(ctx, best[id])
		switch {
		case errors.Is(err, archive.ErrDamaged):
			// What is damaged must not keep the others from being read.
			b := best[id]
			x = &Replayed{ID: id, Name: b.src.Title(), Lab: b.rep.Lab, Status: b.rep.Status, Outcome: ReplayNotRead, Reasons: []*ingest.Reason{ingest.AsReason(err)}}
		case err != nil:
			return nil, err
		}
		out = append(out, x)
		delete(archived, id)
	}
	for _, id := range slices.Sorted(maps.Keys(archived)) { // of mails and archives
		h := archived[id]
		out = append(out, &Replayed{ID: id, Name: h.title(), Lab: h.Lab, Outcome: ReplayNotMade, Version: h.version, Status: h.Status,
			Reasons: []*ingest.Reason{{Code: "report-not-made", Severity: ingest.Note, Where: ingest.Place{File: h.title()}, What: "what lies in this file is read otherwise today, so that this report would no longer be made", Found: "report " + id,
				Next: "nothing is removed: the archived report stands until a person decides on it"}}})
	}
	if moved := r.release(job.files); len(out) > 0 {
		out[0].Moved = moved
	}
	return out, nil
}

func (h *replayHeader) title() string {
	if h.Source.Member == "" {
		return h.Source.Name
	}
	return h.Source.Name + " > " + h.Source.Member
}

// withoutFile tells of a report of which it isn't known in which file it came.
func (r *Replay) withoutFile(id string) ([]*Replayed, error) {
	h, v, err := r.header(id)
	if err != nil {
		return []*Replayed{{ID: id, Name: id, Outcome: ReplayNotRead, Reasons: []*ingest.Reason{ingest.AsReason(err)}}}, nil
	}
	if !r.filter.passes(id, h, "") {
		return nil, nil
	}
	return []*Replayed{{ID: id, Name: h.title(), Lab: h.Lab, Outcome: ReplayNotRead, Version: v, Status: h.Status, Reasons: []*ingest.Reason{{Code: "arrival-missing", Severity: ingest.Fail, Where: ingest.Place{File: h.title()},
		What: "the archive has no note of the mail or archive in which this report came, so that it can't be read as it was", Expected: "the note of its arrival", Found: "report " + id, Next: "bring arrivals back from a backup; run windrow archive verify"}}}}, nil
}

// A reread is a report that was read anew.
type reread struct {
	rep  *normalize.Report
	src  *ingest.Source
	old  *replayHeader // nil of a new report
	was  *normalize.Report
	diff *difference.Report // nil when nothing differs
	bare bool               // a document has no checksum

	registered map[string]*interpret.Registered // by record, nil before it was asked for
}

// ask is what is asked about a record that was read anew.
func (r *Replay) ask(x *reread, rec *normalize.Record, on string) interpret.Ask {
	if x.registered == nil {
		x.registered = registeredBy(r.Register, x.rep)
	}
	return interpret.Ask{On: on, Register: x.registered[rec.ID]}
}

// file reads one file anew. olds are the archived reports of it, of which the
// filter let at least one through; failed tells of a file that could not be
// read.
func (r *Replay) file(ctx context.Context, f replayFile) (all []*reread, olds map[string]*replayHeader, failed []*Replayed, err error) {
	b, oerr := r.a.Original(f.sha)
	if oerr != nil {
		return nil, nil, r.unreadable(f, oerr), nil
	}
	src := ingest.NewSource(f.name, b)
	p := r.st.unpack(src)
	olds = map[string]*replayHeader{}
	var before []*replayHeader
	for _, m := range append([]*ingest.Source{src}, p.members...) {
		id := idOf(m)
		h, _, err := r.header(id)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			failed = append(failed, &Replayed{ID: id, Name: m.Title(), Outcome: ReplayNotRead, Reasons: []*ingest.Reason{ingest.AsReason(err)}})
			continue
		}
		before = append(before, h)
		if r.filter.passes(id, h, f.day) {
			olds[id] = h
		}
	}
	if len(olds) == 0 {
		return nil, nil, failed, nil
	}
	first := before[0]
	if first.Source.Name != f.name {
		// As in Office.read: under the name under which its bytes first came.
		as := *src
		as.Name = first.Source.Name
		p = r.st.unpack(&as)
	}
	select {
	case r.st.turns <- struct{}{}:
	case <-ctx.Done():
		return nil, nil, nil, ctx.Err()
	}
	rds, err := r.st.readParcel(ctx, p, r.known(ctx, r.defaults(f, before), f, before), false)
	<-r.st.turns
	if err != nil {
		return nil, nil, nil, err
	}
	for _, rd := range rds {
		if why := today(rd.Report, before); why != nil {
			// The other parts of a mail wait for this one, and are no others for it.
			for _, id := range slices.Sorted(maps.Keys(olds)) {
				h := olds[id]
				failed = append(failed, &Replayed{ID: id, Name: h.title(), Lab: h.Lab, Outcome: ReplayNotRead, Version: h.version, Status: h.Status, Reasons: []*ingest.Reason{why}})
			}
			return nil, nil, failed, nil
		}
	}
	for _, rd := range rds {
		h := olds[rd.Report.ID]
		if h == nil && !r.isNew(rd) {
			continue
		}
		if r.Index != nil {
			if err := setAgainst(ctx, r.Index, r.a, rd.Report, h != nil && bytes.Contains(h.bytes, []byte(`"`+normalize.AgainCode+`"`)), r.tellIndex); err != nil {
				return nil, nil, nil, err
			}
		}
		x := &reread{rep: rd.Report, src: rd.Source, old: h}
		if err := r.compare(x); err != nil {
			return nil, nil, nil, err
		}
		all = append(all, x)
	}
	return all, olds, failed, nil
}

// ofThisMachine are the codes of what kept a file from being read, or from being
// read a second time, that says nothing of the file: at another time, or on
// another machine, it is read.
var ofThisMachine = []string{"too-slow", "stopped", "parser-crashed", "parser-not-started", "scan-no-ocr", "ocr-failed", "second-engine-failed"}

// today is why a report could not be read just now as it was before; nil where
// it could, or was not before either. What is archived is no other for it.
func today(rep *normalize.Report, before []*replayHeader) *ingest.Reason {
	for _, why := range rep.Reasons {
		if !slices.Contains(ofThisMachine, why.Code) {
			continue
		}
		for _, h := range before {
			if h.ID == rep.ID && !bytes.Contains(h.bytes, []byte(`"`+why.Code+`"`)) {
				return why.In(h.title())
			}
		}
	}
	return nil
}

// unreadable tells of a file whose original is not there or damaged.
func (r *Replay) unreadable(f replayFile, err error) []*Replayed {
	id := reportOf(f.sha)
	x := &Replayed{ID: id, Name: f.name, Outcome: ReplayNotRead, Reasons: []*ingest.Reason{ingest.AsReason(err)}}
	if h, v, err := r.header(id); err == nil {
		if !r.filter.passes(id, h, f.day) {
			return nil
		}
		x.Lab, x.Version, x.Status = h.Lab, v, h.Status
	}
	return []*Replayed{x}
}

// isNew reports whether a report that the archive does not hold, and that was
// read from a file whose other reports it does, is one: it isn't where the
// filter is for others, or where the same bytes are a report already.
func (r *Replay) isNew(rd *Reading) bool {
	if r.filter.Offices != nil && !slices.Contains(r.filter.Offices, rd.Report.Office) {
		return false
	}
	if len(r.filter.IDs) > 0 || r.filter.Lab != "" && rd.Report.Lab.ID != r.filter.Lab {
		return false
	}
	if vs, err := r.a.Versions(archive.Reports, rd.Report.ID); err != nil || len(vs) > 0 {
		return false // there, and kept out by the filter
	}
	for _, id := range append([]string{reportOf(rd.Source.SHA256)}, r.of[rd.Source.SHA256]...) {
		if h, _, err := r.header(id); err == nil && id != rd.Report.ID && h.Status != normalize.Held {
			return false
		}
	}
	return true
}

// defaults are what the office's settings said of a report when it came. The
// archived reports tell those that were used. Of a report that was held before
// any sample was read, they are those of the folders that serve its office,
// where all of these agree and it did come by a folder.
func (r *Replay) defaults(f replayFile, before []*replayHeader) Defaults {
	d := Defaults{Office: before[0].Office, Register: r.Register}
	samples := 0
	for _, h := range before {
		for _, rec := range h.Records {
			samples++
			for _, used := range rec.Sample.DefaultsUsed {
				switch used {
				case "county":
					d.County = rec.Sample.County
				case "land_use":
					d.LandUse = rec.Sample.LandUse
				}
			}
		}
	}
	if samples > 0 || f.channel != "folder" {
		return d
	}
	n := 0
	for _, folder := range r.cfg.Folders {
		name := folder.Office
		if name == "" {
			name = r.cfg.Office.Name
		}
		if name != d.Office {
			continue
		}
		if n++; n == 1 {
			d.County, d.LandUse = folder.County, folder.LandUse
			continue
		}
		if d.County != folder.County {
			d.County = ""
		}
		if d.LandUse != folder.LandUse {
			d.LandUse = ""
		}
	}
	return d
}

// known adds what the cross-examination asks for besides the report. The day
// by which a report's dates were judged is not archived, and was no earlier
// than the day of its file: what was found by it then is found by that day
// again, and otherwise nothing is.
func (r *Replay) known(ctx context.Context, d Defaults, f replayFile, before []*replayHeader) Defaults {
	for _, h := range before {
		if bytes.Contains(h.bytes, []byte(`"dates-future"`)) {
			d.Arrived = f.day
		}
	}
	d.Ruling, d.Proof = rulings(r.a), proofs(r.a)
	if r.Index != nil {
		d.Earlier = history{ctx, r.Index, r.tellIndex}
	}
	return d
}

// tellIndex tells of an index that can't be asked.
func (r *Replay) tellIndex(err error) {
	if r.Tell != nil {
		r.Tell(ingest.AsReason(err))
	}
}

// compare holds a report against the archived one.
func (r *Replay) compare(x *reread) error {
	if x.old == nil {
		none := &normalize.Report{ID: x.rep.ID, Source: x.rep.Source, Office: x.rep.Office, Version: x.rep.Version, Tables: x.rep.Tables, Schema: x.rep.Schema}
		x.diff = difference.Compare(none, x.rep)
		return nil
	}
	// Most are the same but for what they were read by, and need no more.
	as := *x.rep
	as.Version, as.Tables, as.Mapping.File, as.Mapping.SHA256 = x.old.Version, x.old.Tables, x.old.Mapping.File, x.old.Mapping.SHA256
	b, err := as.JSON()
	if err != nil {
		return err
	}
	var was normalize.Report
	if err := json.Unmarshal(x.old.bytes, &was); err != nil {
		return fmt.Errorf("report %s in the archive: %w", x.rep.ID, err)
	}
	x.was = &was
	if !bytes.Equal(b, x.old.bytes) {
		if d := difference.Compare(&was, x.rep); !d.Alike() {
			x.diff = d
		}
	}
	x.old.bytes = nil
	return nil
}

// finish compares the advice, writes what is new where it is to be written,
// and tells.
func (r *Replay) finish(ctx context.Context, x *reread) (*Replayed, error) {
	out := &Replayed{ID: x.rep.ID, Name: x.src.Title(), Lab: x.rep.Lab, Status: x.rep.Status, Outcome: ReplaySame, Diff: x.diff}
	if x.old != nil {
		out.Name, out.Version = x.old.title(), x.old.version
		if x.diff == nil && (x.old.Version != x.rep.Version || x.old.Tables != x.rep.Tables || x.old.Mapping != x.rep.Mapping) {
			out.Outcome = ReplayAlike
		}
	}
	if x.rep.Status == normalize.Held {
		for _, reason := range x.rep.Reasons {
			if reason.Severity == ingest.Hold || reason.Severity == ingest.Fail {
				out.Reasons = append(out.Reasons, reason.In(out.Name))
			}
		}
	}
	redo := map[string]bool{} // records whose advice and letter are made anew
	unfinished := false
	if x.old != nil {
		sound, err := r.a.Vouched(archive.Reports, x.rep.ID, x.old.version)
		if err != nil {
			return nil, err
		}
		x.bare = !sound
	}
	if x.rep.Status != normalize.Held {
		for _, rec := range x.rep.Records {
			changes, missing, err := r.adviceOf(x, rec)
			if err != nil {
				return nil, err
			}
			out.Advice = append(out.Advice, changes...)
			if len(changes) > 0 {
				redo[rec.ID] = true
			}
			if missing || r.cutShort(x, rec) {
				redo[rec.ID], unfinished = true, true
			}
		}
	}
	switch {
	case x.old == nil:
		out.Outcome = ReplayNew
	case x.diff != nil || len(out.Advice) > 0:
		out.Outcome = ReplayChanged
	case unfinished || x.bare:
		out.Outcome = ReplayUnfinished
	}
	if r.Office == nil || !out.Differs() {
		return out, nil
	}
	// What was begun is finished, even when the run is to stop.
	return out, r.apply(context.WithoutCancel(ctx), x, redo, out)
}

// adviceOf compares the archived advice on a record with what would be
// advised today on the date of the archived one, so that the date alone makes
// no difference. missing says that there is none although the report is as
// archived. A checksum that its writer did not live to write is written where
// something is to be written.
func (r *Replay) adviceOf(x *reread, rec *normalize.Record) (changes []AdviceChange, missing bool, err error) {
	b, v, err := r.a.Latest(archive.Advice, rec.ID)
	if errors.Is(err, archive.ErrNotFound) {
		return nil, x.diff == nil, nil
	}
	if err != nil {
		return nil, false, err
	}
	if sound, err := r.a.Vouched(archive.Advice, rec.ID, v); err != nil {
		return nil, false, err
	} else if !sound {
		x.bare = true
		if r.Office != nil {
			if _, _, err := r.Office.Archive.PutAdvice(rec.ID, b); err != nil {
				return nil, false, err
			}
		}
	}
	var old interpret.Advice
	if err := json.Unmarshal(b, &old); err != nil {
		return nil, false, fmt.Errorf("advice on %s in the archive: %w", rec.ID, err)
	}
	now := r.st.Advise(x.rep, rec, r.ask(x, rec, old.On))
	nb, err := adviceJSON(now)
	if err != nil {
		return nil, false, err
	}
	if bytes.Equal(b, nb) {
		return nil, false, nil
	}
	changes, err = adviceChanges(&old, now, sampleOf(rec), x.diff != nil)
	return changes, false, err
}

func sampleOf(rec *normalize.Record) string {
	if rec.Sample.LabID != "" {
		return rec.Sample.LabID
	}
	return rec.Sample.ClientLabel
}
