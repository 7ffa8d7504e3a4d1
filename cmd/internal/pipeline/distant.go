package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/queue"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// inTransit is how many files an office has at the central engine at once.
const inTransit = 32

// A distant is the central engine as an office sees it, which may not be
// there now.
type distant struct {
	mu     sync.Mutex
	opened *engine
	err    error     // of the last attempt to open it
	tried  time.Time // when that was
	failed bool      // at the last attempt to reach it
	swept  time.Time // when letters of withdrawn reports were last looked for
	stones int       // how many tombstones there were then
	lost   bool      // the archive may be lost, and is brought back
}

// OpenDistant opens an office whose work is done by a central engine: its
// folders are made where they are absent, and it is locked against a second
// process. The engine need not be there yet: until it is, files wait in their
// folders. Close it after use.
//
// A file goes through in these steps, each of which may be cut short and done
// again: its bytes are put into the archive; a job is put; the office waits
// until a worker has done it; it writes the letters of what is released, from
// the archive; and only then the file leaves its folder, with a note of why
// where it is held.
func OpenDistant(cfg *config.Config, st *Stages) (*Office, error) {
	o := &Office{Stages: st, Config: cfg, Today: time.Now, Tell: func(*ingest.Reason) {}, Log: slog.New(slog.DiscardHandler), distant: &distant{}}
	if err := makeFolders(cfg, cfg.Done, cfg.Held, cfg.Letters); err != nil {
		return nil, err
	}
	var err error
	o.lock, err = lockOffice(filepath.Join(cfg.Dir, lockName))
	return o, err
}

// reach gives the engine, which is opened where it isn't yet.
func (o *Office) reach(ctx context.Context) (*engine, error) {
	d := o.distant
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.opened == nil && d.err != nil && time.Since(d.tried) < 2*time.Second {
		return nil, d.err // thirty files need not all find out
	}
	if d.opened == nil {
		ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
		defer cancel()
		e, err := openEngine(ctx, o.Config.Engine, inTransit, d.lost)
		d.failed, d.err, d.tried = err != nil, err, time.Now()
		if err != nil {
			return nil, err
		}
		d.opened = e
	}
	return d.opened, nil
}

// Reach tries the central engine, so that an office that can't reach it, or was
// given a wrong address of it, is told when it begins and not with its first
// file. Nothing where there is none.
func (o *Office) Reach(ctx context.Context) error {
	if o.distant == nil {
		return nil
	}
	_, err := o.reach(ctx)
	return err
}

// away reports whether the engine could not be reached when it was last tried.
func (d *distant) away() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.failed
}

// note keeps whether the engine answered.
func (d *distant) note(err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.failed = err != nil
}

// kept gives the archive and the index of an office, wherever they are.
func (o *Office) kept(ctx context.Context) (*archive.Archive, *index.Index, error) {
	if o.distant == nil {
		return o.Archive, o.Index, nil
	}
	e, err := o.reach(ctx)
	if err != nil {
		return nil, nil, err
	}
	return e.archive, e.index, nil
}

// processDistant has a file worked on by the central engine, and waits for it.
func (o *Office) processDistant(ctx context.Context, a Arrival) Outcome {
	src := a.Source
	e, err := o.reach(ctx)
	if err != nil {
		return failed(src, err)
	}
	id, err := o.put(ctx, e, a)
	o.distant.note(err)
	if err != nil {
		return failed(src, engineAway(err))
	}
	st, err := o.await(ctx, e, id)
	if err != nil {
		return failed(src, err)
	}
	if st.GaveUp {
		return failed(src, &ingest.Reason{Code: "engine-failed", Severity: ingest.Fail, Where: ingest.Place{File: src.Title()}, What: "the central engine tried again and again and could not work on this file", Found: st.Failed,
			Next: "see what the workers tell; the file stays where it is and is tried again"})
	}
	var out Outcome
	if err := json.Unmarshal(st.Result, &out); err != nil {
		return failed(src, err)
	}
	if err := o.fetchLetters(ctx, e, src, &out); err != nil {
		return failed(src, engineAway(err))
	}
	return out
}

// put puts the bytes of a file into the archive and a job for it. Nobody has
// the archive for themselves meanwhile: what is being erased would go under who
// puts it again.
func (o *Office) put(ctx context.Context, e *engine, a Arrival) (id int64, err error) {
	unlock, err := e.share(ctx)
	if err != nil {
		return 0, err
	}
	defer unlock()
	src := a.Source
	if _, err := e.archive.PutOriginal(src.Bytes); err != nil {
		return 0, err
	}
	return e.jobs.Put(ctx, queue.Job{SHA256: src.SHA256, Name: src.Name, Channel: a.Channel, Time: a.Time, Office: a.Defaults.Office, County: a.Defaults.County, LandUse: a.Defaults.LandUse})
}

// await waits until a job is done or given up.
func (o *Office) await(ctx context.Context, e *engine, id int64) (queue.State, error) {
	for pause := 25 * time.Millisecond; ; pause = min(2*pause, time.Second) {
		st, err := e.jobs.State(ctx, id)
		if err != nil {
			return st, engineAway(err)
		}
		if st.Done || st.GaveUp {
			return st, nil
		}
		select {
		case <-ctx.Done():
			return st, &ingest.Reason{Code: "stopped", Severity: ingest.Fail, What: "the wait for the central engine was ended before it was done with this file", Next: "nothing is lost: the file stays where it is, and is asked after again"}
		case <-time.After(pause):
		}
	}
}

// fetchLetters writes the letters of what is released of a file, as archive
// and advice have it now. It does so whatever the outcome says: an office that
// was stopped before it wrote them is told, when it asks again, that the bytes
// are known.
func (o *Office) fetchLetters(ctx context.Context, e *engine, src *ingest.Source, out *Outcome) error {
	unlock, err := e.share(ctx) // a letter on what is being erased or decided would outlive it
	if err != nil {
		return err
	}
	defer unlock()
	letters := map[string][]string{}
	for _, m := range append([]*ingest.Source{src}, o.Stages.unpack(src).members...) {
		rep, err := latestOf(e.archive, idOf(m))
		if err != nil {
			return err
		}
		if rep == nil {
			continue
		}
		for i := range out.Parts {
			if p := &out.Parts[i]; p.ID == rep.ID && p.Status != Duplicate {
				p.Report = rep
			}
		}
		if !slices.Contains(o.names(), rep.Office) {
			o.Tell(&ingest.Reason{Code: "office-first", Severity: ingest.Flag, Where: ingest.Place{File: m.Title()}, What: "another office of the central engine brought this report in before, and writes its letters; here none are written",
				Expected: "a report that one office brings in", Found: "the same bytes, brought in by " + rep.Office, Next: "nothing is counted twice; if the client is this office's, have the two offices agree who writes to the client"})
			continue
		}
		if rep.Status == normalize.Held {
			continue
		}
		if letters[rep.ID], err = o.writeLetters(e.archive, rep); err != nil {
			return err
		}
	}
	for i := range out.Parts {
		if p := &out.Parts[i]; p.Status != Duplicate {
			p.Letters = letters[p.ID]
		}
	}
	// A report that this one contradicts is held as well from now on.
	for _, r := range out.Reasons {
		if r.Code == normalize.AgainCode {
			return o.withdraw(ctx, e)
		}
	}
	return nil
}

// writeLetters writes the letters of a report by the advice in the archive.
func (o *Office) writeLetters(a *archive.Archive, rep *normalize.Report) (out []string, err error) {
	for _, rec := range rep.Records {
		b, _, err := a.Latest(archive.Advice, rec.ID)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		var adv interpret.Advice
		if err := json.Unmarshal(b, &adv); err != nil {
			return nil, err
		}
		at, err := o.writeLetter(&adv, rec, rep)
		if err != nil {
			return nil, err
		}
		out = append(out, at)
	}
	return out, nil
}

// names are those under which the reports of this office are archived.
func (o *Office) names() []string {
	out := []string{o.Config.Office.Name}
	for _, f := range o.Config.Folders {
		if f.Office != "" && !slices.Contains(out, f.Office) {
			out = append(out, f.Office)
		}
	}
	return out
}

// sweepEvery is how often an office looks for letters that must not be sent
// any more: a report of another office may have told.
const sweepEvery = time.Minute

// WithdrawLetters puts the letters aside whose reports are held by now, and
// removes those on what was erased. It asks the central engine at most once a minute, and does nothing where there
// is none.
func (o *Office) WithdrawLetters(ctx context.Context) error {
	if o.distant == nil {
		return nil
	}
	d := o.distant
	d.mu.Lock()
	due := time.Since(d.swept) >= sweepEvery && d.opened != nil
	if due {
		d.swept = time.Now()
	}
	e := d.opened
	d.mu.Unlock()
	if !due {
		return nil
	}
	unlock, err := e.share(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	return errors.Join(o.withdraw(ctx, e), o.forgetErased(e))
}

// forgetErased removes the letters and drafts on what was erased elsewhere
// since it was last looked for.
func (o *Office) forgetErased(e *engine) error {
	n := 0
	if err := e.archive.EachID(archive.Tombstones, func(id string) error {
		vs, err := e.archive.Versions(archive.Tombstones, id)
		n += len(vs)
		return err
	}); err != nil {
		return err
	}
	d := o.distant
	d.mu.Lock()
	same := n == d.stones
	d.mu.Unlock()
	if same {
		return nil
	}
	if _, err := RemoveErasedLetters(o.Config, e.archive); err != nil {
		return err
	}
	if err := removeErasedDrafts(o.Config, e.archive); err != nil {
		return err
	}
	d.mu.Lock()
	d.stones = n
	d.mu.Unlock()
	return nil
}

func (o *Office) withdraw(ctx context.Context, e *engine) error {
	var held []index.Report
	for _, name := range o.names() {
		more, err := e.index.Reports(ctx, index.Filter{Status: string(normalize.Held), Office: name})
		if err != nil {
			return err
		}
		held = append(held, more...)
	}
	for _, r := range held {
		// The names of letters end with the id of the sample, which begins
		// with that of the report.
		if have, err := filepath.Glob(filepath.Join(o.Config.Letters, labFolder(r.Lab), "*"+r.ID+"-*.html")); err != nil || len(have) == 0 {
			continue
		}
		rep, err := latestOf(e.archive, r.ID)
		if err != nil || rep == nil {
			return err
		}
		if rep.Status != normalize.Held || !normalize.SetApart(rep) {
			continue
		}
		for _, rec := range rep.Records {
			aside, err := keepLetter(o.Config.Letters, LetterPath(rep, rec), max(r.Version-1, 1), withdrawnMark)
			if err != nil {
				return err
			}
			if aside != "" {
				o.Tell(&ingest.Reason{Code: normalize.AgainCode, Severity: ingest.Flag, Where: ingest.Place{File: rep.Source.Title()}, What: "this report was taken before, and is held now, since other results of the same samples and the same day came",
					Expected: "one report of a sample", Found: "report " + rep.ID, Next: "ask the laboratory which of the two counts; what was written to the client must not be sent any more, and was put aside: " + filepath.Base(aside)})
			}
		}
	}
	return nil
}
