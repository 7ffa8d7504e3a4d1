package register

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/windrow/normalize"
)

// The worked example of the nearest-rank method in encyclopedias, from memory:
// of 15, 20, 35, 40, 50 the 30th percentile is 20, the 40th 20, the 50th 35
// and the 100th 50; of 3, 6, 7, 8, 8, 10, 13, 15, 16, 20 the 25th is 7, the
// 50th 8, the 75th 15 and the 100th 20.
func TestRank(t *testing.T) {
	for _, c := range []struct {
		list []int
		want map[int]int
	}{
		{[]int{15, 20, 35, 40, 50}, map[int]int{30: 20, 40: 20, 50: 35, 100: 50, 5: 15}},
		{[]int{3, 6, 7, 8, 8, 10, 13, 15, 16, 20}, map[int]int{25: 7, 50: 8, 75: 15, 90: 16, 100: 20}},
		{[]int{4}, map[int]int{50: 4, 90: 4}},
		{nil, map[int]int{50: 0}},
	} {
		for p, want := range c.want {
			if got := rank(c.list, p); got != want {
				t.Errorf("percentile %d of %v: %d, want %d", p, c.list, got, want)
			}
		}
	}
	// What nearest rank means: within the 90th percentile came nine of ten, and
	// within any less did not.
	rng := rand.New(rand.NewPCG(5, 5))
	for range 200 {
		list := make([]int, 1+rng.IntN(40))
		for i := range list {
			list[i] = rng.IntN(30)
		}
		slices.Sort(list)
		within := func(n int) (k int) {
			for _, x := range list {
				if x <= n {
					k++
				}
			}
			return k
		}
		if p := rank(list, 90); within(p)*10 < len(list)*9 || within(p-1)*10 >= len(list)*9 {
			t.Errorf("%v: %d", list, p)
		}
	}
}

func TestUsualTimes(t *testing.T) {
	verrin := normalize.Lab{ID: "verrin", Name: "Verrin Analytical"}
	var spans []Span
	for i := range 10 { // in April 5 to 14 days
		spans = append(spans, Span{verrin, "2025-04-01", fmt.Sprintf("2025-04-%02d", 6+i), 1})
	}
	spans = append(spans,
		Span{verrin, "2024-07-01", "2024-07-21", 2},                            // in July 20 days, but only two reports
		Span{thrushgate, "2026-03-01", "2026-03-08", 3},                        // too few at all
		Span{verrin, "2026-04-10", "2026-04-01", 9},                            // before it began: a slip
		Span{verrin, "2024-04-10", "2026-04-11", 9},                            // years: a slip
		Span{normalize.Lab{ID: "x", Name: "Twin One"}, "2026-04-01", "x", 900}, // no date
	)
	u := UsualTimes(spans)
	for _, c := range []struct {
		said, sent string
		want       string
	}{
		{"Verrin", "2026-04-20", "10 reports in month 4: 9, 13"},
		{"Verrin Analytical", "2026-07-20", "12 reports in month 0: 10, 20"},
		{"verrin", "", "12 reports in month 0: 10, 20"},
		{"Thrushgate", "2026-03-03", ""}, {"Nobody", "2026-04-01", ""}, {"", "2026-04-01", ""}, {"V", "2026-04-01", ""},
	} {
		got := ""
		if x := u.For(c.said, c.sent); x != nil {
			got = fmt.Sprintf("%d reports in month %d: %d, %d", x.Reports, x.Month, x.Median, x.P90)
		}
		if got != c.want {
			t.Errorf("%s sent %s: %q, want %q", c.said, c.sent, got, c.want)
		}
	}
	if l := u.List(); len(l) != 5 || l[0].Lab.ID != "thrushgate" || l[4].Month != 7 {
		t.Errorf("%+v", l)
	}
	two := UsualTimes([]Span{{normalize.Lab{ID: "a", Name: "Twin One"}, "2026-04-01", "2026-04-05", 9}, {normalize.Lab{ID: "b", Name: "Twin Two"}, "2026-04-01", "2026-04-25", 9}})
	if two.For("Twin", "2026-04-01") != nil || two.For("Twin Two", "2026-04-01") == nil {
		t.Error("a word that fits two laboratories was taken for one of them")
	}
}

func TestWaiting(t *testing.T) {
	r := read(t, `label,client,date sent,lab
slow,a,2026-04-01,Verrin
new,a,2026-04-20,Verrin
middling,a,2026-04-12,Verrin
strange,a,2026-03-01,Nobody
old,a,2026-01-01,Nobody
undated,a,,Verrin
ahead,a,2026-06-01,Verrin
came,a,2026-01-01,Verrin
`)
	spans := []Span{}
	for i := range 10 {
		spans = append(spans, Span{normalize.Lab{ID: "verrin", Name: "Verrin Analytical"}, "2025-04-01", fmt.Sprintf("2025-04-%02d", 6+i), 1})
	}
	got := ""
	for _, w := range r.Waiting("2026-04-22", func(x *Row) bool { return x.Label == "came" }, UsualTimes(spans), 60) {
		days := "-"
		if w.Days != nil {
			days = fmt.Sprint(*w.Days)
		}
		got += fmt.Sprintf("%s %s %v; ", w.Row.Label, days, w.Overdue)
	}
	if want := "old 111 true; strange 52 false; slow 21 true; middling 10 false; new 2 false; ahead -40 false; undated - false; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if r.From() != "" {
		t.Error("From")
	}
	if from := read(t, "label,client,date sent\na,b,2026-03-02\nc,d,2026-02-03\n").From(); from != "2026-02-03" {
		t.Errorf("From: %s", from)
	}
}
