package web

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/draft"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// The mapping desk: a draft beside the report that it is for.
const (
	mostText   = 256 << 10 // bytes of a mapping that a page takes
	mostBodies = 1 << 20   // of a form with such a text
	mostOthers = 12        // other reports that are offered to draft from
)

// benches are the routes of the mapping desk.
func (d *Desk) benches() {
	d.route("GET /report/{id}/mapping", d.bench)
	for path, do := range map[string]func(*http.Request) (*answer, error){"draft": d.benchDraft, "drop": d.benchDrop, "typed": d.benchTyped, "examples": d.benchExamples, "trial": d.benchTrial, "save": d.benchSave} {
		d.slow("POST /report/{id}/mapping/"+path, do)
	}
	d.route("GET /report/{id}/mapping/trial", d.benchProgress("trial"))
	d.route("GET /report/{id}/mapping/saved", d.benchProgress("saved"))
}

// A sketchbook is a draft that somebody works on, beside the text itself.
type sketchbook struct {
	Report string    // id of the report at hand
	With   []string  // ids of the reports that it was drafted from
	Base   string    // id of the mapping that a layout is added to; "" for a new one
	SHA256 string    // of that mapping's file then
	Begun  time.Time // by the office's clock
}

// The folder of drafts in that of the office's mappings. A mapping is read
// from a file right in the latter only, so that no report is read by a draft.
func (d *Desk) drafts() string { return pipeline.DraftsFolder(d.off.Config) }

// draftAt is the path of a draft without its suffix; the id has been checked.
func (d *Desk) draftAt(id string) string { return filepath.Join(d.drafts(), id) }

// openDraft gives the draft for a report; nil where there is none.
func (d *Desk) openDraft(id string) (*sketchbook, string, error) {
	meta, err := os.ReadFile(d.draftAt(id) + ".json")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	s := &sketchbook{}
	text, terr := os.ReadFile(d.draftAt(id) + ".yaml")
	if jerr := json.Unmarshal(meta, s); jerr != nil || terr != nil {
		return nil, "", nil // it was never whole: it is begun anew
	}
	return s, string(text), nil
}

// keepDraft writes a draft where the next look finds it.
func (d *Desk) keepDraft(s *sketchbook, text string) error {
	if err := os.MkdirAll(d.drafts(), 0o750); err != nil {
		return notWritten(d.drafts(), err)
	}
	b, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		return err
	}
	// The text first: a draft is there when its note is.
	return errors.Join(pipeline.Replace(d.draftAt(s.Report)+".yaml", []byte(text)), pipeline.Replace(d.draftAt(s.Report)+".json", b))
}

func (d *Desk) dropDraft(id string) error {
	err := os.Remove(d.draftAt(id) + ".json")
	if err == nil {
		err = os.Remove(d.draftAt(id) + ".yaml")
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

func notWritten(at string, err error) error {
	return &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, Where: ingest.Place{File: at}, What: "the folder of the office's mappings can't be written to", Expected: "a folder that can be written to", Found: ingest.Cause(err), Next: "check the rights of the folder, and the setting mappings in windrow.yaml"}
}

// A labChoice is a mapping to which a layout may be added.
type labChoice struct {
	ID, Lab, File string
	Chosen        bool
}

// A startView is what a draft may be made from.
type startView struct {
	Labs   []labChoice
	Others []index.Report // that wait, of the same laboratory, or of none that is known
	Known  bool           // the laboratory is: they are of the same
	New    bool           // a new mapping is the first choice
}

// start says what a draft for a report may be made from.
func (d *Desk) start(ctx context.Context, h reportHead) (*startView, error) {
	s := &startView{Known: h.Lab.ID != "", New: true}
	near := h.Lab.ID
	for _, m := range d.off.Stages.Mappings().Mappings() {
		if near == "" && slices.ContainsFunc(h.Holds, func(r *ingest.Reason) bool { return r.Code == "lab-unknown" && r.Rule.File == m.File }) {
			near = m.ID // the report names that laboratory, in a form that its mapping does not know
		}
	}
	for _, m := range d.off.Stages.Mappings().Mappings() {
		s.Labs = append(s.Labs, labChoice{m.ID, m.Lab, m.File, m.ID == near})
		s.New = s.New && m.ID != near
	}
	list, err := d.heldOf(ctx, h.Lab.ID, mostOthers+1)
	if err != nil {
		return nil, err
	}
	for _, r := range list {
		if r.ID != h.ID && len(s.Others) < mostOthers {
			s.Others = append(s.Others, r)
			shown(ctx, r.ID)
		}
	}
	return s, nil
}

// heldOf are reports of a laboratory that wait, or, for "", of none that is
// known; no more than most.
func (d *Desk) heldOf(ctx context.Context, lab string, most int) (out []index.Report, err error) {
	if lab != "" {
		return d.off.Index.Reports(ctx, index.Filter{Lab: lab, Status: string(normalize.Held), Limit: most})
	}
	groups, err := d.groups(ctx)
	if err != nil {
		return nil, err
	}
	for _, g := range groups {
		for _, l := range g.Reports {
			if l.Queued.Lab == "" && len(out) < most {
				out = append(out, l.Report)
			}
		}
	}
	return out, nil
}

// benchDraft makes a draft as "windrow mapping draft" does.
func (d *Desk) benchDraft(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	if normalize.Erased(rep) {
		return nil, badInput("the original of this report was erased at a person’s request", "take another report of the laboratory")
	}
	if s, _, err := d.openDraft(rep.ID); err != nil || s != nil {
		return &answer{to: "/report/" + rep.ID + "/mapping"}, err // begun already, such as by a second click
	}
	s := &sketchbook{Report: rep.ID, With: []string{rep.ID}, Begun: d.today().UTC().Truncate(time.Second)}
	for _, id := range r.PostForm["with"] {
		if reportID.MatchString(id) && !slices.Contains(s.With, id) && len(s.With) <= mostOthers {
			s.With = append(s.With, id)
		}
	}
	var old *mappings.Mapping
	var text []byte
	if id := r.PostForm.Get("base"); id != "" {
		if old = mappingOf(d.off.Stages.Mappings(), id); old == nil {
			return nil, badInput("the office has no mapping of that id", "go back and choose one of the list")
		}
		if text, _, err = d.off.Stages.MappingText(old, d.off.Config.Mappings); err != nil {
			return nil, err
		}
		s.Base, s.SHA256 = old.ID, old.SHA256
	}
	ctx, cancel := context.WithTimeout(r.Context(), 2*patience)
	defer cancel()
	var docs [][]*ingest.Document
	var reasons []*ingest.Reason
	for _, id := range s.With {
		x, _, err := d.archived(id)
		if err != nil {
			return nil, err
		}
		b, err := d.off.Archive.Original(x.Source.SHA256)
		if err != nil {
			return nil, err
		}
		src := ingest.NewSource(x.Source.Name, b)
		src.Member = x.Source.Member
		list, why := d.off.Stages.Documents(ctx, src, "", draft.Dialects)
		docs, reasons = append(docs, list...), append(reasons, why...)
	}
	if ctx.Err() != nil {
		return nil, badInput("reading these reports took too long", "draft from fewer of them")
	}
	opt := draft.Options{Vocabulary: normalize.Vocabulary(), Lab: strings.TrimSpace(ingest.Shown(r.PostForm.Get("lab")))}
	var made *draft.Draft
	var why []*ingest.Reason
	if old == nil {
		made, why = draft.Propose(docs, opt)
	} else {
		made, why = draft.Revise(old, text, docs, opt)
	}
	t := &tale{Title: "A draft was made.", Lines: toldOf(append(reasons, why...))}
	if made == nil {
		t.Title, t.Bad = "No draft could be made.", true
		if old != nil {
			// A person may still see by hand what the draft did not.
			t.Title = "Nothing could be proposed for it. The mapping stands below as it is, to be changed by hand."
			made = &draft.Draft{Text: string(text)}
		}
	}
	if made != nil {
		if err := d.keepDraft(s, made.Text); err != nil {
			return nil, err
		}
	}
	return &answer{to: "/report/" + rep.ID + "/mapping?told=" + d.told.put(t)}, nil
}

// toldOf are reasons as lines of a tale.
func toldOf(list []*ingest.Reason) (out []string) {
	for _, r := range list {
		s := sentence(r.What)
		if at := r.Where.String(); at != "" {
			s = at + ": " + s
		}
		if r.Found != "" {
			s += " Found: " + sentence(r.Found)
		}
		if r.Next != "" {
			s += " " + sentence(r.Next)
		}
		out = append(out, s)
	}
	return out
}

func mappingOf(set *mappings.Set, id string) *mappings.Mapping {
	for _, m := range set.Mappings() {
		if m.ID == id {
			return m
		}
	}
	return nil
}

// benchDrop throws a draft away.
func (d *Desk) benchDrop(r *http.Request) (*answer, error) {
	id := r.PathValue("id")
	if !reportID.MatchString(id) {
		return nil, notHere("that is not the id of a report")
	}
	if r.PostForm.Get("sure") == "" {
		return nil, badInput("nothing was thrown away", "go back, and tick the box first: what was typed is gone then")
	}
	if err := d.dropDraft(id); err != nil {
		return nil, err
	}
	return &answer{to: "/report/" + id + "/mapping?told=" + d.told.put(&tale{Title: "The draft was thrown away."})}, nil
}
