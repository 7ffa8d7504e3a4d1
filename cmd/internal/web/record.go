package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/method"
)

// recordOf finds a record of the archive with its report.
func (d *Desk) recordOf(id string) (*normalize.Report, *normalize.Record, error) {
	if !recordID.MatchString(id) {
		return nil, nil, notHere("that is not the id of a sample's record")
	}
	report, _, _ := strings.Cut(id, "-")
	rep, _, err := d.archived(report)
	if err != nil {
		return nil, nil, err
	}
	for _, rec := range rep.Records {
		if rec.ID == id {
			return rep, rec, nil
		}
	}
	return nil, nil, notHere("the report is in the archive and has no such sample")
}

// advice is the latest advice on a record; nil where there is none.
func (d *Desk) advice(record string) (*interpret.Advice, error) {
	b, _, err := d.off.Archive.Latest(archive.Advice, record)
	if errors.Is(err, archive.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	a := &interpret.Advice{}
	if err := json.Unmarshal(b, a); err != nil {
		return nil, fmt.Errorf("advice on %s in the archive: %w", record, err)
	}
	return a, nil
}

func (d *Desk) sample(r *http.Request) (*answer, error) {
	rep, rec, err := d.recordOf(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	adv, err := d.advice(rec.ID)
	if err != nil {
		return nil, err
	}
	body := struct {
		Head   reportHead
		Record *normalize.Record
		Name   string
		Lines  []resultLine
		Advice *interpret.Advice
		Before string // the samples beside this one in the report, "" for none
		After  string
	}{Head: h, Record: rec, Name: sampleName(rec), Lines: resultLines(rep, rec), Advice: adv}
	for i, x := range rep.Records {
		switch {
		case x.ID != rec.ID:
			continue
		case i > 0:
			body.Before = rep.Records[i-1].ID
		}
		if i+1 < len(rep.Records) {
			body.After = rep.Records[i+1].ID
		}
	}
	return &answer{page: "sample", title: "Sample " + body.Name, nav: "/reports", body: body}, nil
}

// sampleName is what people call a sample.
func sampleName(r *normalize.Record) string {
	switch {
	case r.Sample.LabID != "":
		return r.Sample.LabID
	case r.Sample.ClientLabel != "":
		return r.Sample.ClientLabel
	}
	return r.ID
}

// A resultLine is one result with everything that there is to say of where it
// comes from.
type resultLine struct {
	*normalize.Result
	N       int // of the record, from 1
	Lineage *normalize.Lineage
	Value   string // in words, with < or >
	Where   string // the place in the report
	Page    string // the address of that place
	Inside  []estimateLine
	Outside []estimateLine // of which there is no estimate, since the equation's domain ends before
}

// An estimateLine is an estimate with its method and source in words.
type estimateLine struct {
	normalize.Estimate
	MethodWords, SourceText string
}

func resultLines(rep *normalize.Report, rec *normalize.Record) []resultLine {
	var out []resultLine
	for i, res := range rec.Results {
		l := resultLine{Result: res, N: i + 1, Lineage: normalize.LineageOf(rep, rec, res), Where: res.Printed.Place.Inside()}
		switch {
		case res.Class != "":
			l.Value = res.Class
		case res.Value != "":
			l.Value = strings.TrimSpace(res.Censored + string(res.Value) + " " + unitWords(res.Unit))
		case res.Volumetric != nil:
			l.Value = string(res.Volumetric.Value) + " " + res.Volumetric.Unit
		}
		if l.Where != "" && rep.ID != "" {
			l.Page = "/report/" + rep.ID + "/look?at=" + url.QueryEscape(l.Where)
		}
		for _, e := range res.Estimates {
			x := estimateLine{Estimate: e, MethodWords: methodWords(&e), SourceText: l.Lineage.Sources[e.Source].Text}
			if e.Value == "" {
				l.Outside = append(l.Outside, x)
			} else {
				l.Inside = append(l.Inside, x)
			}
		}
		out = append(out, l)
	}
	return out
}

// methodWords names what is estimated.
func methodWords(e *normalize.Estimate) string {
	name := e.Method
	if m, ok := method.Standard().Method(e.Method); ok {
		name = m.Name
	}
	return strings.TrimPrefix(analyteName(e.Analyte)+" by "+name, " by ")
}
