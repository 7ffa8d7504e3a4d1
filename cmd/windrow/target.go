package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/register"
)

// readOne reads one file through the stages, without an archive.
func (e *env) readOne(ctx context.Context, c *cobra.Command, path string) (*pipeline.Reading, *pipeline.Stages, *config.Config, error) {
	st, cfg, err := e.stages(c, 1)
	if err != nil {
		return nil, nil, nil, err
	}
	outer, member := splitMember(path)
	src, err := source(outer, st.Limits.Bytes)
	if err != nil {
		return nil, nil, nil, errors.Join(err, st.Close())
	}
	rds, err := st.ReadAll(ctx, src, pipeline.Defaults{})
	if err != nil {
		return nil, nil, nil, errors.Join(err, st.Close())
	}
	if member != "" {
		rd, err := namedMember(rds, member)
		if err != nil {
			rd2, err2 := st.ReadMember(ctx, src, member, pipeline.Defaults{})
			if rd2 != nil {
				rd, err = rd2, nil
			} else if err2 != nil {
				err = err2
			}
		}
		if err != nil {
			return nil, nil, nil, errors.Join(err, st.Close())
		}
		return rd, st, cfg, nil
	}
	return e.chosen(rds), st, cfg, nil
}

// splitMember takes "mail.eml > table.csv" apart, as files in mails and
// archives are named wherever they are told.
func splitMember(path string) (outer, member string) {
	if _, err := os.Stat(path); err == nil {
		return path, ""
	}
	outer, member, _ = strings.Cut(path, " > ")
	return outer, member
}

// namedMember is the file of that name in a mail or an archive.
func namedMember(rds []*pipeline.Reading, member string) (*pipeline.Reading, error) {
	var names []string
	for _, rd := range rds {
		if rd.Source.Member == member {
			return rd, nil
		}
		names = append(names, rd.Source.Member)
	}
	return nil, &ingest.Reason{Code: "file-not-readable", Severity: ingest.Fail, Where: ingest.Place{File: rds[0].Source.Name}, What: "there is no such file in it", Expected: "one of " + strings.Join(names, "; "), Found: member, Next: "write the name as it stands above"}
}

// mostRead is the one with most samples of several reports in one file.
func mostRead(rds []*pipeline.Reading) *pipeline.Reading {
	rd := rds[0]
	for _, x := range rds[1:] {
		if len(x.Report.Records) > len(rd.Report.Records) {
			rd = x
		}
	}
	return rd
}

// chosen is the report that is meant of those in one file: the one with most
// samples. Which one it is, is told.
func (e *env) chosen(rds []*pipeline.Reading) *pipeline.Reading {
	rd := mostRead(rds)
	if len(rds) > 1 {
		e.say("windrow: %s holds %s; this is %s", rd.Source.Name, plural(len(rds), "file"), rd.Source.Title())
		for _, x := range rds {
			if x != rd {
				e.say("windrow: for another, name it so: '%s'", x.Source.Title())
				break
			}
		}
	}
	return rd
}

// tellHeld tells why a report is held, and gives the error that ends the
// command then.
func (e *env) tellHeld(rep *normalize.Report) error {
	if rep.Status != normalize.Held {
		return nil
	}
	for _, r := range rep.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
			if !strings.HasPrefix(r.Where.File, rep.Source.Name+" > ") { // of another file in the same one
				r = r.In(title(rep.Source))
			}
			e.reason(r)
		}
	}
	return errHeld
}

var recordID = regexp.MustCompile(`^R[0-9a-f]{16}(-[1-9][0-9]*)?$`)

// likeID is what was most likely meant to be the id of a record.
var likeID = regexp.MustCompile(`^[Rr][0-9a-fA-F]{3,}(-[0-9]*)?$`)

// A target is what trace and letter are about: a report, and the records of
// it that are meant.
type target struct {
	stages  *pipeline.Stages
	cfg     *config.Config
	report  *normalize.Report
	records []*normalize.Record
	matched []register.Match // what the register says of the report's records; nil before it was asked
}

// target finds a report by the path of its file, or in the office's archive
// by the id of the report or of one of its records. Close the stages.
func (e *env) target(ctx context.Context, c *cobra.Command, what string) (*target, error) {
	_, statErr := os.Stat(what)
	if statErr != nil && recordID.MatchString(what) {
		return e.archived(c, what)
	}
	if statErr != nil && likeID.MatchString(what) {
		return nil, &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: what}, What: "this is neither a file that is here nor the whole id of a record",
			Expected: "a file, or an id: R and sixteen of 0-9 and a-f, then for one sample a hyphen and its number, such as R0123456789abcdef-1", Found: what,
			Next: "copy the id from the foot of the letter, all of it"}
	}
	rd, st, cfg, err := e.readOne(ctx, c, what)
	if err != nil {
		return nil, err
	}
	return &target{stages: st, cfg: cfg, report: rd.Report, records: rd.Report.Records}, nil
}

func (e *env) archived(c *cobra.Command, id string) (*target, error) {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return nil, err
	}
	a, err := archiveOf(c.Context(), cfg)
	if err != nil {
		return nil, err
	}
	report, _, one := strings.Cut(id, "-")
	b, _, err := a.Latest(archive.Reports, report)
	if errors.Is(err, archive.ErrNotFound) {
		return nil, &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "the archive holds no record of that id", Expected: "the id of a record, as letters print it at their foot", Found: id,
			Next: "check the id, and that this is the right office"}
	}
	if err != nil {
		return nil, err
	}
	t := &target{cfg: cfg, report: &normalize.Report{}}
	if err := json.Unmarshal(b, t.report); err != nil {
		return nil, fmt.Errorf("report %s in the archive: %w", report, err)
	}
	for _, r := range t.report.Records {
		if !one || r.ID == id {
			t.records = append(t.records, r)
		}
	}
	if one && len(t.records) == 0 {
		return nil, &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "the report is in the archive but has no such sample", Expected: fmt.Sprintf("a number from 1 to %d behind %s-", len(t.report.Records), report), Found: id, Next: "check the id"}
	}
	st, reasons := pipeline.Load(e.want(cfg, true, 1))
	t.stages = st
	return t, asError(reasons)
}

// only keeps the records of one sample, by its number at the laboratory or
// the client's label.
func (t *target) only(sample string) error {
	if sample == "" {
		return nil
	}
	var kept []*normalize.Record
	var names []string
	for _, r := range t.records {
		if r.Sample.LabID == sample || r.Sample.ClientLabel == sample || r.ID == sample {
			kept = append(kept, r)
		}
		names = append(names, sampleName(r))
	}
	if len(kept) == 0 {
		return &usageError{fmt.Sprintf("no sample %q in this report", sample), "its samples: " + strings.Join(names, ", ")}
	}
	t.records = kept
	return nil
}

func sampleName(r *normalize.Record) string {
	switch {
	case r.Sample.LabID != "":
		return r.Sample.LabID
	case r.Sample.ClientLabel != "":
		return r.Sample.ClientLabel
	}
	return r.ID
}
