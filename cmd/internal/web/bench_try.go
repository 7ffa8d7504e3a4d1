package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/difference"
)

// How many reports are read to see what a mapping would change: the latest of
// its laboratory, and those that wait.
const (
	mostTried  = 60
	mostWaits  = 400
	mostLines  = 200 // that a page lists
	mostDiffer = 4   // differences of one report that a page tells
)

// An exampleLine is what came of one example of a mapping.
type exampleLine struct {
	File, Sample string
	Held         string // the code for which it must be held
	OK, Absent   bool   // Absent: its report is not in this office
	Right, Of    int
	Readings     int
	Problems     []*ingest.Reason
}

// An examplesView is what came of the examples of a text.
type examplesView struct {
	Lines    []exampleLine
	Mistakes int // of the text; then none was run
	Old      bool
	text     string
}

// A trialLine is what came, or would come, of one report.
type trialLine struct {
	ID, Name, Was, Now string
	Freed              bool
	What               []string
	More               int
	Why                string // it waits all the same
}

// A trialView is what came of many reports so far. It is shown while it grows.
type trialView struct {
	Report   string
	Kind     string // trial or saved
	Ended    bool
	Failed   string
	Done     int
	All      int
	Freed    int // that waited and are used
	Holding  int // that wait and go on waiting
	Newly    int // that were used and would wait
	Changed  int // that are used and differ
	Same     int
	Unread   int
	Lines    []trialLine // of those that differ or wait
	MoreThan int         // lines that are not listed
	Rest     int         // used reports of the laboratory that were not tried
	Lab, ID  string
	Saved    []string // what was written
	Old      bool     // the text is another one by now
	text     string
}

// trials are what runs at the mapping desk, and what came of it, by report.
type trials struct {
	mu       sync.Mutex
	by       map[string]*trialView
	examples map[string]*examplesView
	turn     sync.Mutex // one at a time
	saving   sync.Mutex
	works    sync.WaitGroup
	stop     map[string]context.CancelFunc
}

// mostTrials is how many of them are remembered.
const mostTrials = 40

func (t *trials) begin(v *trialView, stop context.CancelFunc) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.by == nil {
		t.by, t.stop = map[string]*trialView{}, map[string]context.CancelFunc{}
	}
	key := v.Kind + " " + v.Report
	if end := t.stop[key]; end != nil && v.Kind == "trial" {
		end() // of an older text
	}
	if len(t.by) >= mostTrials {
		for k, x := range t.by {
			if x.Ended {
				delete(t.by, k)
				delete(t.stop, k)
				break
			}
		}
	}
	t.by[key], t.stop[key] = v, stop
}

// wait stops what only looks, has the work after a saved mapping come to a
// place where it may be cut off, and waits for both.
func (t *trials) wait() {
	t.mu.Lock()
	for _, end := range t.stop {
		end()
	}
	t.mu.Unlock()
	t.works.Wait()
}

// view is a copy of what came so far; nil for nothing.
func (t *trials) view(report, kind string) *trialView {
	t.mu.Lock()
	defer t.mu.Unlock()
	v := t.by[kind+" "+report]
	if v == nil {
		return nil
	}
	c := *v
	c.Lines = append([]trialLine(nil), v.Lines...)
	return &c
}

func (t *trials) change(do func()) {
	t.mu.Lock()
	defer t.mu.Unlock()
	do()
}

func (t *trials) examplesOf(report string) *examplesView {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.examples[report]
}

// forget drops what was tried on a report with an older text.
func (t *trials) forget(report string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.examples, report)
	if end := t.stop["trial "+report]; end != nil {
		end()
	}
	delete(t.by, "trial "+report)
	delete(t.stop, "trial "+report)
}

// take counts what came of reports.
func (v *trialView) take(list []*pipeline.Replayed) {
	for _, x := range list {
		l := trialLine{ID: x.ID, Name: x.Name, Now: string(x.Status), Was: string(x.Status)}
		if x.Diff != nil {
			l.Was = string(x.Diff.Old)
		}
		held, was := x.Status == normalize.Held, l.Was == string(normalize.Held)
		switch {
		case x.Outcome == pipeline.ReplayNotRead || x.Outcome == pipeline.ReplayNotMade:
			v.Unread++
		case was && held:
			v.Holding++
		case was:
			v.Freed++
			l.Freed = true
		case held:
			v.Newly++
		case x.Differs():
			v.Changed++
		default:
			v.Same++
			continue
		}
		if len(x.Reasons) > 0 {
			l.Why = x.Reasons[0].What
		}
		l.What, l.More = differing(x.Diff, was)
		if len(v.Lines) == mostLines {
			v.MoreThan++
			continue
		}
		v.Lines = append(v.Lines, l)
	}
}

// differing says the first differences of a report in words. Of one that
// waited all would be new, and nothing is told.
func differing(d *difference.Report, waited bool) (out []string, more int) {
	if d == nil || waited {
		return nil, 0
	}
	for i := range d.Results {
		r := &d.Results[i]
		if r.Kind == difference.Changed && !r.Moved() && len(r.Fields) == 0 {
			continue
		}
		if len(out) == mostDiffer {
			more++
			continue
		}
		name := analyteName(r.Analyte)
		if r.Sample != "" {
			name = "sample " + r.Sample + ", " + name
		}
		switch {
		case r.Kind == difference.New:
			out = append(out, name+": "+r.New+" is new")
		case r.Kind == difference.Gone:
			out = append(out, name+": "+r.Old+" is gone")
		case r.Moved():
			out = append(out, name+": "+r.Old+" becomes "+r.New)
		default:
			out = append(out, name+": the value stays, something beside it differs ("+plain(r.Fields[0].Name)+")")
		}
	}
	return out, more
}

// benchExamples runs the examples that stand in a text.
func (d *Desk) benchExamples(r *http.Request) (*answer, error) {
	rep, s, text, err := d.typed(r)
	if err != nil {
		return nil, err
	}
	v := &examplesView{text: text}
	m, mistakes := mappings.Decode(textName, []byte(text), normalize.Vocabulary())
	v.Mistakes = len(mistakes)
	if m != nil {
		ctx, cancel := context.WithTimeout(r.Context(), 2*patience)
		defer cancel()
		st := d.off.Stages.Reading(d.off.Stages.Mappings().With(m))
		for _, res := range st.Mappings().TestExamples(m, func(file string) ([]*ingest.Document, []*ingest.Reason, error) {
			src, err := d.exampleSource(ctx, s, m, file)
			if err != nil {
				return nil, nil, err
			}
			rd, err := st.Read(ctx, src, pipeline.Defaults{})
			if err != nil {
				return nil, nil, err
			}
			if len(rd.Docs) == 0 {
				return nil, nil, rd.Report.Reasons[0]
			}
			return rd.Docs, rd.Report.Reasons, nil
		}) {
			l := exampleLine{File: res.Example.File, Sample: res.Example.Sample, Held: res.Example.Held, OK: len(res.Problems) == 0, Right: res.Right, Of: res.Expected, Readings: res.Readings, Problems: res.Problems}
			if len(res.Problems) == 1 && res.Problems[0].Found == errAbsent.Error() {
				l.Absent, l.Problems = true, nil
			}
			v.Lines = append(v.Lines, l)
		}
	}
	d.trials.mu.Lock()
	if d.trials.examples == nil {
		d.trials.examples = map[string]*examplesView{}
	}
	d.trials.examples[rep.ID] = v
	d.trials.mu.Unlock()
	if !partly(r) {
		return &answer{to: "/report/" + rep.ID + "/mapping#h-ex"}, nil
	}
	return d.part(r, "examples", v), nil
}

var errAbsent = errors.New("no report of that name is in this office")

// exampleSource finds the report of an example: a file beside the mapping,
// within the office's own folder, or else an archived report of that name, of
// those that were drafted from or of the laboratory. No other file of the
// computer is opened, whatever a text says.
func (d *Desk) exampleSource(ctx context.Context, s *sketchbook, m *mappings.Mapping, file string) (*ingest.Source, error) {
	if rel, err := filepath.Rel(d.off.Config.Dir, filepath.Join(d.off.Config.Mappings, filepath.FromSlash(file))); err == nil && filepath.IsLocal(rel) {
		if root, err := os.OpenRoot(d.off.Config.Dir); err == nil {
			defer func() { _ = root.Close() }() // it was read only
			if fi, err := root.Stat(rel); err == nil && fi.Mode().IsRegular() && fi.Size() <= d.off.Stages.Limits.Bytes {
				if b, err := root.ReadFile(rel); err == nil {
					return ingest.NewSource(path.Base(file), b), nil
				}
			}
		}
	}
	ids := append([]string(nil), s.With...)
	list, err := d.off.Index.Reports(ctx, index.Filter{Lab: m.ID, Limit: mostWaits})
	if err != nil {
		return nil, err
	}
	name := path.Base(file)
	for _, x := range list {
		if x.Name == name && x.Member == "" {
			ids = append(ids, x.ID)
		}
	}
	for _, id := range ids {
		rep, _, err := d.archived(id)
		if err != nil || rep.Source.Name != name || rep.Source.Member != "" {
			continue
		}
		b, err := d.off.Archive.Original(rep.Source.SHA256)
		if err != nil {
			return nil, err
		}
		return ingest.NewSource(name, b), nil
	}
	return nil, errAbsent
}

// concerned are the reports that a mapping may read otherwise: those at hand,
// those that wait, of its laboratory or of none that is known, and with used
// the latest of its laboratory. rest is how many of these were left out.
func (d *Desk) concerned(ctx context.Context, s *sketchbook, lab string, used bool) (ids []string, rest int, err error) {
	seen := map[string]bool{}
	add := func(id string) {
		if !seen[id] {
			seen[id] = true
			ids = append(ids, id)
		}
	}
	for _, id := range s.With {
		add(id)
	}
	for _, of := range []string{lab, ""} {
		list, err := d.heldOf(ctx, of, mostWaits)
		if err != nil {
			return nil, 0, err
		}
		for _, x := range list {
			add(x.ID)
		}
	}
	if !used {
		return ids, 0, nil
	}
	list, err := d.off.Index.Reports(ctx, index.Filter{Lab: lab, Limit: mostTried})
	if err != nil {
		return nil, 0, err
	}
	for _, x := range list {
		add(x.ID)
	}
	counts, err := d.labsNow(ctx)
	if err != nil {
		return nil, 0, err
	}
	for _, c := range counts {
		if c.Lab == lab {
			rest = max(0, c.Reports-len(list))
		}
	}
	return ids, rest, nil
}

// benchTrial begins to read the reports of a laboratory by a text, without
// changing anything.
func (d *Desk) benchTrial(r *http.Request) (*answer, error) {
	rep, s, text, err := d.typed(r)
	if err != nil {
		return nil, err
	}
	v := &trialView{Report: rep.ID, Kind: "trial", text: text}
	m, mistakes := mappings.Decode(textName, []byte(text), normalize.Vocabulary())
	if m == nil {
		v.Ended, v.Failed = true, fmt.Sprintf("The mapping has %s, so nothing is read by it.", count(len(mistakes), "mistake"))
		d.trials.begin(v, func() {})
	} else {
		v.Lab, v.ID = m.Lab, m.ID
		// Answered or not, the questions hold nothing here: it is asked what would be read.
		if plain, _ := mappings.Decode(textName, []byte(unasked(text)), normalize.Vocabulary()); plain != nil {
			m = plain
		}
		ids, rest, err := d.concerned(r.Context(), s, m.ID, true)
		if err != nil {
			return nil, err
		}
		v.Rest, v.All = rest, len(ids)
		ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), 10*time.Minute)
		d.trials.begin(v, cancel)
		d.trials.works.Add(1)
		go func() {
			defer d.trials.works.Done()
			defer cancel()
			d.trials.turn.Lock()
			defer d.trials.turn.Unlock()
			d.trials.end(v, d.off.WouldRead(ctx, d.off.Stages.Mappings().With(m), ids, d.today(), d.trials.counting(v)))
		}()
	}
	if !partly(r) {
		return &answer{to: "/report/" + rep.ID + "/mapping#h-try"}, nil
	}
	return d.part(r, "trial", d.trials.view(rep.ID, "trial")), nil
}

// counting has a view count what comes of reports.
func (t *trials) counting(v *trialView) func(int, []*pipeline.Replayed) {
	return func(all int, list []*pipeline.Replayed) {
		t.change(func() {
			v.All = all
			if list != nil {
				v.Done++
				v.take(list)
			}
		})
	}
}

func (t *trials) end(v *trialView, err error) {
	t.change(func() {
		v.Ended = true
		switch {
		case errors.Is(err, context.Canceled):
			v.Failed = "It was stopped before all were read."
		case errors.Is(err, context.DeadlineExceeded):
			v.Failed = "It took too long, and was stopped before all were read. On the command line, windrow replay reads as many as there are."
		case err != nil:
			v.Failed = sentence(ingest.AsReason(err).What)
		}
	})
}

// benchProgress tells how far a trial, or the reading after a mapping was
// saved, has come.
func (d *Desk) benchProgress(kind string) func(*http.Request) (*answer, error) {
	return func(r *http.Request) (*answer, error) {
		id := r.PathValue("id")
		v := d.trials.view(id, kind)
		if !reportID.MatchString(id) || v == nil {
			return nil, notHere("nothing is being tried on that report")
		}
		if !partly(r) {
			return &answer{to: "/report/" + id + "/mapping"}, nil
		}
		for _, l := range v.Lines {
			shown(r.Context(), l.ID)
		}
		return d.part(r, kind, v), nil
	}
}

// unasked is a text whose questions are no questions any more.
func unasked(text string) string { return strings.ReplaceAll(text, "QUESTION:", "asked:") }
