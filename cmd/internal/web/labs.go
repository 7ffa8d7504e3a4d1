package web

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/register"
)

// A labLine is a laboratory with what is known of it.
type labLine struct {
	index.LabCount
	Mapping  *mappings.Mapping // nil when the office has none of that laboratory any more
	Usual    *register.Usual   // of the whole year; nil for not known
	Waiting  []holdGroup
	Drifting bool   // reports that are held do not look as they used to
	Since    string // since when; "" where that was never noted
}

// OddPercent is the share of the used reports that contradict themselves.
func (l labLine) OddPercent() string { return share(l.Contradicted, l.Read) }

// A monthLine is how long a laboratory usually takes for what it receives in a
// month.
type monthLine struct {
	Name string
	register.Usual
}

// usualSpans are from when to when laboratories had samples. One report more
// changes next to nothing of what is usual, and all reports must be gone through
// for it: they are remembered for a while whatever comes.
func (d *Desk) usualSpans(ctx context.Context) ([]register.Span, error) {
	return d.spans.get(context.WithoutCancel(ctx), func(ctx context.Context) ([]register.Span, error) {
		return pipeline.KnownSpans(ctx, d.off.Index)
	})
}

// labLines are all laboratories of which there is a mapping or a report, by
// name; reports of which the laboratory is not known stand last.
func (d *Desk) labLines(r *http.Request) ([]labLine, *register.Times, error) {
	ctx := r.Context()
	counts, err := d.labsNow(ctx)
	if err != nil {
		return nil, nil, err
	}
	groups, err := d.groups(ctx)
	if err != nil {
		return nil, nil, err
	}
	usual, err := d.usualSpans(ctx)
	if err != nil {
		return nil, nil, err
	}
	times := register.UsualTimes(usual)
	by := map[string]*labLine{}
	var out []*labLine
	line := func(id, name string) *labLine {
		if by[id] == nil {
			by[id] = &labLine{LabCount: index.LabCount{Lab: id, Name: name}}
			out = append(out, by[id])
		}
		return by[id]
	}
	for _, c := range counts {
		line(c.Lab, c.Name).LabCount = c
	}
	for _, m := range d.off.Stages.Mappings().Mappings() {
		line(m.ID, m.Lab).Mapping = m
	}
	for _, g := range groups {
		if x := by[g.Reports[0].Queued.Lab]; x != nil {
			x.Waiting = append(x.Waiting, g)
		}
	}
	for _, u := range times.List() {
		if x := by[u.Lab.ID]; x != nil && u.Month == 0 {
			x.Usual = &u
		}
	}
	since, err := d.driftSince(r)
	if err != nil {
		return nil, nil, err
	}
	for id, at := range since {
		if x := by[id]; x != nil && id != "" {
			x.Drifting, x.Since = true, at
		}
	}
	slices.SortFunc(out, func(a, b *labLine) int {
		return cmp.Or(cmp.Compare(btoi(a.Lab == ""), btoi(b.Lab == "")), cmp.Compare(a.Name, b.Name))
	})
	list := make([]labLine, len(out))
	for i, x := range out {
		list[i] = *x
	}
	return list, times, nil
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (d *Desk) laboratories(r *http.Request) (*answer, error) {
	list, _, err := d.labLines(r)
	if err != nil {
		return nil, err
	}
	return &answer{page: "labs", title: "Laboratories", nav: "/labs", body: list}, nil
}

func (d *Desk) laboratory(r *http.Request) (*answer, error) {
	list, times, err := d.labLines(r)
	if err != nil {
		return nil, err
	}
	for _, l := range list {
		if l.Lab != r.PathValue("id") || l.Lab == "" {
			continue
		}
		body := struct {
			labLine
			labStanding
			Months []monthLine
			Course *columns // the months drawn; nil for fewer than two
			Latest []index.Report
			Bench  string // id of the report beside which its mapping is changed; "" for none
		}{labLine: l}
		for _, u := range times.List() {
			if u.Lab.ID == l.Lab && u.Month > 0 {
				body.Months = append(body.Months, monthLine{time.Month(u.Month).String(), u})
			}
		}
		var cols []column
		for _, m := range body.Months {
			cols = append(cols, column{Name: m.Name[:3], Value: float64(m.P90), Dotted: true, Dot: float64(m.Median)})
		}
		body.Course = drawColumns(cols, "")
		if body.labStanding, err = d.standing(r.Context(), l.Lab); err != nil {
			return nil, err
		}
		if body.Latest, err = d.off.Index.Reports(r.Context(), index.Filter{Lab: l.Lab, Office: officeOf(r.Context()), Limit: 10}); err != nil {
			return nil, err
		}
		if err := d.standingNow(r.Context(), body.Latest); err != nil {
			return nil, err
		}
		shown(r.Context(), reportIDs(body.Latest)...)
		switch {
		case len(l.Waiting) > 0:
			body.Bench = l.Waiting[0].Reports[0].ID
		case len(body.Latest) > 0:
			body.Bench = body.Latest[0].ID
		}
		return &answer{page: "lab", title: l.Name, nav: "/labs", body: body}, nil
	}
	return nil, notHere("no laboratory of that id is known here")
}
