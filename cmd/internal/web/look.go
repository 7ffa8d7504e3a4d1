package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// The pictures of pages: dots an inch, and how long one may take.
const (
	pictureDots = 132
	patience    = 60 * time.Second
)

// How far from its digits the line of a mark stands, in points.
const (
	roomAside = 1.6
	roomAbove = 0.8
)

// A value is one number of a report as it was read, beside the page.
type value struct {
	N       int
	As      string // result, field, declared, heading or unaccounted
	Text    string // as printed
	What    string // what it was taken for
	Detail  string // what tells it from another result of that name
	Value   string // on the common schema, of a result
	Where   string
	Marked  bool // there is a mark on the page
	Flags   []normalize.Finding
	Missing bool
}

// A valueGroup is the values of one sample, or of one kind.
type valueGroup struct {
	Title  string
	Link   string // to the sample
	Values []value
}

// mostSamples is how many samples of a report are listed beside its pages.
const mostSamples = 120

// A sight is a report as it looks, beside what was read.
type sight struct {
	Leaves      []sightLeaf
	Unaccounted []value
	Samples     []valueGroup
	MoreSamples int
	Rest        []value // fields and what was declared to be no result
	NotRead     []*ingest.Reason
	Pictures    bool // the leaves are pages of which there are pictures
	MayCount    bool // what is not accounted for does not keep the report from being used
}

// A sightLeaf is a leaf whose marks know their values.
type sightLeaf struct {
	Leaf
	Report string
	Marks  []sightMark
	Grid   []sightRow
}

type sightMark struct {
	Mark
	N int // of the value; 0 for none
}

type sightRow struct {
	Number int
	Cells  []sightCell
}

type sightCell struct {
	GridCell
	N int
}

// reading reads the original of an archived report again, to look at.
func (d *Desk) reading(rep *normalize.Report) (*pipeline.Reading, error) {
	return d.readings.get(rep.Source.SHA256+"\x00"+rep.Source.Title(), func() (*pipeline.Reading, error) {
		b, err := d.off.Archive.Original(rep.Source.SHA256)
		if err != nil {
			return nil, err
		}
		d.drawing <- struct{}{}
		defer func() { <-d.drawing }()
		src := ingest.NewSource(rep.Source.Name, b)
		src.Member = rep.Source.Member
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		return d.off.Stages.Read(ctx, src, pipeline.Defaults{})
	})
}

// seen puts the pages of a report beside what was read of it. The values are
// those of the archive; what else the mapping made of the page comes of a
// reading of today.
func seen(rep *normalize.Report, rd *pipeline.Reading) *sight {
	s := &sight{}
	if len(rd.Docs) == 0 {
		s.NotRead = rd.Report.Reasons
		return s
	}
	n := 0
	at := map[string]int{} // place -> number of its value
	marked := map[string]bool{}
	leaves := Leaves(rd)
	each := func(visit func(m *Mark)) {
		for i := range leaves {
			for j := range leaves[i].Boxes {
				visit(&leaves[i].Boxes[j])
			}
			for j := range leaves[i].Rows {
				for k := range leaves[i].Rows[j].Cells {
					if c := &leaves[i].Rows[j].Cells[k]; c.As != "" {
						visit(&c.Mark)
					}
				}
			}
		}
	}
	each(func(m *Mark) { marked[m.Place] = true })
	add := func(v value) value {
		n++
		v.N, v.Marked = n, marked[v.Where]
		if _, have := at[v.Where]; !have && v.Where != "" {
			at[v.Where] = n
		}
		return v
	}
	each(func(m *Mark) {
		if m.As == "unaccounted" {
			s.Unaccounted = append(s.Unaccounted, add(value{As: m.As, Text: m.Text, What: "not accounted for", Where: m.Place}))
		}
	})
	from := rep
	if len(from.Records) == 0 {
		from = rd.Report
	}
	for i, rec := range from.Records {
		if i == mostSamples {
			s.MoreSamples = len(from.Records) - i
			break
		}
		g := valueGroup{Title: sampleName(rec)}
		if from == rep {
			g.Link = "/sample/" + rec.ID
		}
		for _, l := range resultLines(from, rec) {
			v := value{As: "result", Text: strings.TrimSpace(l.Printed.Text + " " + l.Printed.Unit), What: analyteName(l.Analyte), Value: l.Value, Where: l.Where, Flags: l.Findings, Missing: l.Missing != ""}
			v.Detail = besides(l.Analyte, l.Detail)
			if v.Value == v.Text {
				v.Value = ""
			}
			g.Values = append(g.Values, add(v))
		}
		s.Samples = append(s.Samples, g)
	}
	each(func(m *Mark) {
		if _, have := at[m.Place]; !have && (m.As == "field" || m.As == "declared") {
			what := m.Note
			if m.As == "field" {
				what = fieldName(what)
			}
			s.Rest = append(s.Rest, add(value{As: m.As, Text: m.Text, What: what, Where: m.Place}))
		}
	})
	for _, l := range leaves {
		x := sightLeaf{Leaf: l, Report: rep.ID}
		for _, m := range l.Boxes {
			// A line on a box as tight as its digits would hide them.
			m.X, m.Y, m.W, m.H = m.X-roomAside, m.Y-roomAbove, m.W+2*roomAside, m.H+2*roomAbove
			x.Marks = append(x.Marks, sightMark{m, at[m.Place]})
		}
		for _, r := range l.Rows {
			row := sightRow{Number: r.Number}
			for _, c := range r.Cells {
				cell := sightCell{GridCell: c}
				if c.As != "" {
					cell.N = at[c.Place]
				}
				row.Cells = append(row.Cells, cell)
			}
			x.Grid = append(x.Grid, row)
		}
		s.Pictures = s.Pictures || l.Width > 0
		s.Leaves = append(s.Leaves, x)
	}
	return s
}

// valueAt is the number of the value at a place, 0 for none.
func (s *sight) valueAt(place string) int {
	for _, g := range s.Samples {
		for _, v := range g.Values {
			if v.Where == place && v.Marked {
				return v.N
			}
		}
	}
	return 0
}

func lastWord(s string) string { return s[strings.LastIndex(s, " ")+1:] }

// look shows a report as it looks beside what was read, and what a person can
// decide about it.
func (d *Desk) look(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	body := struct {
		Head   reportHead
		Sight  *sight
		Gone   string // why there is nothing to look at
		Decide choices
		Next   string // the held report after this one, "" for none
		By     string // who decides, "" where that is asked
		Told   *tale
		Zoom   int
		Proof  bool // it came as a picture, and a person can compare it

		Mendable bool // a mapping may settle why it waits
		Same     []index.Report
	}{Head: h, Decide: h.choices(), By: decides(r.Context()), Told: d.told.take(r.URL.Query().Get("told")), Zoom: 100}
	body.Mendable = !h.Erased && h.mendable()
	if h.Erased {
		body.Gone = "The original was erased at a person’s request."
	} else {
		rd, err := d.reading(rep)
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			body.Gone, body.Mendable = "Reading the original again took too long; look at the file itself.", false
		case err != nil:
			return nil, err
		default:
			body.Sight = seen(rep, rd)
			body.Proof = len(rd.Docs) > 0 && rd.Docs[0].Scanned()
			if at := r.URL.Query().Get("at"); at != "" {
				if n := body.Sight.valueAt(at); n > 0 {
					return &answer{to: fmt.Sprintf("/report/%s/look#m-%d", rep.ID, n)}, nil
				}
			}
		}
	}
	if body.Proof && h.State() == string(normalize.Held) {
		body.Head.Holds = besideProof(h.Holds)
	}
	if body.Sight != nil {
		body.Sight.MayCount = body.Decide.Count || h.Status != normalize.Held
	}
	if body.Same, err = d.sameNumber(r.Context(), rep); err != nil {
		return nil, err
	}
	nav := "/reports"
	if h.State() == string(normalize.Held) {
		nav = "/held"
	}
	if rep.Status == normalize.Held || body.Told != nil {
		if body.Next, err = d.nextHeld(r.Context(), rep.ID); err != nil {
			return nil, err
		}
	}
	return &answer{page: "look", title: h.Title() + ", page and reading", nav: nav, body: body}, nil
}

// besideProof are reasons on a page that leads to the picture by itself: they need
// not do so once more, each.
func besideProof(list []*ingest.Reason) []*ingest.Reason {
	out := make([]*ingest.Reason, len(list))
	for i, r := range list {
		if pageFor("proof", "/proof")(r.Next) != "" {
			c := *r // the one of the archive stays as it is
			c.Next = uncommanded(r.Next)
			r = &c
		}
		out[i] = r
	}
	return out
}

// nextHeld is the report in the queue after one, and of one that waits no more
// the first; "" behind the last.
func (d *Desk) nextHeld(ctx context.Context, id string) (string, error) {
	groups, err := d.groups(ctx)
	if err != nil {
		return "", err
	}
	found := false
	for _, g := range groups {
		for _, l := range g.Reports {
			if found {
				return l.ID, nil
			}
			found = l.ID == id
		}
	}
	if !found && len(groups) > 0 {
		return groups[0].Reports[0].ID, nil
	}
	return "", nil
}

// picture is a page of a report's PDF as a PNG of our own making.
func (d *Desk) picture(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(r.PathValue("page"))
	if err != nil || n < 1 || n > 10000 {
		return nil, notHere("there is no such page")
	}
	png, err := d.pictures.get(fmt.Sprintf("%s %d", rep.Source.SHA256, n), func() ([]byte, error) {
		b, err := d.off.Archive.Original(rep.Source.SHA256)
		if err != nil {
			return nil, err
		}
		d.drawing <- struct{}{}
		defer func() { <-d.drawing }()
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		return d.off.Stages.Picture(ctx, ingest.NewSource(rep.Source.Name, b), n, pictureDots)
	})
	if err != nil {
		return nil, notHere("there is no picture of that page: " + ingest.AsReason(err).What)
	}
	return &answer{raw: func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "image/png")
		_, _ = w.Write(png) // the one who asked has gone: there is nobody to tell
	}}, nil
}
