package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/difference"
)

func newVersions(e *env) *cobra.Command {
	asJSON, advice := false, false
	c := &cobra.Command{
		Use:   "versions RECORD [OLD NEW]",
		Short: "list the versions of an archived report, or compare two of them",
		Long: `Lists every version that the archive keeps of a report: when its file is dated
(the day it was archived, unless the archive is a copy that kept no dates), by
which mapping, tables and software it was read, and what changed in it. With two
numbers it tells the two versions apart, value by value, with what made each
difference. RECORD is the id of a report, or of a record, of which alone the
differences are then told. "windrow show record RECORD --version N" shows one.
With --advice it is about the advice on a record; one number shows that version.`,
		Example: "  windrow versions R0123456789abcdef\n  windrow versions R0123456789abcdef 1 2\n  windrow versions R0123456789abcdef-3 1 2 --json\n  windrow versions R0123456789abcdef-3 --advice",
		Args: func(c *cobra.Command, a []string) error {
			if len(a) == 2 && !advice {
				return &usageError{"one version can't be compared", "name two, such as: " + c.CommandPath() + " " + a[0] + " 1 2"}
			}
			return args(1, 3, "the id of a report, and the numbers of two versions if need be")(c, a)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if !recordID.MatchString(args[0]) {
				return &usageError{fmt.Sprintf("%q is not the id of a report", args[0]), "letters print it at their foot, such as R0123456789abcdef-1"}
			}
			if advice {
				return e.versionsOfAdvice(c, args, asJSON)
			}
			id, _, _ := strings.Cut(args[0], "-")
			a, vs, err := e.history(c, id)
			if err != nil {
				return err
			}
			if len(args) == 3 {
				return e.compareVersions(a, vs, args, asJSON)
			}
			return e.listVersions(a, vs, id, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().BoolVar(&advice, "advice", false, "versions of the advice on a record")
	return c
}

func unknownReport(id string) error {
	return &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "the archive holds no report of that id", Expected: "the id of a report or record, as letters print it at their foot", Found: id,
		Next: "check the id, and that this is the right office"}
}

// A versionLine is one version in the list.
type versionLine struct {
	archive.Written
	Status  normalize.Status     `json:"status"`
	Mapping normalize.MappingRef `json:"mapping"`
	Tables  string               `json:"tables"`
	Version string               `json:"software"`
	What    string               `json:"what"` // what changed, in one line
	Damaged string               `json:"damaged,omitempty"`
}

// reportVersion reads one version of a report.
func reportVersion(a *archive.Archive, id string, n int) (*normalize.Report, error) {
	b, err := a.Version(archive.Reports, id, n)
	if err != nil {
		return nil, err
	}
	rep := &normalize.Report{}
	if err := json.Unmarshal(b, rep); err != nil {
		return nil, fmt.Errorf("version %d of report %s in the archive: %w", n, id, err)
	}
	return rep, nil
}

// showArchived shows one version of a report in the archive, 0 for the latest;
// of the id of a record, that record alone.
func (e *env) showArchived(c *cobra.Command, what string, version int, asJSON bool) error {
	id, _, one := strings.Cut(what, "-")
	a, vs, err := e.history(c, id)
	if err != nil {
		return err
	}
	if version == 0 && !c.Flags().Changed("version") {
		version = vs[len(vs)-1].Version
	}
	if version, err = versionNumber(vs, strconv.Itoa(version)); err != nil {
		return err
	}
	if asJSON && !one {
		b, err := a.Version(archive.Reports, id, version)
		if err != nil {
			return err
		}
		_, err = e.stdout.Write(b)
		return err
	}
	rep, err := reportVersion(a, id, version)
	if err != nil {
		return err
	}
	if one {
		n := len(rep.Records)
		rep.Records = slices.DeleteFunc(rep.Records, func(r *normalize.Record) bool { return r.ID != what })
		if len(rep.Records) == 0 {
			return &usageError{fmt.Sprintf("version %d of the report has no sample %s", version, what), fmt.Sprintf("it has %s", plural(n, "sample"))}
		}
	}
	if asJSON {
		return writeJSON(e.stdout, rep.Records[0])
	}
	putf(e.stdout, "version %d of %d\n", version, vs[len(vs)-1].Version)
	printReport(e.stdout, rep)
	return e.tellHeld(rep)
}

func (e *env) listVersions(a *archive.Archive, vs []archive.Written, id string, asJSON bool) error {
	var list []versionLine
	var before *normalize.Report
	var failed error
	for _, v := range vs {
		l := versionLine{Written: v}
		rep, err := reportVersion(a, id, v.Version)
		if err != nil {
			// The others can be shown all the same.
			failed = errors.Join(failed, err)
			l.Damaged, l.What = ingest.AsReason(err).What, "can't be read"
			list = append(list, l)
			continue
		}
		l.Status, l.Mapping, l.Tables, l.Version = rep.Status, rep.Mapping, rep.Tables, rep.Version
		l.What = "first: " + plural(len(rep.Records), "sample")
		if before != nil {
			l.What = inOneLine(difference.Compare(before, rep))
		}
		before = rep
		list = append(list, l)
	}
	if asJSON {
		return errors.Join(failed, writeJSON(e.stdout, list))
	}
	if before != nil {
		putf(e.stdout, "%s: %s\n", id, strings.TrimPrefix(title(before.Source)+", "+before.Lab.Name, ", "))
	}
	g := grid{head: []string{"VERSION", "DATED", "STATUS", "MAPPING", "TABLES", "SOFTWARE"}, whole: map[int]bool{0: true, 1: true, 2: true, 4: true}}
	for _, l := range list {
		by := l.Mapping.ID
		if by != "" {
			by += " " + short(l.Mapping.SHA256)
		}
		g.add(strconv.Itoa(l.Written.Version), l.Dated.Format("2006-01-02 15:04"), string(l.Status), by, short(l.Tables), l.Version)
	}
	g.write(e.stdout, "  ")
	putln(e.stdout)
	for _, l := range list {
		paragraph(e.stdout, fmt.Sprintf("  %d: ", l.Written.Version), l.What)
	}
	return failed
}

// short is the beginning of a hash.
func short(hash string) string { return hash[:min(len(hash), 8)] }

// inOneLine says what a difference is about.
func inOneLine(d *difference.Report) string {
	if d.Alike() {
		return "nothing but by what it was read"
	}
	var parts []string
	if d.Old != d.New {
		parts = append(parts, fmt.Sprintf("%s → %s", d.Old, d.New))
	}
	n := map[string]int{}
	analytes := map[string]int{}
	for i := range d.Results {
		r := &d.Results[i]
		switch {
		case r.Moved():
			n["moved"]++
			analytes[r.Analyte]++
		default:
			n[string(r.Kind)]++
		}
	}
	add := func(n int, one, what string) {
		if n > 0 {
			parts = append(parts, plural(n, one)+what)
		}
	}
	if n["moved"] > 0 {
		names := make([]string, 0, len(analytes))
		for a := range analytes {
			names = append(names, a)
		}
		slices.SortFunc(names, func(a, b string) int { return cmp.Or(analytes[b]-analytes[a], cmp.Compare(a, b)) })
		more := ""
		if len(names) > 4 {
			names, more = names[:4], "…"
		}
		parts = append(parts, plural(n["moved"], "value")+" ("+strings.Join(names, ", ")+more+")")
	}
	add(n["changed"], "result", " with another lineage, status or text")
	add(n["new"], "result", " new")
	add(n["gone"], "result", " gone")
	add(len(d.Records), "sample", " new, gone or with other facts")
	add(len(d.Reasons), "reason", " new or gone")
	if len(parts) == 0 {
		parts = append(parts, plural(len(d.Fields), "field")+" of the report")
	}
	text := strings.Join(parts, ", ")
	if c := causes(d.Causes()); c != "" {
		text += "; because of " + c
	}
	return text
}

func (e *env) compareVersions(a *archive.Archive, vs []archive.Written, args []string, asJSON bool) error {
	id, _, one := strings.Cut(args[0], "-")
	var reps [2]*normalize.Report
	for i, s := range args[1:] {
		n, err := versionNumber(vs, s)
		if err != nil {
			return err
		}
		if reps[i], err = reportVersion(a, id, n); err != nil {
			return err
		}
	}
	d := difference.Compare(reps[0], reps[1])
	if one {
		onlyRecord(d, args[0])
	}
	if asJSON {
		return writeJSON(e.stdout, d)
	}
	printDifference(e.stdout, d, args)
	return nil
}

// versionNumber is the number of a version that the archive has.
func versionNumber(vs []archive.Written, s string) (int, error) {
	n, err := strconv.Atoi(s)
	for _, v := range vs {
		if err == nil && v.Version == n {
			return n, nil
		}
	}
	var have []string
	for _, v := range vs {
		have = append(have, strconv.Itoa(v.Version))
	}
	return 0, &usageError{fmt.Sprintf("there is no version %q", s), "there are: " + strings.Join(have, ", ")}
}

// onlyRecord drops what is about other records.
func onlyRecord(d *difference.Report, record string) {
	d.Results = slices.DeleteFunc(d.Results, func(r difference.Result) bool { return r.Record != record })
	d.Records = slices.DeleteFunc(d.Records, func(r difference.Record) bool { return r.Record != record })
}

// printDifference writes how two versions differ, value by value.
func printDifference(w io.Writer, d *difference.Report, args []string) {
	head := fmt.Sprintf("%s, version %s → %s: %s", args[0], args[1], args[2], inOneLine(d))
	putln(w, strings.Join(wrap(head, width-2), "\n  "))
	for _, f := range d.Reading {
		paragraph(w, "  read by: ", f.Name+" "+shorter(f.Old)+" → "+shorter(f.New))
	}
	for _, f := range d.Fields {
		paragraph(w, "  report: ", f.Name+": "+orNothingThere(f.Old)+" → "+orNothingThere(f.New))
	}
	for _, r := range d.Reasons {
		paragraph(w, "  "+string(r.Kind)+" reason: ", r.What+" ["+r.Code+"]; because of "+causes(r.Because))
	}
	sample := ""
	heading := func(record, name string) {
		if record != sample {
			sample = record
			putf(w, "\n%s, sample %s\n", record, name)
		}
	}
	rest := d.Records
	facts := func(record string) {
		for _, r := range rest {
			if r.Record != record {
				continue
			}
			heading(r.Record, r.Sample)
			if len(r.Fields) == 0 {
				putf(w, "  the sample is %s; because of %s\n", r.Kind, causes(r.Because))
			}
			for _, f := range r.Fields {
				paragraph(w, "  ", f.Name+": "+orNothingThere(f.Old)+" → "+orNothingThere(f.New)+"; because of "+causes(r.Because))
			}
		}
		rest = slices.DeleteFunc(slices.Clone(rest), func(r difference.Record) bool { return r.Record == record })
	}
	for i := range d.Results {
		r := &d.Results[i]
		if r.Record != sample {
			facts(r.Record)
		}
		heading(r.Record, r.Sample)
		printResultDifference(w, r)
	}
	for len(rest) > 0 {
		facts(rest[0].Record)
	}
}

func printResultDifference(w io.Writer, r *difference.Result) {
	name := r.Analyte
	if r.Detail != "" {
		name += " (" + r.Detail + ")"
	}
	text := ""
	switch {
	case r.Kind == difference.New:
		text = "new: " + r.New
	case r.Kind == difference.Gone:
		text = "gone: " + r.Old
	case r.Moved():
		text = r.Old + " → " + r.New
		if r.Ratio != "" {
			text += ", × " + r.Ratio
		}
	default:
		text = r.New + ", the same value"
	}
	if r.OldStat != r.NewStat && r.Kind == difference.Changed {
		text += ", " + r.OldStat + " → " + r.NewStat
	}
	if at := r.Place.Inside(); at != "" {
		text += " (at " + at + ")"
	}
	paragraph(w, "  "+name+": ", text+"; because of "+causes(r.Because))
	for _, f := range r.Fields {
		if f.Name == "status" || r.Moved() && (f.Name == "value" || f.Name == "unit") {
			continue
		}
		paragraph(w, "      ", f.Name+": "+orNothingThere(f.Old)+" → "+orNothingThere(f.New))
	}
}

// shorter is a hash by its beginning, and anything else whole.
func shorter(s string) string {
	if len(s) == 64 {
		return short(s)
	}
	return orNothingThere(s)
}
