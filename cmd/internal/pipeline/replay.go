package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/difference"
	"example.org/windrow/normalize/register"
)

// A ReplayFilter says which reports to replay. A zero field lets everything
// through; of several all must hold.
type ReplayFilter struct {
	Lab          string   // id of the laboratory that the archived report names
	Since, Until string   // YYYY-MM-DD, both included: the date by which the index lists the report, else the day on which its file came
	IDs          []string // ids of reports, or of records, which mean their report
	Beside       bool     // with IDs: also what came in the same file
	Offices      []string // names of offices, as their reports bear them: no others
}

// A Replay reads what an archive holds anew, as if it came today, and tells
// what differs from what was made of it. By itself it changes nothing and may
// run beside a process that works in the office; with Office set it writes
// the new versions.
type Replay struct {
	// Office, when set, is where new versions go. It must be the office of the
	// archive that was planned with.
	Office *Office
	// Index is asked what came before a report. Without one, what the checks
	// once found about earlier reports would be found no more.
	Index *index.Index
	// Tell is told when the index can't be asked.
	Tell func(r *ingest.Reason)
	// Register is the register in force. What was advised by a row of it would
	// be advised without it otherwise.
	Register *register.Register
	// Today is the date of advice on what is new, YYYY-MM-DD.
	Today string
	// Erased is how many reports are not read since their file was erased at
	// a person's request.
	Erased int

	st      *Stages
	a       *archive.Archive
	cfg     *config.Config
	filter  ReplayFilter
	jobs    []replayJob
	aside   map[string]bool // records whose letter a replay has put aside
	shelf   *folder.Shelf   // of held files, once it is needed
	shelved sync.Once
	of      map[string][]string // SHA-256 of what lies in mails and archives -> ids of the reports of those bytes
}

// A replayJob is what one worker does at a time: a file that came, or several
// that hold the same report.
type replayJob struct {
	files  []replayFile
	report string // of a report whose file is not known; then there are no files
}

// A replayFile is a file that came to the office.
type replayFile struct{ sha, name, office, channel, day string }

// PlanReplay looks through an archive for what is to be read anew. Of mails
// and archives it sees what is in them, as one report may have come in two of
// them; nothing is read yet.
func PlanReplay(ctx context.Context, cfg *config.Config, st *Stages, a *archive.Archive, f ReplayFilter) (*Replay, error) {
	r := &Replay{st: st, a: a, cfg: cfg, filter: f, of: map[string][]string{}}
	r.filter.IDs = nil
	for _, id := range f.IDs {
		id, _, _ = strings.Cut(id, "-")
		r.filter.IDs = append(r.filter.IDs, id)
	}
	var err error
	if r.aside, err = lettersAside(cfg.Letters); err != nil {
		return nil, err
	}
	files, alone, err := r.arrived(ctx)
	if err != nil {
		return nil, err
	}
	want, everything, err := r.named()
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	holder := map[string]int{} // id of a report -> its job
	for _, file := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		own := reportOf(file.sha)
		if alone[file.sha] {
			known[own] = true
			if everything || want[own] {
				r.jobs = append(r.jobs, replayJob{files: []replayFile{file}})
			}
			continue
		}
		if !everything && len(want) == 0 {
			continue
		}
		ids := r.inside(file)
		job := -1
		for _, id := range ids {
			if j, ok := holder[id]; ok {
				job = j
			}
		}
		if job < 0 {
			job = len(r.jobs)
			r.jobs = append(r.jobs, replayJob{})
		}
		for _, id := range ids {
			// Two jobs that a third file joins become one.
			if j, ok := holder[id]; ok && j != job {
				r.jobs[job].files = append(r.jobs[job].files, r.jobs[j].files...)
				r.jobs[j].files = nil
				for k, v := range holder {
					if v == j {
						holder[k] = job
					}
				}
			}
			holder[id] = job
			known[id] = true
		}
		r.jobs[job].files = append(r.jobs[job].files, file)
	}
	return r, r.rest(known, want, everything)
}

// rest drops the jobs that were joined to others or are not wanted, and adds
// the reports that no file is known to have brought.
func (r *Replay) rest(known, want map[string]bool, everything bool) error {
	var jobs []replayJob
	for _, j := range r.jobs {
		if len(j.files) > 0 {
			jobs = append(jobs, j)
		}
	}
	r.jobs = jobs
	graves, err := r.a.Erasures()
	if err != nil {
		return err
	}
	return r.a.EachID(archive.Reports, func(id string) error {
		if known[id] || !everything && !want[id] {
			return nil
		}
		h, v, err := r.header(id)
		switch {
		case err == nil && (graves.Kept(id, v) || graves.Orphan(id)):
			r.Erased++
			return nil // its file is gone by a person's request, and what stays is not to be read anew
		case errors.Is(err, archive.ErrNotFound):
			return nil // its first version is being written
		case err != nil || h.Source.Member != "":
			r.jobs = append(r.jobs, replayJob{report: id})
		default:
			r.jobs = append(r.jobs, replayJob{files: []replayFile{{sha: h.Source.SHA256, name: h.Source.Name, office: h.Office}}})
		}
		return nil
	})
}

// arrived lists the files that came, each once, by the note of its first
// arrival; alone are those that are known to be one report by themselves.
func (r *Replay) arrived(ctx context.Context) (files []replayFile, alone map[string]bool, err error) {
	alone = map[string]bool{}
	seen := map[string]bool{}
	err = r.a.EachArrival(func(_ string, n archive.Arrival) error {
		if n.Report != "" && n.Report == reportOf(n.SHA256) {
			alone[n.SHA256] = true
		}
		if !seen[n.SHA256] {
			seen[n.SHA256] = true
			files = append(files, replayFile{n.SHA256, n.Name, n.Office, n.Channel, n.Time.UTC().Format("2006-01-02")})
		}
		return ctx.Err()
	})
	return files, alone, err
}

// named looks the wanted reports up: want are those asked for; everything
// says that none was named.
func (r *Replay) named() (want map[string]bool, everything bool, err error) {
	if len(r.filter.IDs) == 0 {
		return nil, true, nil
	}
	want = map[string]bool{}
	for _, id := range r.filter.IDs {
		_, _, err := r.header(id)
		if errors.Is(err, archive.ErrNotFound) || errors.Is(err, archive.ErrKey) {
			return nil, false, &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "the archive holds no report of that id", Expected: "the id of a report or record, as letters print it at their foot", Found: id,
				Next: "check the id, and that this is the right office"}
		}
		if err != nil && !errors.Is(err, archive.ErrDamaged) {
			return nil, false, err
		}
		want[id] = true
	}
	return want, false, nil
}

// inside are the ids of the reports that a file may have given: its own and
// those of the files in it.
func (r *Replay) inside(f replayFile) []string {
	ids := []string{reportOf(f.sha)}
	b, err := r.a.Original(f.sha)
	if err != nil {
		return ids // told when it is to be read
	}
	for _, m := range r.st.unpack(ingest.NewSource(f.name, b)).members {
		if m.Member != "" {
			id := idOf(m)
			ids = append(ids, id)
			r.of[m.SHA256] = append(r.of[m.SHA256], id)
		}
	}
	return ids
}

// reportOf is the id of the report of a file that is one by itself.
func reportOf(sha string) string { return idOf(&ingest.Source{SHA256: sha}) }

// A replayHeader is what a replay must know of an archived report before it
// reads the report anew.
type replayHeader struct {
	ID      string
	Status  normalize.Status
	Lab     normalize.Lab
	Source  ingest.SourceRef
	Mapping normalize.MappingRef
	Version string `json:"software"`
	Tables  string
	Office  string
	Records []struct {
		Sample struct {
			County       string   `json:"county"`
			LandUse      string   `json:"land_use"`
			Sampled      string   `json:"date_sampled"`
			Received     string   `json:"date_received"`
			Reported     string   `json:"date_reported"`
			DefaultsUsed []string `json:"defaults_used"`
		}
	}

	version int
	bytes   []byte
}

// header reads the latest version of a report as far as a replay needs it.
func (r *Replay) header(id string) (*replayHeader, int, error) {
	b, v, err := r.a.Latest(archive.Reports, id)
	if err != nil {
		return nil, 0, err
	}
	h := &replayHeader{version: v, bytes: b}
	if err := json.Unmarshal(b, h); err != nil {
		return nil, 0, fmt.Errorf("report %s in the archive: %w", id, err)
	}
	return h, v, nil
}

// day is the date by which a report is listed: the latest among its samples
// on which it was reported, or else received, or else sampled; or else the day
// on which it came.
func (h *replayHeader) day(came string) string {
	var reported, received, sampled string
	for _, r := range h.Records {
		reported, received, sampled = max(reported, r.Sample.Reported), max(received, r.Sample.Received), max(sampled, r.Sample.Sampled)
	}
	for _, s := range []string{reported, received, sampled} {
		if s != "" {
			return s
		}
	}
	return came
}

// passes reports whether the filter lets an archived report through.
func (f *ReplayFilter) passes(id string, h *replayHeader, came string) bool {
	if f.Lab != "" && h.Lab.ID != f.Lab {
		return false
	}
	if f.Offices != nil && !slices.Contains(f.Offices, h.Office) {
		return false
	}
	if d := h.day(came); f.Since != "" && d < f.Since || f.Until != "" && (d == "" || d > f.Until) {
		return false
	}
	return len(f.IDs) == 0 || f.Beside || slices.Contains(f.IDs, id)
}

// Len is how many pieces of work there are, each mostly one file.
func (r *Replay) Len() int { return len(r.jobs) }

// A ReplayOutcome says how what is read today stands to what is archived.
type ReplayOutcome string

// The outcomes of a report that was read anew.
const (
	ReplaySame       ReplayOutcome = "same"       // nothing differs
	ReplayAlike      ReplayOutcome = "alike"      // only the mapping's bytes, the tables or the software are others: the older version stands
	ReplayChanged    ReplayOutcome = "changed"    // the report or its advice differs
	ReplayNew        ReplayOutcome = "new"        // the archive has no report of these bytes yet
	ReplayNotMade    ReplayOutcome = "not made"   // its file no longer gives this report; the archived one stands
	ReplayUnfinished ReplayOutcome = "unfinished" // the versions are there, a letter or an advice is not: a replay was cut short
	ReplayNotRead    ReplayOutcome = "not read"   // the original is missing or damaged, or reading it failed for a cause outside it
)

// A Replayed is what came of one report.
type Replayed struct {
	ID      string             `json:"report"`
	Name    string             `json:"file"`
	Lab     normalize.Lab      `json:"lab"`
	Outcome ReplayOutcome      `json:"outcome"`
	Version int                `json:"version"`           // the latest in the archive before; 0 of a new report
	Applied int                `json:"applied,omitempty"` // the version that was written
	Status  normalize.Status   `json:"status"`            // as read today; that of the archived report where it was not read
	Diff    *difference.Report `json:"difference,omitempty"`
	Advice  []AdviceChange     `json:"advice,omitempty"`
	Letters []string           `json:"letters,omitempty"` // written anew
	Kept    []string           `json:"kept_letters,omitempty"`
	Moved   []string           `json:"moved_files,omitempty"` // where files lie now that were held; of the first report of a file
	Reasons []*ingest.Reason   `json:"reasons,omitempty"`     // why it was not read, or what keeps it held
}

// Differs reports whether something of the report would be or was written.
func (x *Replayed) Differs() bool {
	return x.Outcome == ReplayChanged || x.Outcome == ReplayNew || x.Outcome == ReplayUnfinished
}
