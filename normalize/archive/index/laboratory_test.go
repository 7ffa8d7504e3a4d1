//go:build unix

package index_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// What holds the reports of a laboratory, since when, how they differ from
// their mapping and how often they contradict themselves: on both engines, and
// the same after everything was read again.
func TestLaboratory(t *testing.T) { onBoth(t, laboratory) }

func laboratory(t *testing.T) {
	a, ix := newArchive(t), open(t, fresh(t))
	n := 0
	add := func(lab, date string, status normalize.Status, change func(r *normalize.Report)) string {
		t.Helper()
		src, r := made(n, status, 2, 3)
		n++
		r.Lab.ID, r.Lab.Name, r.Reasons = lab, lab, nil
		for _, rec := range r.Records {
			rec.Sample.Reported = date
			for _, x := range rec.Results {
				x.Findings = nil
			}
		}
		change(r)
		if _, err := a.PutOriginal(src); err != nil {
			t.Fatal(err)
		}
		note := archive.Arrival{Time: time.Date(2026, 5, n, 8, 0, 0, 0, time.UTC), Name: r.Source.Name, SHA256: r.Source.SHA256, Size: r.Source.Size, Outcome: "held", Report: r.ID, Channel: "folder"}
		where, err := a.PutArrival(note)
		if err != nil {
			t.Fatal(err)
		}
		b := encode(t, r)
		if _, _, err := a.PutReport(r.ID, b); err != nil {
			t.Fatal(err)
		}
		if err := ix.AddReport(t.Context(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
		if err := ix.AddArrival(t.Context(), where, note); err != nil {
			t.Fatal(err)
		}
		return r.ID
	}
	finding := func(check string, s ingest.Severity) []normalize.Finding {
		return []normalize.Finding{{Check: check, Severity: s, What: "x"}}
	}
	held := func(reasons ...*ingest.Reason) func(*normalize.Report) {
		return func(r *normalize.Report) { r.Reasons = reasons }
	}
	unit := &ingest.Reason{Code: "unit-differs", Severity: ingest.Hold, What: "the unit is another", Expected: "ppm", Found: "lb/acre"}
	other := &ingest.Reason{Code: "unit-differs", Severity: ingest.Hold, What: "its unit is another", Expected: "ppm", Found: "mg/L"}
	label := &ingest.Reason{Code: "label-differs", Severity: ingest.Hold, What: "the text beside \"For\" is another", Expected: "[A-Z]+", Found: "Ada Quill"}
	west := []string{add("west", "2026-05-01", normalize.Held, held(unit, label))}
	west = append(west, add("west", "2026-05-02", normalize.Held, held(unit, &ingest.Reason{Code: "seen", Severity: ingest.Note, What: "a note"})))
	west = append(west, add("west", "2026-05-03", normalize.Held, held(other, &ingest.Reason{Code: "scan", Severity: ingest.Hold, What: "it is a picture"})))
	add("east", "2026-05-04", normalize.Held, held(unit))
	add("west", "2025-05-05", normalize.OK, held(&ingest.Reason{Code: "unit-differs", Severity: ingest.Hold, What: "settled long ago"}))
	add("west", "2025-06-01", normalize.Flagged, func(r *normalize.Report) { // one sample of two, by two checks
		r.Records[1].Checks = finding("cec-sum", ingest.Flag)
		r.Records[1].Results[2].Findings = finding("saturation-of-cation", ingest.Flag)
	})
	latest := add("west", "2026-06-01", normalize.Flagged, func(r *normalize.Report) {
		for _, rec := range r.Records {
			rec.Checks = finding("cec-sum", ingest.Flag)
		}
	})
	add("west", "2026-06-02", normalize.Flagged, func(r *normalize.Report) { // neither a contradiction
		r.Records[0].Checks = finding("cec-lime", ingest.Note)
		r.Records[1].Results[0].Findings = finding("unusual-value", ingest.Flag)
	})
	west = append(west, add("west", "2026-06-03", normalize.Held, func(r *normalize.Report) { r.Records, r.Reasons = nil, []*ingest.Reason{unit} }))
	west = append(west, add("west", "2026-06-04", normalize.Held, func(r *normalize.Report) { // which may have been read wrong
		r.Records[0].Checks, r.Reasons = finding("cec-sum", ingest.Flag), []*ingest.Reason{unit}
	}))

	look := func() string {
		t.Helper()
		var out []string
		say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
		for _, lab := range []string{"", "east"} {
			causes, err := ix.Causes(t.Context(), "", lab)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range causes {
				say("%s %s %q of %d: %d since %s", c.Lab, c.Code, c.What, c.Wordings, c.Reports, c.Since)
			}
		}
		drifts, err := ix.Drifts(t.Context(), "Finch", "west")
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range drifts {
			say("%s %s %q -> %q: %d since %s, by one of them %t", d.Layout, d.Code, d.Expected, d.Found, d.Reports, d.Since, slices.Contains(west, d.Report))
		}
		tallies, err := ix.Tallies(t.Context(), "", "west")
		if err != nil {
			t.Fatal(err)
		}
		for _, y := range tallies {
			say("%+v", y)
		}
		odd, err := ix.Contradictions(t.Context(), "", "west")
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range odd {
			say("%s %d %d %t", c.Check, c.Reports, c.Records, c.Report == latest)
		}
		labs, err := ix.LabCounts(t.Context(), "")
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range labs {
			say("%s %d of %d", l.Lab, l.Contradicted, l.Read)
		}
		return strings.Join(out, "\n")
	}
	want := strings.Join([]string{
		`east unit-differs "the unit is another" of 1: 1 since 2026-05-04T08:00:00Z`,
		`west unit-differs "its unit is another" of 2: 5 since 2026-05-01T08:00:00Z`,
		`west label-differs "the text beside \"For\" is another" of 1: 1 since 2026-05-01T08:00:00Z`,
		`west scan "it is a picture" of 1: 1 since 2026-05-03T08:00:00Z`,
		`east unit-differs "the unit is another" of 1: 1 since 2026-05-04T08:00:00Z`,
		`table label-differs "" -> "": 1 since 2026-05-01T08:00:00Z, by one of them true`,
		`table unit-differs "ppm" -> "lb/acre": 4 since 2026-05-01T08:00:00Z, by one of them true`,
		`table unit-differs "ppm" -> "mg/L": 1 since 2026-05-03T08:00:00Z, by one of them true`,
		`{Year:2025 Reports:2 Contradicted:1 Records:4 OddRecords:1}`,
		`{Year:2026 Reports:2 Contradicted:1 Records:4 OddRecords:2}`,
		`cec-sum 2 3 true`, `saturation-of-cation 1 1 false`,
		`east 0 of 0`, `west 2 of 4`}, "\n")
	if got := look(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if out := dump(t, ix); strings.Contains(out, "Ada Quill") {
		t.Error("the index holds a client's name")
	}
	before := dump(t, ix)
	if err := ix.Rebuild(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	if after := dump(t, ix); after != before {
		t.Error(diff(before, after))
	}
	for _, office := range []string{"elsewhere"} {
		causes, err1 := ix.Causes(t.Context(), office, "")
		drifts, err2 := ix.Drifts(t.Context(), office, "")
		tallies, err3 := ix.Tallies(t.Context(), office, "west")
		odd, err4 := ix.Contradictions(t.Context(), office, "west")
		if n := len(causes) + len(drifts) + len(tallies) + len(odd); n > 0 || !slices.Equal([]error{err1, err2, err3, err4}, make([]error, 4)) {
			t.Errorf("another office is told %d things, %v %v %v %v", n, err1, err2, err3, err4)
		}
	}
}
