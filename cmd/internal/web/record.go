package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
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
	}{Head: h, Record: rec, Name: sampleName(rec), Lines: resultLines(rep, rec), Advice: adv}
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
		out = append(out, l)
	}
	return out
}
