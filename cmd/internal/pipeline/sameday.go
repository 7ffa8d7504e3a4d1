package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// sameDay are the archived reports that have a sample of a report under its
// laboratory's number and day, and say something else of it, as they are now. An index that can't be asked
// gives an error that is an indexAmiss.
func sameDay(ctx context.Context, ix *index.Index, a *archive.Archive, rep *normalize.Report) ([]*normalize.Report, error) {
	var ids []string
	asked := map[[3]string]bool{}
	for _, rec := range rep.Records {
		k := [3]string{rec.Sample.LabID, rec.Sample.Reported, normalize.Said(rec)}
		if asked[k] {
			continue
		}
		asked[k] = true
		more, err := ix.SameDay(ctx, rep.ID, rep.Lab.ID, k[0], k[1], k[2])
		if err != nil {
			return nil, indexAmiss{err}
		}
		ids = append(ids, more...)
	}
	slices.Sort(ids)
	var out []*normalize.Report
	for _, id := range slices.Compact(ids) {
		o, err := latestOf(a, id)
		if err != nil {
			return nil, err
		}
		if o != nil {
			out = append(out, o)
		}
	}
	return out, nil
}

// An indexAmiss is the failure of an index.
type indexAmiss struct{ error }

func (e indexAmiss) Unwrap() error { return e.error }

// setAgainst holds a report that others of its day contradict. An index that
// can't be asked is told of; the report is then read without, and the next
// replay finds what is missing. One that was held by others already is not
// released so: then the failure is an error.
func setAgainst(ctx context.Context, ix *index.Index, a *archive.Archive, rep *normalize.Report, already bool, tell func(error)) error {
	if !normalize.Readable(rep) {
		return nil
	}
	others, err := sameDay(ctx, ix, a, rep)
	if errors.As(err, &indexAmiss{}) && !already && ctx.Err() == nil {
		tell(err)
		return nil
	}
	if err != nil {
		return err
	}
	normalize.SetAgainst(rep, others)
	return nil
}

// othersToo holds those archived reports that a report contradicts, once it is
// in the index, and the report itself where another one came at the same
// time. Of two reports that are read at once the later one in the index sees
// the other here, and each is done with only after this; so both are held,
// whichever came first, and a process that is killed in between does it when
// it begins again. Nothing is ever released here: for that there is a replay.
//
// The caller must hold none of the locks of reports. own is what the archive
// has now of the report itself when that changed, nil when not.
func (o *Office) othersToo(ctx context.Context, rep *normalize.Report) (own *normalize.Report, err error) {
	if !normalize.Readable(rep) {
		return nil, nil
	}
	others, err := sameDay(ctx, o.Index, o.Archive, rep)
	if err != nil {
		return nil, err
	}
	contradicted := false
	for _, x := range others {
		if !normalize.Readable(x) || !normalize.Contradicts(rep, x) {
			continue
		}
		contradicted = true
		if err := o.holdAgain(ctx, x.ID, x.Source.SHA256, rep.Source.Title()); err != nil {
			return nil, err
		}
	}
	if !contradicted {
		return nil, nil
	}
	if err := o.holdAgain(ctx, rep.ID, rep.Source.SHA256, ""); err != nil {
		return nil, err
	}
	// The other one, read at the same time, may have been faster.
	if own, err = o.latest(rep.ID); err != nil || own == nil || sameOutcome(own, rep) {
		return nil, err
	}
	return own, nil
}

// holdAgain sets an archived report against the others of its day and, where
// that says something new, keeps it so and puts its letters aside. because is
// the file that told, for the message; "" for none.
func (o *Office) holdAgain(ctx context.Context, id, sha, because string) error {
	unlock, err := o.hold(ctx, lockReports, sha)
	if err != nil {
		return engineAway(err)
	}
	defer unlock()
	b, version, err := o.Archive.Latest(archive.Reports, id)
	if err != nil {
		return err
	}
	was, rep := &normalize.Report{}, &normalize.Report{}
	if err := errors.Join(json.Unmarshal(b, was), json.Unmarshal(b, rep)); err != nil {
		return fmt.Errorf("report %s in the archive: %w", id, err)
	}
	others, err := sameDay(ctx, o.Index, o.Archive, rep)
	if err != nil {
		return err
	}
	if !normalize.SetAgainst(rep, others) || sameOutcome(was, rep) {
		return nil
	}
	var aside []string
	for _, rec := range was.Records {
		kept, err := keepLetter(o.Config.Letters, LetterPath(was, rec), version, withdrawnMark)
		if err != nil {
			return err
		}
		if kept != "" {
			aside = append(aside, kept)
		}
	}
	if b, err = rep.JSON(); err != nil {
		return err
	}
	if version, _, err = o.Archive.PutReport(id, b); err != nil {
		return err
	}
	if err := o.Index.AddReport(ctx, id, version, b); err != nil {
		return indexAmiss{err}
	}
	if because != "" && was.Status != normalize.Held {
		r := &ingest.Reason{Code: normalize.AgainCode, Severity: ingest.Flag, Where: ingest.Place{File: was.Source.Title()}, What: "this report was taken before, and is held now, since " + because + " came with other results of the same samples and the same day",
			Expected: "one report of a sample", Found: "report " + id + ", version " + fmt.Sprint(version), Next: "ask the laboratory which of the two counts"}
		if n := len(aside); n > 0 {
			r.Next += fmt.Sprintf("; what was written to the client must not be sent any more, and was put aside: %s", filepath.Base(aside[0]))
			if n > 1 {
				r.Next += fmt.Sprintf(" and %d others", n-1)
			}
		}
		o.Tell(r)
	}
	return nil
}
