package web

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// A verdict is what a draft makes of the report beside it.
type verdict struct {
	Mistakes   []*ingest.Reason // of writing, by their lines; then nothing was read
	Questions  []openQuestion   // that the draft leaves open
	Holds      []*ingest.Reason // what would hold the report if there were no question
	Results    int
	Samples    int
	Left       int // numbers that are not accounted for
	Layout     string
	From, To   string // of the layout, "" for open
	Other      string // the mapping that recognises the report in its stead
	TooLong    bool
	Recognised bool // by the draft
}

// Clean reports whether the draft could be saved and would release the report.
func (v *verdict) Clean() bool {
	return v.Recognised && len(v.Mistakes)+len(v.Questions)+len(v.Holds) == 0
}

// An openQuestion is an open question of a draft.
type openQuestion struct {
	Line  int
	About string // what stands in that line before it; "" for a question by itself
	Text  string
}

// askedIn are the questions of a text with what they are about.
func askedIn(m *mappings.Mapping, text string) (out []openQuestion) {
	lines := strings.Split(text, "\n")
	for _, q := range m.Questions {
		a := openQuestion{Line: q.Where.Line, Text: q.Found}
		if a.Line >= 1 && a.Line <= len(lines) {
			a.About, _, _ = strings.Cut(lines[a.Line-1], "#")
			a.About = strings.TrimSpace(a.About)
			if key, _, ok := strings.Cut(a.About, ": {"); ok {
				a.About = strings.TrimLeft(key, "- ")
			}
		}
		out = append(out, a)
	}
	return out
}

// A trying is a text that was read, with the report read by it.
type trying struct {
	verdict
	Mapping *mappings.Mapping
	Set     *mappings.Set // in which it stands in for the one of its id
	Match   *mappings.Match
	Sight   *sight // nil where the text has mistakes
}

// textName is the name under which a text that is no file yet is spoken of.
const textName = "the mapping"

// try reads a report by a text. The error is one of the page, never of the
// text.
func (d *Desk) try(ctx context.Context, rep *normalize.Report, text string) (*trying, error) {
	t := &trying{}
	if len(text) > mostText {
		t.TooLong = true
		return t, nil
	}
	m, mistakes := mappings.Decode(textName, []byte(text), normalize.Vocabulary())
	if m == nil {
		slices.SortStableFunc(mistakes, func(a, b *ingest.Reason) int { return cmp.Compare(a.Where.Line, b.Where.Line) })
		t.Mistakes = mistakes
		return t, nil
	}
	t.Mapping, t.Questions = m, askedIn(m, text)
	t.Set = d.off.Stages.Mappings().With(m)
	was, err := d.reading(rep)
	if err != nil {
		return nil, err
	}
	rd, err := d.off.Stages.Reading(t.Set).Sketch(ctx, was, pipeline.Defaults{})
	if err != nil {
		return nil, err
	}
	t.Match = rd.Match
	switch {
	case rd.Match == nil:
	case rd.Match.Mapping != m:
		t.Other = rd.Match.Mapping.Lab
	default:
		t.Recognised, t.Layout, t.From, t.To = true, rd.Match.Layout.Name, rd.Match.Layout.From, rd.Match.Layout.To
	}
	for _, x := range rd.Report.Reasons {
		if (x.Severity == ingest.Hold || x.Severity == ingest.Fail) && x.Code != "question-open" {
			t.Holds = append(t.Holds, x)
		}
	}
	for _, rec := range rd.Report.Records {
		t.Results += len(rec.Results)
	}
	t.Samples = len(rd.Report.Records)
	t.Sight = seen(rd.Report, rd)
	for i := range t.Sight.Samples {
		t.Sight.Samples[i].Link = "" // they are no records yet
	}
	t.Sight.ID(rep.ID)
	t.Left = len(t.Sight.Unaccounted)
	return t, nil
}

// ID has the pictures be those of an archived report.
func (s *sight) ID(report string) {
	for i := range s.Leaves {
		s.Leaves[i].Report = report
	}
}

// A benchView is the page of the mapping desk.
type benchView struct {
	Head     reportHead
	Told     *tale
	Gone     string
	Start    *startView // where there is no draft yet
	Draft    *sketchbook
	Text     string
	Try      *trying
	Sight    *sight // with the marks of the draft, or bare
	Examples *examplesView
	Trial    *trialView
	Saved    *trialView // what came of the reports that waited, after the mapping was saved
	Reading  bool       // that is still going on, so that why the report waits may hold no more
	Place    savePlace
	Back     string            // path of the report
	Typed    map[string]string // what stood in the form when it was not saved
	By       string            // under whose name it is saved; "" where it is asked for
}

func (d *Desk) bench(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	v := &benchView{Head: h, By: decides(r.Context()), Back: "/report/" + rep.ID, Told: d.told.take(r.URL.Query().Get("told"))}
	a := &answer{page: "bench", title: "Mapping desk: " + h.Title(), nav: "/labs", body: v}
	if rep.Status == normalize.Held {
		a.nav = "/held"
	}
	if h.Erased {
		v.Gone = "The original was erased at a person’s request, so that no mapping can be tried on it."
		return a, nil
	}
	if v.Draft, v.Text, err = d.openDraft(rep.ID); err != nil {
		return nil, err
	}
	if v.Draft == nil {
		v.Saved = d.trials.view(rep.ID, "saved")
		v.Reading = v.Saved != nil && !v.Saved.Ended
		v.Start, err = d.start(r.Context(), h)
		return a, err
	}
	if v.Try, err = d.try(r.Context(), rep, v.Text); err != nil {
		if errors.Is(err, context.DeadlineExceeded) {
			v.Gone = "Reading the original again took too long."
			return a, nil
		}
		return nil, err
	}
	v.Sight = v.Try.Sight
	if v.Sight == nil {
		rd, err := d.reading(rep)
		if err != nil {
			return nil, err
		}
		v.Sight = seen(rep, rd)
	}
	v.Trial, v.Examples = d.trials.view(rep.ID, "trial"), d.trials.examplesOf(rep.ID)
	v.Place = d.placeFor(v.Draft, v.Try.Mapping)
	v.Place.Date, v.Place.Layout = v.Try.From, v.Try.Layout
	if v.Told != nil {
		v.Typed = v.Told.Typed
		if day := v.Typed["date"]; day != "" {
			v.Place.Date = day
		}
	}
	return a, nil
}

// typed reads the text of a form of the mapping desk and keeps it with its
// draft.
func (d *Desk) typed(r *http.Request) (*normalize.Report, *sketchbook, string, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, nil, "", err
	}
	r.Body = http.MaxBytesReader(nil, r.Body, mostBodies)
	if err := r.ParseForm(); err != nil {
		return nil, nil, "", badInput("the text is too long for a mapping, or did not come whole", "send it again, or shorten it")
	}
	s, old, err := d.openDraft(rep.ID)
	if err != nil {
		return nil, nil, "", err
	}
	if s == nil {
		return nil, nil, "", badInput("there is no draft for this report any more: it was saved or thrown away meanwhile", "open the mapping desk of the report again")
	}
	text := strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n")
	if !r.PostForm.Has("text") || strings.TrimSpace(text) == "" {
		return nil, nil, "", badInput("no text was sent", "go back and send it again; the draft is as it was")
	}
	if !strings.HasSuffix(text, "\n") {
		text += "\n"
	}
	if text != old && len(text) <= mostText {
		if err := d.keepDraft(s, text); err != nil {
			return nil, nil, "", err
		}
	}
	return rep, s, text, nil
}

// part answers with a part of the page alone.
func (d *Desk) part(r *http.Request, name string, body any) *answer {
	t := d.in(r).pages["bench"]
	return &answer{raw: func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if err := t.ExecuteTemplate(w, name, body); err != nil {
			d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
		}
	}}
}

// partly reports whether a script asks for a part of a page; who has none gets
// the whole page.
func partly(r *http.Request) bool { return r.Header.Get("HX-Request") == "true" }

// benchTyped tells what a text makes of the report, as somebody types.
func (d *Desk) benchTyped(r *http.Request) (*answer, error) {
	rep, _, text, err := d.typed(r)
	if err != nil {
		return nil, err
	}
	if !partly(r) {
		return &answer{to: "/report/" + rep.ID + "/mapping#verdict"}, nil
	}
	t, err := d.try(r.Context(), rep, text)
	if err != nil {
		return nil, err
	}
	return d.part(r, "typed", t), nil
}
