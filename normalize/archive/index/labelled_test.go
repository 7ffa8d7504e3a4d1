//go:build unix

package index_test

import (
	"fmt"
	"slices"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// Samples that a register may be about: those with a label of the client that
// were reported on a day or later, or nobody knows when; and how long
// laboratories had the samples of a report, each pair of days once.
func TestLabelledAndSpans(t *testing.T) { onBoth(t, labelledAndSpans) }

func labelledAndSpans(t *testing.T) {
	ix := open(t, fresh(t))
	for n, days := range [][][2]string{ // of each sample: received, reported
		{{"2026-03-02", "2026-03-20"}, {"2026-03-02", "2026-03-20"}, {"2026-03-04", "2026-03-20"}},
		{{"2026-04-01", "2026-04-21"}, {"", "2026-04-21"}, {"2026-04-01", ""}},
		{{"2026-05-01", "2026-05-21"}, {"2026-05-01", "2026-05-21"}, {"2026-05-01", "2026-05-21"}},
	} {
		status := normalize.OK
		if n == 2 {
			status = normalize.Held
		}
		_, r := made(n, status, 3, 1)
		r.Lab.ID, r.Lab.Name = "l", "L"
		for i, rec := range r.Records {
			rec.Sample.ClientLabel = fmt.Sprintf("%d%c", n, 'a'+i)
			rec.Sample.Received, rec.Sample.Reported = days[i][0], days[i][1]
		}
		r.Records[0].Sample.ClientLabel = []string{"0a", "1a", ""}[n]
		if err := ix.AddReport(t.Context(), r.ID, 1, encode(t, r)); err != nil {
			t.Fatal(err)
		}
	}
	for from, want := range map[string][]string{
		"":           {"0a", "0b", "0c", "1a", "1b", "1c", "2b", "2c"},
		"2026-03-21": {"1a", "1b", "1c", "2b", "2c"},
		"2026-04-21": {"1a", "1b", "1c", "2b", "2c"},
		"2026-05-22": {"1c"},
	} {
		var got []string
		err := ix.Labelled(t.Context(), from, func(l index.Labelled) { got = append(got, l.ClientLabel) })
		if slices.Sort(got); err != nil || !slices.Equal(got, want) {
			t.Errorf("from %q: %v, %v; want %v", from, got, err, want)
		}
	}
	spans, err := ix.Spans(t.Context())
	want := []index.Span{{Lab: "l", LabName: "L", Received: "2026-03-02", Reported: "2026-03-20", Reports: 1}, {Lab: "l", LabName: "L", Received: "2026-03-04", Reported: "2026-03-20", Reports: 1}, {Lab: "l", LabName: "L", Received: "2026-04-01", Reported: "2026-04-21", Reports: 1}}
	if err != nil || !slices.Equal(spans, want) {
		t.Errorf("spans %v, %v; want %v", spans, err, want)
	}
}
