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

func TestOfOneOffice(t *testing.T) { onBoth(t, testOfOneOffice) }

// What belongs to another office is in no list of an office, and all of it is
// in the lists of all.
func testOfOneOffice(t *testing.T) {
	ctx := context.Background()
	ix := open(t, fresh(t))
	counties := []string{"Vesper", "Quarry"}
	for i := range 6 {
		src, r := made(i, normalize.OK, 1, 1)
		r.Office = counties[i%2]
		r.Records[0].Sample.County, r.Records[0].Sample.LabID = counties[i%2], "S-7"
		add(t, ix, 1, r)
		n := archive.Arrival{Name: r.Source.Name, Channel: "folder", Office: r.Office, Time: noon.AddDate(0, 0, -i), SHA256: archive.RefOf(src).SHA256(), Size: int64(len(src)), Outcome: "ok", Report: r.ID}
		if err := ix.AddArrival(ctx, fmt.Sprintf("arrivals/%d", i), n); err != nil {
			t.Fatal(err)
		}
		if office, known, err := ix.OfficeOf(ctx, r.ID); err != nil || !known || office != r.Office {
			t.Errorf("%s belongs to %q %v %v", r.ID, office, known, err)
		}
	}
	if office, known, err := ix.OfficeOf(ctx, "R0000000000000000"); err != nil || known || office != "" {
		t.Errorf("a report that is not there belongs to %q %v %v", office, known, err)
	}
	for office, want := range map[string]int{"": 6, "Vesper": 3, "Quarry": 3, "Finch": 0, "vesper": 0} {
		came, err := ix.Came(ctx, "2026-01-01", office)
		files := 0
		for _, c := range came {
			files += c.Files
		}
		last, err2 := ix.Latest(ctx, 10, office)
		labs, err3 := ix.LabCounts(ctx, office)
		reports := 0
		for _, l := range labs {
			reports += l.Reports
		}
		found, err4 := ix.Find(ctx, "S-7", office)
		list, err5 := ix.Search(ctx, index.Search{Filter: index.Filter{Office: office}, Text: "S-7"})
		if err != nil || err2 != nil || err3 != nil || err4 != nil || err5 != nil || files != want || len(last) != want || reports != want || len(found) != want || len(list) != want {
			t.Errorf("%q: %d came, %d last, %d of laboratories, %d found, %d listed, want %d (%v %v %v %v %v)", office, files, len(last), reports, len(found), len(list), want, err, err2, err3, err4, err5)
		}
		towns, err := ix.Counties(ctx, office)
		var wantTowns []string
		switch {
		case office == "":
			wantTowns = []string{"Quarry", "Vesper"}
		case want > 0:
			wantTowns = []string{office}
		}
		if err != nil || !slices.Equal(towns, wantTowns) {
			t.Errorf("%q: counties %v %v", office, towns, err)
		}
	}
}
