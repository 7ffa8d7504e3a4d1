package pipeline

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// An Arrival is a file that came to an office.
type Arrival struct {
	Source   *ingest.Source
	Channel  string    // the way it came: folder or command
	Time     time.Time // of the file rather than of the clock, so that a second attempt at the same file is known for one
	Defaults Defaults
}

// Process leads one file through every stage and keeps what they make. The
// original is archived first. The note of the arrival is written last: a
// file without one is worked on again, whatever of it is there already, and
// every step before it gives the same again; so a process that is killed at
// any moment and begun again leaves the same archive as one that was not.
//
// Bytes that came before are not worked on again, unless they are held: then
// they get a new version where the outcome differs.
//
// An index that fails is made good and the file worked on once more: without
// it, the same report in another file would be taken twice and what
// contradicts it overlooked. Where it can't be made good, the outcome is a
// failure, and the file may be tried again.
//
// A ctx that ends gives a failed outcome.
func (o *Office) Process(ctx context.Context, a Arrival) Outcome {
	began := time.Now()
	ctx, done := o.follow(ctx, a)
	defer done()
	if o.distant != nil { // who decides meanwhile is kept apart by the engine's lock
		o.logArrival(a)
		at(ctx, StageElsewhere)
		out := o.processDistant(ctx, a)
		o.count(&out)
		o.logOutcome(ctx, &out, time.Since(began))
		return out
	}
	o.deciding.RLock()
	defer o.deciding.RUnlock()
	if o.engine != nil {
		apart, err := o.engine.share(ctx)
		if err != nil {
			return failed(a.Source, engineAway(err))
		}
		defer apart()
	}
	unlock, err := o.hold(ctx, lockBytes, a.Source.SHA256)
	if err != nil {
		return failed(a.Source, engineAway(err))
	}
	defer unlock()
	o.logArrival(a)
	missed := o.missed.Load()
	var out Outcome
	for try := 0; ; try++ {
		if err = o.mendIndex(ctx); err == nil {
			o.mending.RLock()
			out, err = o.process(ctx, a)
			o.mending.RUnlock()
		}
		if try > 0 || o.engine != nil || ctx.Err() != nil || !errors.As(err, &indexAmiss{}) {
			break
		}
		o.amiss.Store(true)
	}
	if o.engine != nil && (errors.As(err, &indexAmiss{}) || err == nil && o.missed.Load() != missed) {
		// All workers ask one index, and none of them catches up with the
		// archive: what isn't in it was not done. Another file of this worker
		// may have been meant; to try again does no harm.
		err = &ingest.Reason{Code: CodeEngine, Severity: ingest.Fail, What: "the index of the central engine failed while this file was worked on", Next: "nothing is lost, and it is tried again"}
	}
	if err != nil {
		out = failed(a.Source, err)
	}
	o.count(&out)
	o.logOutcome(ctx, &out, time.Since(began))
	return out
}

func hashGroup(hex string) int {
	var n byte
	if len(hex) >= 2 {
		_, _ = fmt.Sscanf(hex[:2], "%02x", &n) // the hash of a source is always hexadecimal
	}
	return int(n) % 64
}

func (o *Office) process(ctx context.Context, a Arrival) (Outcome, error) {
	src := a.Source
	var err error
	at(ctx, "keep")
	o.Stages.time("keep", func() { _, err = o.Archive.PutOriginal(src.Bytes) })
	if err != nil {
		return Outcome{}, err
	}
	o.Log.Info("kept", "source", src.Mark())
	prior, first, err := o.prior(ctx, src)
	if err != nil {
		return Outcome{}, err
	}
	if prior == OK || prior == Flagged {
		out := Outcome{Name: src.Name, SHA256: src.SHA256, Status: Duplicate, First: first}
		if err := o.arrive(ctx, a, "again", ""); err != nil {
			return Outcome{}, err
		}
		return out, nil
	}
	out := Outcome{Name: src.Name, SHA256: src.SHA256, Status: OK}
	a.Defaults.Register = o.Register(ctx) // one for the whole of the file
	rds, err := o.read(ctx, a)
	if err != nil {
		return Outcome{}, err
	}
	again := 0
	for i, rd := range rds {
		p, reasons, err := o.part(partOf(ctx, i+1, len(rds)), rd, a)
		if err != nil {
			return Outcome{}, err
		}
		if p.Report != nil {
			own, err := o.othersToo(ctx, p.Report)
			if err != nil {
				return Outcome{}, err
			}
			if own != nil {
				as := *src
				as.Member = rd.Source.Member
				p.Report, p.Status, p.Letters, reasons = own, Status(own.Status), nil, named(own, as.Title())
			}
		}
		out.Parts = append(out.Parts, p)
		if p.Status == Duplicate {
			again++
			out.First = p.First
			continue
		}
		out.Status = worse(out.Status, p.Status)
		out.Reasons = append(out.Reasons, reasons...)
	}
	inOrder(out.Reasons)
	if again == len(rds) {
		out.Status = Duplicate
	}
	id := ""
	if len(out.Parts) == 1 {
		id = out.Parts[0].ID
	}
	if err := o.arrive(ctx, a, string(out.Status), id); err != nil {
		return Outcome{}, err
	}
	return out, nil
}

// prior is the status of the same bytes when they came before and were done
// with, "" when they were not, and the name under which they came.
func (o *Office) prior(ctx context.Context, src *ingest.Source) (Status, string, error) {
	known, ok, err := o.Index.Known(ctx, src.SHA256)
	if err != nil {
		return "", "", indexAmiss{err}
	}
	if !ok || known.Arrivals == 0 {
		return "", "", nil
	}
	if own, err := o.latest(idOf(src)); known.Outcome == string(Held) && err == nil && own != nil && !normalize.Erased(own) {
		return Status(own.Status), known.Name, nil // held may be the same bytes in a mail, where they wait for the rest of it
	}
	return Status(known.Outcome), known.Name, nil
}

// read leads a file through the stages. Its reports bear the name under which
// its bytes first came: under another name they are the same reports, and no
// new versions.
func (o *Office) read(ctx context.Context, a Arrival) ([]*Reading, error) {
	p := o.Stages.unpack(a.Source)
	first := ""
	for _, m := range append([]*ingest.Source{a.Source}, p.members...) {
		old, err := o.latest(idOf(m))
		if err != nil {
			return nil, err
		}
		if old != nil && !normalize.Erased(old) { // what was erased has no name to go by
			first = old.Source.Name
			break
		}
	}
	if first != "" && first != a.Source.Name {
		as := *a.Source
		as.Name = first
		p = o.Stages.unpack(&as)
	}
	// Files that wait for the disk don't keep others from being read, yet no
	// more documents are in memory than may be read at once.
	o.Stages.turns <- struct{}{}
	defer func() { <-o.Stages.turns }()
	d := a.Defaults
	var failed error // of the index
	var mu sync.Mutex
	d.Arrived, d.Ruling, d.Proof = o.arrived(a), rulings(o.Archive), proofs(o.Archive)
	d.Earlier = history{ctx, o.Index, func(err error) { mu.Lock(); defer mu.Unlock(); failed = errors.Join(failed, err) }}
	rds, err := o.Stages.readParcel(ctx, p, d, false)
	if err != nil {
		return nil, &ingest.Reason{Code: "stopped", Severity: ingest.Fail, What: "the work on this file was stopped before it was finished", Next: "nothing is lost: give it again"}
	}
	mu.Lock()
	defer mu.Unlock()
	if failed != nil {
		return nil, indexAmiss{failed}
	}
	return rds, nil
}

// idOf is the id of the report of a source.
func idOf(src *ingest.Source) string {
	return normalize.HeldReport(src.Ref(), normalize.Lab{}, nil, normalize.Options{}).ID
}

// part keeps one report of a file, and what is made of it.
func (o *Office) part(ctx context.Context, rd *Reading, a Arrival) (Part, []*ingest.Reason, error) {
	var p Part
	if rd.Source.Member != "" {
		// A report refers to the bytes it was read from, so those of a member
		// are kept beside those of the file that it came in.
		if _, err := o.Archive.PutOriginal(rd.Source.Bytes); err != nil {
			return p, nil, err
		}
	}
	unlock, err := o.hold(ctx, lockReports, rd.Source.SHA256)
	if err != nil {
		return p, nil, engineAway(err)
	}
	defer unlock()
	id := rd.Report.ID
	old, err := o.latest(id)
	if err != nil {
		return p, nil, err
	}
	if old == nil || old.Status == normalize.Held {
		first, in, err := o.cameBefore(ctx, rd)
		if err != nil {
			return p, nil, err
		}
		if first != nil {
			return Part{ID: first.ID, Member: rd.Source.Member, Lab: first.Lab.Name, Status: Duplicate, First: in}, named(rd.Report, a.Source.Name), nil
		}
	}
	was := *rd.Source
	was.Name = a.Source.Name // as it came this time
	rep := rd.Report
	if err := setAgainst(ctx, o.Index, o.Archive, rep, true, o.tellIndex); err != nil {
		return p, nil, err
	}
	p = Part{Report: rep, ID: rep.ID, Member: rd.Source.Member, Lab: rep.Lab.Name, Status: Status(rep.Status)}
	if err := o.keep(ctx, old, rep, &p); err != nil {
		return p, nil, err
	}
	if rep.Status == normalize.Held {
		return p, named(rep, was.Title()), nil
	}
	on := o.Today().Format("2006-01-02")
	registered := registeredBy(a.Defaults.Register, rep)
	at(ctx, "advise")
	for _, rec := range rep.Records {
		var adv *interpret.Advice
		o.Stages.time("advise", func() { adv = o.Stages.Advise(rep, rec, interpret.Ask{On: on, Register: registered[rec.ID]}) })
		b, err := adviceJSON(adv)
		if err != nil {
			return p, nil, err
		}
		if _, _, err := o.Archive.PutAdvice(rec.ID, b); err != nil {
			return p, nil, err
		}
		if o.engine != nil {
			continue // the office writes it
		}
		var at string
		o.Stages.time("letter", func() { at, err = o.writeLetter(adv, rec, rep) })
		if err != nil {
			return p, nil, err
		}
		p.Letters = append(p.Letters, at)
	}
	return p, named(rep, was.Title()), nil
}

// manySamples is from how many on a report is not written as a whole: its
// JSON is then longer than everything else that is known of it.
const manySamples = 500

// keep puts a report into archive and index. old is what the archive has of
// it, nil for nothing.
func (o *Office) keep(ctx context.Context, old, rep *normalize.Report, p *Part) (err error) {
	if old == nil && len(rep.Records) >= manySamples {
		o.Stages.time("keep", func() { p.Version, p.New, err = o.Archive.PutFrom(archive.Reports, rep.ID, rep.WriteJSON) })
		if err != nil {
			return err
		}
		if err := o.Index.AddReportFrom(ctx, rep.ID, p.Version, rep.WriteJSON); err != nil {
			return indexAmiss{err}
		}
		return nil
	}
	b, err := rep.JSON()
	if err != nil {
		return err
	}
	if old != nil && sameOutcome(old, rep) {
		// Only the software is another: the older version stands.
		if b, _, err = o.Archive.Latest(archive.Reports, rep.ID); err != nil {
			return err
		}
	}
	o.Stages.time("keep", func() { p.Version, p.New, err = o.Archive.PutReport(rep.ID, b) })
	if err != nil {
		return err
	}
	if err := o.Index.AddReport(ctx, rep.ID, p.Version, b); err != nil {
		return indexAmiss{err}
	}
	return nil
}

// cameBefore is the report of the same bytes when they came in another file,
// a mail or an archive, or by themselves, and were done with; and the name
// under which they came. Nil when they didn't. One report that a laboratory
// sends twice is one report.
func (o *Office) cameBefore(ctx context.Context, rd *Reading) (*normalize.Report, string, error) {
	known, ok, err := o.Index.Known(ctx, rd.Source.SHA256)
	if err != nil {
		return nil, "", indexAmiss{err}
	}
	if !ok {
		return nil, "", nil
	}
	for _, id := range known.Reports {
		if old, err := o.latest(id); err == nil && old != nil && id != rd.Report.ID && old.Status != normalize.Held && !normalize.Erased(old) {
			return old, old.Source.Title(), nil
		}
	}
	return nil, "", nil
}

// latest is the report that the archive holds under an id, nil for none.
func (o *Office) latest(id string) (*normalize.Report, error) {
	return latestOf(o.Archive, id)
}

// latestOf is the report that an archive holds under an id, nil for none.
func latestOf(a *archive.Archive, id string) (*normalize.Report, error) {
	b, _, err := a.Latest(archive.Reports, id)
	if errors.Is(err, archive.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var rep normalize.Report
	if err := json.Unmarshal(b, &rep); err != nil {
		return nil, fmt.Errorf("report %s in the archive: %w", id, err)
	}
	return &rep, nil
}

// sameOutcome reports whether two reports of the same bytes differ in
// nothing but the version of the software.
func sameOutcome(old, now *normalize.Report) bool {
	was := *old
	was.Version, was.Tables = now.Version, now.Tables
	a, err1 := was.JSON()
	b, err2 := now.JSON()
	return err1 == nil && err2 == nil && bytes.Equal(a, b)
}

// named are the reasons of a report with the name under which its file came
// this time. What is merely worth knowing is told of a held report only: there
// a person looks.
func named(rep *normalize.Report, name string) []*ingest.Reason {
	var out []*ingest.Reason
	for _, r := range rep.Reasons {
		switch {
		case r.Severity == ingest.Note && rep.Status != normalize.Held:
		case r.Where.File != rep.Source.Name && strings.HasPrefix(r.Where.File, rep.Source.Name+" > "):
			out = append(out, r.In(name[:cut(name)]+r.Where.File[len(rep.Source.Name):])) // of another file in the same one
		default:
			out = append(out, r.In(name))
		}
	}
	return out
}

// cut is where the name of a file ends and that of the file in it begins.
func cut(title string) int {
	if i := strings.Index(title, " > "); i >= 0 {
		return i
	}
	return len(title)
}

// arrive notes the arrival in the archive, once: the same file at the same
// time is the same arrival, tried again.
func (o *Office) arrive(ctx context.Context, a Arrival, outcome, report string) error {
	n := archive.Arrival{Name: a.Source.Name, Channel: a.Channel, Office: a.Defaults.Office, Time: a.Time.UTC().Truncate(time.Second), SHA256: a.Source.SHA256, Size: int64(len(a.Source.Bytes)), Outcome: outcome, Report: report}
	if n.Time.Year() < 1970 || n.Time.Year() > 9999 {
		n.Time = time.Unix(0, 0).UTC() // a file system without clock
	}
	var where string
	for i := 1; where == ""; i++ {
		at := path.Join("arrivals", n.Time.Format("2006/01"), fmt.Sprintf("%s-%s-%d.json", n.Time.Format("20060102T150405Z"), n.SHA256[:8], i))
		was, err := o.Archive.Arrival(at)
		if errors.Is(err, archive.ErrNotFound) {
			break
		}
		if err != nil {
			return err
		}
		same := was.Name == n.Name && was.SHA256 == n.SHA256 && was.Channel == n.Channel && was.Office == n.Office
		if same && (outcome == "again" || was.Outcome == outcome) {
			if o.engine == nil {
				return nil
			}
			where, n = at, was // whoever noted it may have died before the index knew
		}
	}
	if where == "" {
		var err error
		if where, err = o.Archive.PutArrival(n); err != nil {
			return err
		}
	}
	if err := o.Index.AddOriginal(ctx, n.SHA256, n.Size); err != nil {
		o.tellIndex(err)
	} else if err := o.Index.AddArrival(ctx, where, n); err != nil {
		o.tellIndex(err)
	}
	return nil
}

func (o *Office) count(out *Outcome) {
	if out.Status != Failed {
		o.newest.Store(o.Today().Unix())
	}
	if out.Status == Duplicate || out.Status == Failed {
		o.Metrics.Report("", string(out.Status))
		return
	}
	for _, p := range out.Parts {
		if p.Report == nil { // of bytes that came before
			continue
		}
		lab := p.Report.Lab.ID
		outcome := "archived"
		if p.Status == Held {
			outcome = "held"
		}
		o.Metrics.Report(lab, outcome)
		counts := map[normalize.Status]int{}
		for _, rec := range p.Report.Records {
			for _, res := range rec.Results {
				counts[res.Status]++
			}
		}
		for st, n := range counts {
			o.Metrics.Results(lab, string(st), n)
		}
		if p.Status == Held {
			for _, r := range p.Report.Reasons {
				if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
					o.Metrics.Hold(r.Code)
				}
			}
		}
	}
}

func adviceJSON(a *interpret.Advice) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(a)
	return b.Bytes(), err
}
