package pipeline

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// logArrival tells that a file came. Its name, which may be a client's, is
// told to who debugs.
func (o *Office) logArrival(a Arrival) {
	kind := kindOf(a.Source)
	o.Log.Info("arrived", "source", a.Source.Mark(), "kind", string(kind), "bytes", len(a.Source.Bytes), "by", a.Channel)
	o.Log.Debug("arrived", "source", a.Source.Mark(), "file", a.Source.Name, "office", a.Defaults.Office, "county", a.Defaults.County)
}

// logOutcome tells what became of a file: numbers, ids and codes.
func (o *Office) logOutcome(ctx context.Context, out *Outcome, took time.Duration) {
	mark := slog.String("source", ingest.Mark(out.SHA256))
	var ids, labs []string
	for _, p := range out.Parts {
		ids = append(ids, p.ID)
		if p.Report != nil && p.Report.Lab.ID != "" && !slices.Contains(labs, p.Report.Lab.ID) {
			labs = append(labs, p.Report.Lab.ID)
		}
	}
	attrs := []any{mark, "status", string(out.Status), "reports", strings.Join(ids, " "), "labs", strings.Join(labs, " "),
		"samples", out.Samples(), "results", out.Results(), "seconds", took.Seconds()}
	level := slog.LevelInfo
	switch out.Status {
	case Held:
		level = slog.LevelWarn
	case Failed:
		level = slog.LevelError
	}
	if codes := codesOf(out.Reasons); codes != "" {
		attrs = append(attrs, "codes", codes)
	}
	o.Log.Log(ctx, level, "finished", attrs...)
	for _, r := range out.Reasons {
		o.Log.Debug("reason", mark, "code", r.Code, "severity", r.Severity, "where", r.Where.String(), "what", r.What, "expected", r.Expected, "found", r.Found, "next", r.Next)
	}
}

// codesOf are the codes of what is more than a note, each once.
func codesOf(rs []*ingest.Reason) string {
	var out []string
	for _, r := range rs {
		if r.Severity != ingest.Note && !slices.Contains(out, r.Code) {
			out = append(out, r.Code)
		}
	}
	return strings.Join(out, " ")
}
