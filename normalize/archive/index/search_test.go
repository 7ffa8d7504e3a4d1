package index_test

import (
	"cmp"
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

// However a search goes about it, it finds the same: what few fit and what many
// fit, what ends within the walk and what goes on behind it, on both engines.
func TestWaysOfSearching(t *testing.T) {
	onBoth(t, func(t *testing.T) {
		ctx := context.Background()
		ix := open(t, fresh(t))
		surnames := []string{"Threnody", "Castellan", "Wainscot"}
		type fact struct {
			day, id, county, name, status string
		}
		var all []fact
		for i := range 60 {
			status := normalize.OK
			if i%5 == 2 {
				status = normalize.Held
			}
			_, r := made(i, status, 2, 1)
			day := noon.AddDate(0, 0, -i/4).Format("2006-01-02") // four on a day
			if i >= 56 {
				day = "" // four on none
			}
			county, name := []string{"Finch", "Wren"}[i%2], surnames[i%3]
			for _, rec := range r.Records {
				rec.Sample.County, rec.Sample.Reported, rec.Sample.Received, rec.Sample.Sampled, rec.Client.Name = county, day, "", "", "Ada "+name
			}
			add(t, ix, 1, r)
			all = append(all, fact{day, r.ID, county, name, string(status)})
		}
		slices.SortFunc(all, func(x, y fact) int { return cmp.Or(cmp.Compare(y.day, x.day), cmp.Compare(x.id, y.id)) })
		for _, x := range []struct {
			text, county, status string
			fits                 func(fact) bool
		}{
			{"ada", "", "", func(fact) bool { return true }},
			{"wainscot", "", "", func(f fact) bool { return f.name == "Wainscot" }},
			{"ada castellan", "Wren", "", func(f fact) bool { return f.name == "Castellan" && f.county == "Wren" }},
			{"fin threnody", "", "held", func(f fact) bool { return f.name == "Threnody" && f.county == "Finch" && f.status == "held" }},
			{"", "Finch", "ok", func(f fact) bool { return f.county == "Finch" && f.status == "ok" }},
			{"threnody castellan", "", "", func(fact) bool { return false }},
			{"wren finch", "", "", func(fact) bool { return false }},
			{"ada nobody", "Wren", "", func(fact) bool { return false }},
		} {
			for _, limit := range []int{0, 1, 7, 100} {
				for _, offset := range []int{0, 2, 30} {
					var want []string
					for _, f := range all {
						if x.fits(f) {
							want = append(want, f.id)
						}
					}
					if limit > 0 { // without it there is no turning of pages
						want = want[min(offset, len(want)):]
						want = want[:min(limit, len(want))]
					}
					for _, few := range []int{0, 12, 1000} {
						for _, walked := range []int{1, 10, 59, 1000} {
							got, err := index.SearchBy(ctx, ix, index.Search{Text: x.text, County: x.county, Filter: index.Filter{Status: x.status, Limit: limit, Offset: offset}}, few, walked)
							if err != nil {
								t.Fatal(err)
							}
							var ids []string
							for _, r := range got {
								ids = append(ids, r.ID)
							}
							if !slices.Equal(ids, want) {
								t.Fatalf("%q %s %s, %d from %d, few %d, walked %d: got %v, want %v", x.text, x.county, x.status, limit, offset, few, walked, ids, want)
							}
						}
					}
				}
			}
		}
	})
}
