package normalize

import (
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

func correctedReport(p string) *Report {
	r := ofDay("1", "NF702", "Ada Thorn", "Hill", "2026-03-04", p, false)
	r.Reasons = append([]*ingest.Reason{{Code: "corrects-earlier", Severity: ingest.Hold, What: "this says that it corrects report NF701"}}, r.Reasons...)
	settle(r)
	return r
}

func ruled(r *Report, d Decision) *Ruling {
	return &Ruling{Schema: RulingSchema, Report: r.ID, Decision: d, By: "Ilse Marrow", On: time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC), Because: "told by telephone", Basis: BasisOf(r), Settles: []string{"corrects-earlier"}}
}

// A ruling releases what it was about and nothing else: not another number, not
// another reason, not another report, and not a number that can't be read.
func TestARulingReleasesWhatItWasAbout(t *testing.T) {
	count := ruled(correctedReport("87"), Count)
	for _, c := range []struct {
		name   string
		ruling *Ruling
		report func() *Report
		status Status
		code   string // of the last reason
	}{
		{"as it was", count, func() *Report { return correctedReport("87") }, Flagged, CountsCode},
		{"no ruling", nil, func() *Report { return correctedReport("87") }, Held, "corrects-earlier"},
		{"withdrawn", ruled(correctedReport("87"), Withdrawn), func() *Report { return correctedReport("87") }, Held, "corrects-earlier"},
		{"another number", count, func() *Report { return correctedReport("88") }, Held, unappliedRul},
		{"a further reason", count, func() *Report {
			r := correctedReport("87")
			r.Reasons = append(r.Reasons, &ingest.Reason{Code: "number-unaccounted", Severity: ingest.Hold, What: "31"})
			return r
		}, Held, unappliedRul},
		{"a reason of the same code that says something else", count, func() *Report {
			r := correctedReport("87")
			r.Reasons[0] = &ingest.Reason{Code: "corrects-earlier", Severity: ingest.Hold, What: "this says that it corrects report NF600"}
			return r
		}, Held, unappliedRul},
		{"waits for the rest of its mail", count, func() *Report {
			r := correctedReport("87")
			r.Reasons = append(r.Reasons, &ingest.Reason{Code: "waits-for-the-rest", Severity: ingest.Hold, What: "waits"})
			return r
		}, Held, CountsCode},
		{"another report", count, func() *Report { return ofDay("2", "NF702", "Ada Thorn", "Hill", "2026-03-04", "87", true) }, Held, "layout-changed"},
		{"set aside", ruled(correctedReport("87"), Aside), func() *Report { return ofDay("1", "NF702", "Ada Thorn", "Hill", "2026-03-04", "60", false) }, Held, AsideCode},
	} {
		r := c.report()
		var first *ingest.Reason
		if len(r.Reasons) > 0 {
			first = r.Reasons[0]
		}
		c.ruling.Apply(r)
		if last := r.Reasons[len(r.Reasons)-1]; r.Status != c.status || last.Code != c.code || (r.Records[0].Status == Held) != (c.status == Held) {
			t.Errorf("%s: %s, %v; want %s, %s", c.name, r.Status, r.Reasons, c.status, c.code)
		}
		if first != nil && first.Severity != ingest.Hold {
			t.Errorf("%s: the reason that was given is changed", c.name)
		}
		if b, err := r.JSON(); err != nil || Validate(b) != nil {
			t.Errorf("%s: %v %v", c.name, err, Validate(b))
		}
	}
	// One that counts is not held by another of its day, and holds that one.
	r, o := correctedReport("87"), ofDay("2", "NF702", "", "", "2026-03-04", "60", false)
	count.Apply(r)
	if SetAgainst(r, []*Report{o}) || r.Status != Flagged {
		t.Errorf("what counts is held by another: %v", r.Reasons)
	}
	if !SetAgainst(o, []*Report{r}) {
		t.Error("what counts does not hold another")
	}
	// Nor does one that is set aside.
	ruled(r, Aside).Apply(r)
	if SetAgainst(o, []*Report{r}) || o.Status != OK {
		t.Errorf("what is set aside holds another: %v", o.Reasons)
	}
	for _, code := range []string{"number-unaccounted", "layout-changed", "scan", "lab-unknown", "unit-differs", "damaged", "locked", "waits-for-the-rest"} {
		if Releasable(code) {
			t.Errorf("%s can be decided away", code)
		}
	}
}

// A ruling goes into the archive and comes back; one that is not whole is
// refused.
func TestRulingsAreWhole(t *testing.T) {
	b, err := ruled(correctedReport("87"), Count).JSON()
	if err != nil {
		t.Fatal(err)
	}
	if r, err := ParseRuling(b); err != nil || r.By != "Ilse Marrow" || r.Decision != Count {
		t.Errorf("%v, %v", r, err)
	}
	for _, c := range []struct{ old, now, want string }{
		{`"windrow-ruling/1"`, `"windrow-ruling/2"`, "its form is"},
		{`"count"`, `"perhaps"`, `"perhaps" is no decision`},
		{`"Ilse Marrow"`, `" "`, "by whom"},
		{`"told by telephone"`, `""`, "why"},
		{`"basis": "`, `"basis": "", "x": "`, "unknown field"},
		{`"by"`, `"of"`, "unknown field"},
	} {
		if _, err := ParseRuling([]byte(strings.Replace(string(b), c.old, c.now, 1))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s for %s: %v", c.now, c.old, err)
		}
	}
}
