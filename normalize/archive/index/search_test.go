package index_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// add takes reports into an index.
func add(t *testing.T, ix *index.Index, version int, reps ...*normalize.Report) {
	t.Helper()
	for _, r := range reps {
		if err := ix.AddReport(context.Background(), r.ID, version, encode(t, r)); err != nil {
			t.Fatal(err)
		}
	}
}

func TestSearchFindsWhatAPersonTypes(t *testing.T) {
	ctx := context.Background()
	ix := open(t, t.TempDir()+"/index.sqlite")
	_, a := made(1, normalize.OK, 2, 1)
	_, b := made(2, normalize.Held, 1, 1)
	a.Number, a.Records[0].Sample.LabID, a.Records[1].Client.Name = "TG-26-01402", "S 77/3", "José Núñez-Ortega"
	a.Records[1].Sample.County = "Vesper"
	b.Lab.Name, b.Records[0].Sample.ClientLabel = "Oxbow & Tansy", "kitchen garden"
	add(t, ix, 1, a, b)
	for _, x := range []struct {
		s    index.Search
		want []*normalize.Report
	}{
		{index.Search{}, []*normalize.Report{b, a}},
		{index.Search{Text: "TG-26-01402"}, []*normalize.Report{a}},
		{index.Search{Text: "tg2601402"}, []*normalize.Report{a}},
		{index.Search{Text: "01402"}, []*normalize.Report{a}},
		{index.Search{Text: "1402"}, nil}, // the middle of a number is no beginning of it
		{index.Search{Text: "77/3"}, []*normalize.Report{a}},
		{index.Search{Text: "nunez jose"}, []*normalize.Report{a}},
		{index.Search{Text: "NÚÑEZ"}, []*normalize.Report{a}},
		{index.Search{Text: "núñez-ortega"}, []*normalize.Report{a}},
		{index.Search{Text: "nune"}, nil}, // a name is found by whole words: the index does not hold it
		{index.Search{Text: "ada kitchen"}, []*normalize.Report{b}},
		{index.Search{Text: "ada oxb"}, []*normalize.Report{b}},
		{index.Search{Text: "ada vesper"}, []*normalize.Report{a}}, // each word may be of another sample
		{index.Search{Text: "ada nowhere"}, nil},
		{index.Search{Text: "--"}, nil},
		{index.Search{Text: "%"}, nil},
		{index.Search{Text: "' UNION SELECT --"}, nil},
		{index.Search{Text: b.ID}, []*normalize.Report{b}},
		{index.Search{County: "Vesper"}, []*normalize.Report{a}},
		{index.Search{County: "vesp"}, nil},
		{index.Search{County: "Finch", Filter: index.Filter{Status: "held"}}, []*normalize.Report{b}},
		{index.Search{Text: "ada", Filter: index.Filter{From: "2026-03-01", To: "2026-03-31"}}, []*normalize.Report{b}},
		{index.Search{Text: "ada", Filter: index.Filter{Limit: 1, Offset: 1}}, []*normalize.Report{a}},
	} {
		got, err := ix.Search(ctx, x.s)
		if err != nil {
			t.Fatal(err)
		}
		var ids, want []string
		for _, r := range got {
			ids = append(ids, r.ID)
		}
		for _, r := range x.want {
			want = append(want, r.ID)
		}
		if !slices.Equal(ids, want) {
			t.Errorf("%+v: got %v, want %v", x.s, ids, want)
		}
	}
	// A client who is in a later version no more can't be found by the earlier.
	a.Records[1].Client = nil
	add(t, ix, 2, a)
	if got, err := ix.Search(ctx, index.Search{Text: "nunez"}); err != nil || len(got) != 0 {
		t.Errorf("found by a client of an earlier version: %v %v", got, err)
	}
	if got, err := ix.Counties(ctx, ""); err != nil || !slices.Equal(got, []string{"Finch", "Vesper"}) {
		t.Errorf("counties %v %v", got, err)
	}
}

func TestDeskCounts(t *testing.T) {
	ctx := context.Background()
	ix := open(t, t.TempDir()+"/index.sqlite")
	var held []*normalize.Report
	for i := range 6 {
		status := normalize.OK
		if i%2 == 1 {
			status = normalize.Held
		}
		src, r := made(i, status, 1, 1)
		add(t, ix, 1, r)
		n := archive.Arrival{Name: r.Source.Name, Channel: "folder", Time: noon.AddDate(0, 0, -i), SHA256: archive.RefOf(src).SHA256(), Size: int64(len(src)), Outcome: string(status), Report: r.ID}
		if err := ix.AddArrival(ctx, fmt.Sprintf("arrivals/%d", i), n); err != nil {
			t.Fatal(err)
		}
		if status == normalize.Held {
			held = append([]*normalize.Report{r}, held...)
		}
	}
	came, err := ix.Came(ctx, "2026-11-23", "")
	if want := []index.Came{{"2026-11-25", "ok", 1}, {"2026-11-24", "held", 1}, {"2026-11-23", "ok", 1}}; err != nil || !slices.Equal(came, want) {
		t.Errorf("came %v %v, want %v", came, err, want)
	}
	queue, err := ix.Queue(ctx)
	if err != nil || len(queue) != len(held) {
		t.Fatalf("queue %v %v", queue, err)
	}
	for i, q := range queue { // the one that waits longest first
		if q.ID != held[i].ID || q.Layout != "table" || len(q.Reasons) != 1 || q.Since == "" {
			t.Errorf("place %d: %+v, want %s", i, q, held[i].ID)
		}
	}
	last, err := ix.Latest(ctx, 2, "")
	if err != nil || len(last) != 2 || last[0].At != "2026-11-25T12:00:00Z" || last[1].Outcome != "held" {
		t.Errorf("latest %v %v", last, err)
	}
	labs, err := ix.LabCounts(ctx, "")
	if want := (index.LabCount{Lab: "lab-0", Name: "Lab", Reports: 2, Held: 1, Records: 2, Read: 1, Last: "2026-04-10"}); err != nil || len(labs) != 3 || labs[0] != want {
		t.Errorf("laboratories %v %v, want first %v", labs, err, want)
	}
}
