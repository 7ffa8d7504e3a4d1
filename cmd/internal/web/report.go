package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// samplesShown is how many samples of a report a page lists.
const samplesShown = 100

// archived is the report that the archive holds under an id.
func (d *Desk) archived(id string) (*normalize.Report, int, error) {
	if !reportID.MatchString(id) {
		return nil, 0, notHere("that is not the id of a report")
	}
	b, version, err := d.off.Archive.Latest(archive.Reports, id)
	if errors.Is(err, archive.ErrNotFound) && !errors.Is(err, archive.ErrErased) {
		return nil, 0, notHere("the archive holds no report of that id")
	}
	if err != nil {
		return nil, 0, err
	}
	rep := &normalize.Report{}
	if err := json.Unmarshal(b, rep); err != nil {
		return nil, 0, fmt.Errorf("report %s in the archive: %w", id, err)
	}
	return rep, version, nil
}

// A reportHead is what every page about a report says of it.
type reportHead struct {
	*normalize.Report
	Holds   []*ingest.Reason // why it waits
	Remarks []*ingest.Reason // what else there is to know
	Erased  bool
	Ruling  *normalize.Ruling // the decision in force; nil for none
	Date    string            // of the report, "" where it has none
}

func (d *Desk) head(rep *normalize.Report) (reportHead, error) {
	h := reportHead{Report: rep, Erased: normalize.Erased(rep)}
	for _, r := range rep.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
			h.Holds = append(h.Holds, r)
		} else {
			h.Remarks = append(h.Remarks, r)
		}
	}
	for _, rec := range rep.Records {
		h.Date = max(h.Date, rec.Sample.Reported)
	}
	b, _, err := d.off.Archive.Latest(archive.Rulings, rep.ID)
	switch {
	case errors.Is(err, archive.ErrNotFound):
		return h, nil
	case err != nil:
		return h, err
	}
	h.Ruling, err = normalize.ParseRuling(b)
	return h, err
}

// Title names the report for people.
func (h reportHead) Title() string {
	if h.Number != "" {
		return "Report " + h.Number
	}
	return h.Source.Title()
}

// State is how the report stands: its status, or that a person set it aside.
func (h reportHead) State() string {
	if h.Status == normalize.Held && normalize.SetAside(h.Report) {
		return index.Aside
	}
	return string(h.Status)
}

// StateOf is how a sample of the report stands.
func (h reportHead) StateOf(rec *normalize.Record) string {
	if h.State() == index.Aside {
		return index.Aside
	}
	return string(rec.Status)
}

// LabName is the laboratory, in words where it is not known.
func (h reportHead) LabName() string {
	if h.Lab.Name == "" {
		return "a laboratory that no mapping knows"
	}
	return h.Lab.Name
}

func (d *Desk) report(r *http.Request) (*answer, error) {
	rep, version, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	page := 1
	if s := r.URL.Query().Get("page"); s != "" {
		if page, err = strconv.Atoi(s); err != nil || page < 1 || (page-1)*samplesShown >= max(len(rep.Records), 1) {
			return nil, badInput("there is no such page of samples", "go back to the report")
		}
	}
	from := (page - 1) * samplesShown
	to := min(from+samplesShown, len(rep.Records))
	body := struct {
		Head         reportHead
		Records      []*normalize.Record
		From, To     int
		Before, Next int // numbers of pages, 0 for none
		Version      int
		Told         *tale
		Letters      []letterLine
		Compared     bool // with its picture, and it waits all the same
		Same         []index.Report
	}{Head: h, Records: rep.Records[from:to], From: from + 1, To: to, Version: version, Told: d.told.take(r.URL.Query().Get("told"))}
	if page > 1 {
		body.Before = page - 1
	}
	if to < len(rep.Records) {
		body.Next = page + 1
	}
	if body.Same, err = d.sameNumber(r.Context(), rep); err != nil {
		return nil, err
	}
	if body.Letters, err = d.lettersOf(h, body.Records); err != nil {
		return nil, err
	}
	if h.State() == string(normalize.Held) {
		_, _, err := d.off.Archive.Latest(archive.Proofs, rep.ID)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return nil, err
		}
		body.Compared = err == nil
	}
	return &answer{page: "report", title: h.Title(), nav: "/reports", body: body}, nil
}

// mostLetters is of how many samples a report's page looks for their letters.
const mostLetters = 12

// A letterLine is a sample that has a letter.
type letterLine struct{ ID, Name string }

// lettersOf are the samples of a report in use that have a letter; none of a
// report of many samples, whose pages have them.
func (d *Desk) lettersOf(h reportHead, list []*normalize.Record) (out []letterLine, err error) {
	if h.Status == normalize.Held || len(h.Records) > mostLetters {
		return nil, nil
	}
	for _, rec := range list {
		adv, err := d.advice(rec.ID)
		if err != nil {
			return nil, err
		}
		if adv != nil {
			out = append(out, letterLine{rec.ID, sampleName(rec)})
		}
	}
	return out, nil
}

// original gives the bytes of a report's file as they came, to be kept and not
// shown: nobody knows what is in them.
func (d *Desk) original(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	b, err := d.off.Archive.Original(rep.Source.SHA256)
	if err != nil {
		return nil, err
	}
	name := rep.ID + suffixOf(rep.Source)
	return &answer{raw: func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "application/octet-stream")
		w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
		_, _ = w.Write(b) // the one who asked has gone: there is nobody to tell
	}}, nil
}

// suffixOf is the end of a file's name, where it is one of those that are
// known: nothing else of the name goes into a header.
func suffixOf(s ingest.SourceRef) string {
	name := strings.ToLower(s.Title())
	for _, x := range []string{".pdf", ".xlsx", ".xls", ".csv", ".txt", ".html", ".htm", ".eml", ".zip", ".png", ".jpg", ".tif"} {
		if strings.HasSuffix(name, x) {
			return x
		}
	}
	return ".bin"
}
