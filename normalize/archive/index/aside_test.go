package index_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// What a person decided not to use is held and waits for nobody: it is in no
// queue and in no count of what waits, and the list can say so.
func TestSetAside(t *testing.T) { onBoth(t, testSetAside) }

func testSetAside(t *testing.T) {
	ix := open(t, fresh(t))
	_, waits := made(0, normalize.Held, 1, 1)
	_, aside := made(3, normalize.Held, 1, 1) // of the same laboratory
	aside.Reasons = append(aside.Reasons, &ingest.Reason{Code: normalize.AsideCode, Severity: ingest.Hold, What: "somebody decided"})
	_, used := made(6, normalize.OK, 1, 1)
	for _, r := range []*normalize.Report{waits, aside, used} {
		add(t, ix, 1, r)
	}
	if waits.Lab.ID != aside.Lab.ID {
		t.Fatal("the reports are to be of one laboratory")
	}
	queue, err := ix.Queue(t.Context())
	if err != nil || len(queue) != 1 || queue[0].ID != waits.ID {
		t.Errorf("the queue is %+v %v, want %s alone", queue, err, waits.ID)
	}
	labs, err := ix.LabCounts(t.Context(), "")
	if err != nil || len(labs) != 1 || labs[0].Held != 1 || labs[0].Reports != 3 {
		t.Errorf("counted %+v %v, want one that waits of three", labs, err)
	}
	got, err := ix.SetAside(t.Context(), []string{waits.ID, aside.ID, used.ID})
	if err != nil || len(got) != 1 || !got[aside.ID] {
		t.Errorf("set aside: %v %v, want %s", got, err, aside.ID)
	}
	if got, err := ix.SetAside(t.Context(), nil); err != nil || len(got) != 0 {
		t.Errorf("of none: %v %v", got, err)
	}
	for status, want := range map[string]string{index.Waiting: waits.ID, index.Aside: aside.ID, "ok": used.ID} {
		list, err := ix.Reports(t.Context(), index.Filter{Status: status})
		if err != nil || len(list) != 1 || list[0].ID != want {
			t.Errorf("%s: %+v %v, want %s", status, list, err, want)
		}
	}
}

// A file tells what reports it holds as they stand now, however many came of it.
func TestHolding(t *testing.T) { onBoth(t, testHolding) }

func testHolding(t *testing.T) {
	ix := open(t, fresh(t))
	_, one := made(0, normalize.OK, 1, 1)
	add(t, ix, 1, one)
	files := []string{one.Source.SHA256, "none"}
	for i := 1; i < 4; i++ { // three of one file
		_, r := made(i, normalize.OK, 1, 1)
		if i == 1 {
			files = append(files, r.Source.SHA256)
		}
		r.Source.SHA256, r.Source.Member = files[2], fmt.Sprint(i)
		add(t, ix, 1, r)
	}
	got, err := ix.Holding(t.Context(), files, 2, "Finch")
	if err != nil {
		t.Fatal(err)
	}
	if a, b := got[files[0]], got[files[2]]; len(got) != 2 || a.All != 1 || len(a.First) != 1 || a.First[0].ID != one.ID || b.All != 3 || len(b.First) != 2 {
		t.Errorf("they hold %+v", got)
	}
	if got, err := ix.Holding(t.Context(), files, 2, "Wren"); err != nil || len(got) != 0 {
		t.Errorf("another office is told %v %v", got, err)
	}
}

// Of a mail it is told which reports came within it, unless another mail has the
// same name: then nobody knows which of the two.
func TestWithin(t *testing.T) { onBoth(t, testWithin) }

func testWithin(t *testing.T) {
	ix := open(t, fresh(t))
	var files, ids []string
	for i, name := range []string{"once.eml", "twice.eml", "twice.eml", "alone.pdf"} {
		b := []byte(name + fmt.Sprint(i))
		n := archive.Arrival{Name: name, Channel: "folder", Time: time.Date(2026, 5, 20, 12, 0, i, 0, time.UTC), SHA256: archive.RefOf(b).SHA256(), Size: int64(len(b)), Outcome: "ok"}
		if err := ix.AddArrival(t.Context(), fmt.Sprintf("arrivals/%d", i), n); err != nil {
			t.Fatal(err)
		}
		files = append(files, n.SHA256)
		_, r := made(i, normalize.OK, 1, 1)
		if r.Source.Name = name; i < 3 {
			r.Source.Member = "report.pdf"
		}
		add(t, ix, 1, r)
		ids = append(ids, r.ID)
	}
	got, err := ix.Within(t.Context(), append(files, "none"))
	if err != nil || len(got) != 1 || !slices.Equal(got[files[0]], ids[:1]) {
		t.Errorf("within the files came %v, %v", got, err)
	}
	if got, err := ix.Within(t.Context(), []string{"none"}); err != nil || len(got) != 0 {
		t.Errorf("within a file that never came: %v, %v", got, err)
	}
	for office, want := range map[string]int{"": 2, "Finch": 2, "Wren": 0} {
		if got, err := ix.ReportsOf(t.Context(), []string{ids[0], ids[2], "R0"}, office); err != nil || len(got) != want || want > 0 && got[ids[2]].Member != "report.pdf" {
			t.Errorf("to %q: %v, %v", office, got, err)
		}
	}
}

// A report in a mail waits since the mail came, and has its place by that.
func TestAReportInAMailWaitsSinceTheMailCame(t *testing.T) {
	ctx := context.Background()
	ix := open(t, fresh(t))
	noon := time.Date(2026, 5, 20, 12, 0, 0, 0, time.UTC)
	arrives := func(i int, name string, src []byte, days int) {
		t.Helper()
		n := archive.Arrival{Name: name, Channel: "folder", Time: noon.AddDate(0, 0, -days), SHA256: archive.RefOf(src).SHA256(), Size: int64(len(src)), Outcome: "held"}
		if err := ix.AddArrival(ctx, fmt.Sprintf("arrivals/%d", i), n); err != nil {
			t.Fatal(err)
		}
	}
	var want []string
	for i, days := range []int{3, 2, 1} {
		src, r := made(i, normalize.Held, 1, 1)
		name := r.Source.Name
		if days == 2 { // its own bytes never came by themselves
			name, src = "reports.eml", []byte("a mail")
			r.Source.Name, r.Source.Member = name, "first.pdf"
		}
		add(t, ix, 1, r)
		arrives(i, name, src, days)
		want = append(want, r.ID+" "+noon.AddDate(0, 0, -days).Format(time.RFC3339))
	}
	queue, err := ix.Queue(ctx)
	var got []string
	for _, q := range queue {
		got = append(got, q.ID+" "+q.Since)
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("the queue is %q (%v), want %q", got, err, want)
	}
}
