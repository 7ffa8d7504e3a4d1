package index_test

import (
	"fmt"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
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
