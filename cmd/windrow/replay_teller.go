package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/difference"
)

// A replayTeller tells of reports as they are read anew: sums them up, and
// writes the lines that were asked for. It keeps none of them.
type replayTeller struct {
	e     *env
	o     *replayCmd
	bar   *progress.Progress
	tally pipeline.ReplayTally
	moved int // files that were held and are not any more
	// erased is how many reports are not read since their file was erased.
	erased int

	file *os.File // under a temporary name; nil when no table was asked for
	csv  *csv.Writer
}

// changeColumns are the columns of the table of differences.
var changeColumns = []string{"report", "file", "lab", "sample", "record", "analyte", "detail", "change", "field", "old", "new", "ratio", "place", "because", "version", "applied"}

func newReplayTeller(e *env, o *replayCmd) (*replayTeller, error) {
	t := &replayTeller{e: e, o: o}
	if o.out == "" {
		return t, nil
	}
	f, err := os.CreateTemp(filepath.Dir(o.out), ".windrow-*.part")
	if err != nil {
		return nil, notThere(o.out, err)
	}
	t.file, t.csv = f, csv.NewWriter(f)
	return t, t.csv.Write(changeColumns)
}

// close ends the table; it gets its name only when everything is in it.
func (t *replayTeller) close(whole bool) error {
	if t.file == nil {
		return nil
	}
	t.csv.Flush()
	err := errors.Join(t.csv.Error(), t.file.Chmod(0o640), t.file.Sync(), t.file.Close())
	if err == nil && whole {
		err = os.Rename(t.file.Name(), t.o.out)
	}
	if err != nil || !whole {
		_ = os.Remove(t.file.Name()) // a part of a table is of no use
	}
	return err
}

func (t *replayTeller) reports(list []*pipeline.Replayed) error {
	name := ""
	for _, x := range list {
		name = x.Name
		t.tally.Add(x)
		if err := t.report(x); err != nil {
			return err
		}
	}
	t.bar.Step(name)
	return nil
}

func (t *replayTeller) report(x *pipeline.Replayed) error {
	t.moved += len(x.Moved)
	if x.Outcome == pipeline.ReplayNotRead || x.Outcome == pipeline.ReplayNotMade || x.Status == normalize.Held && x.Differs() {
		for _, r := range x.Reasons {
			_ = t.bar.Print(t.e.stderr, r.Error()+"\n") // a stderr that is gone stops no work
		}
	}
	if x.Outcome == pipeline.ReplaySame || x.Outcome == pipeline.ReplayAlike {
		return nil
	}
	if t.o.json {
		if err := t.line(x); err != nil {
			return err
		}
	}
	if t.csv == nil {
		return nil
	}
	return t.rows(x)
}

// line prints one JSON object on a line.
func (t *replayTeller) line(v any) error {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	return t.bar.Print(t.e.stdout, b.String())
}

// rows writes one line for each difference of a report.
func (t *replayTeller) rows(x *pipeline.Replayed) error {
	var err error
	row := func(sample, record, analyte, detail, change, field, old, now, ratio string, place ingest.Place, because []difference.Cause) {
		cells := []string{x.ID, x.Name, x.Lab.ID, sample, record, analyte, detail, change, field, old, now, ratio, place.Inside(), causes(because), strconv.Itoa(x.Version), ""}
		if x.Applied > 0 {
			cells[15] = strconv.Itoa(x.Applied)
		}
		for i, c := range cells {
			if i != 11 && !isNumber(c) {
				cells[i] = normalize.Safe(c)
			}
		}
		err = errors.Join(err, t.csv.Write(cells))
	}
	none := ingest.Place{}
	if x.Diff == nil && len(x.Advice) == 0 {
		row("", "", "", "", string(x.Outcome), "", "", "", "", none, nil)
	}
	if d := x.Diff; d != nil {
		for _, f := range d.Fields {
			row("", "", "", "", "changed", f.Name, f.Old, f.New, "", none, d.Causes())
		}
		for _, r := range d.Reasons {
			old, now := "", r.What
			if r.Kind == difference.Gone {
				old, now = now, old
			}
			row("", "", "", "", string(r.Kind), "reason "+r.Code, old, now, "", r.Where, r.Because)
		}
		for _, r := range d.Records {
			if len(r.Fields) == 0 {
				row(r.Sample, r.Record, "", "", string(r.Kind), "sample", "", "", "", none, r.Because)
			}
			for _, f := range r.Fields {
				row(r.Sample, r.Record, "", "", "changed", f.Name, f.Old, f.New, "", none, r.Because)
			}
		}
		for _, r := range d.Results {
			if r.Kind != difference.Changed || r.Moved() {
				row(r.Sample, r.Record, r.Analyte, r.Detail, string(r.Kind), "", r.Old, r.New, r.Ratio, r.Place, r.Because)
			}
			for _, f := range r.Fields {
				if f.Name != "value" && f.Name != "unit" || !r.Moved() {
					row(r.Sample, r.Record, r.Analyte, r.Detail, "changed", f.Name, f.Old, f.New, "", r.Place, r.Because)
				}
			}
		}
	}
	for _, a := range x.Advice {
		row(a.Sample, a.Record, a.Analyte, "", "advice", a.What, a.Old, a.New, "", none, []difference.Cause{difference.Cause(a.Because)})
	}
	return err
}

func isNumber(s string) bool {
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}

func causes(cs []difference.Cause) string {
	var out []string
	for _, c := range cs {
		out = append(out, string(c))
	}
	return strings.Join(out, ", ")
}
