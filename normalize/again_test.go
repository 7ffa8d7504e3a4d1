package normalize

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// ofDay is a report of one sample with three results, of which the phosphorus
// is given as printed.
func ofDay(source, number, client, label, reported, p string, hold bool) *Report {
	s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}}
	for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: "NF-1", mappings.ReportNo: number, mappings.ClientName: client, mappings.ClientSampleID: label, mappings.DateReported: reported} {
		if v != "" {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
	}
	add := func(a, text string) {
		u := "mg/kg"
		if a == "pH" {
			u = "pH"
		}
		r := mappings.Reading{Analyte: a, Unit: u, Printed: text, Number: strings.TrimLeft(text, "<>")}
		if r.Number != text {
			r.Censor = text[:1]
		}
		s.Readings = append(s.Readings, r)
	}
	add("pH", "6.4")
	add("P", p)
	add("K", "295")
	ex := &mappings.Extract{Source: ingest.SourceRef{Name: source + ".csv", SHA256: strings.Repeat(source, 64)}, Mapping: mappings.Ref{ID: "ninefold", Lab: "Ninefold"}, Samples: []*mappings.SampleExtract{s}}
	if hold {
		ex.Reasons = []*ingest.Reason{{Code: "layout-changed", Severity: ingest.Hold, What: "held"}}
	}
	return Build(ex, Options{})
}

// again is a report set against others, and what was found, from bytes that
// went through the archive's form first.
func setAgain(t *testing.T, r *Report, others ...*Report) string {
	t.Helper()
	b, err := r.JSON()
	if err != nil {
		t.Fatal(err)
	}
	var c Report
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	SetAgainst(&c, others)
	if b, err = c.JSON(); err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func small(r *Report) *Report {
	for _, rec := range r.Records {
		rec.Sample.LabID = strings.ToLower(rec.Sample.LabID)
	}
	return r
}

func deep(r *Report, in string) *Report {
	for _, rec := range r.Records {
		rec.Sample.DepthIn, rec.Sample.DepthText = Decimal(in), in+" in"
	}
	return r
}

func below(r *Report, top, in string) *Report {
	for _, rec := range deep(r, in).Records {
		rec.Sample.DepthTopIn = Decimal(top)
	}
	return r
}

// Two reports of one day that say different things of a sample hold each
// other, seen from either side; those that may be of two samples, or say the
// same within the rounding of a page, do not. Common practice, no source.
func TestReportsOfOneDay(t *testing.T) {
	const day = "2026-03-04"
	a := func() *Report { return deep(ofDay("1", "NF702", "Ada Thorn", "Hill", day, "87", false), "6") }
	for _, c := range []struct {
		name  string
		other *Report
		holds bool
	}{
		{"same report number", ofDay("2", "NF702", "", "", day, "78", false), true},
		{"same client", ofDay("2", "NF703", "Ada Thorn", "Moor", day, "78", false), true},
		{"same label, no client", ofDay("2", "NF703", "", "Hill", day, "78", false), true},
		{"a limit that the number is beyond", ofDay("2", "NF702", "", "", day, "<50", false), true},
		{"a limit that the number is within", ofDay("2", "NF702", "", "", day, "<90", false), false},
		{"a limit at the number", ofDay("2", "NF702", "", "", day, "<87", false), true},
		{"a limit the other way, at the number", ofDay("2", "NF702", "", "", day, ">87.0", false), true},
		{"the number in small letters", small(ofDay("2", "NF702", "", "", day, "78", false)), true},
		{"the same in small letters", small(ofDay("2", "NF702", "", "", day, "87", false)), false},
		{"another depth", deep(ofDay("2", "NF702", "", "", day, "87", false), "12"), true},
		{"a layer below", below(ofDay("2", "NF702", "", "", day, "78", false), "6", "24"), false},
		{"a layer that overlaps", below(ofDay("2", "NF702", "", "", day, "87", false), "3", "24"), true},
		{"the same depth", deep(ofDay("2", "NF702", "", "", day, "87", false), "6"), false},
		{"the same for another client", ofDay("2", "NF702", "Ben Moss", "Hill", day, "87", false), true},
		{"the client in capitals", ofDay("2", "NF702", "ADA  Thorn.", "Hill", day, "87", false), false},
		{"the same", ofDay("2", "NF702", "Ada Thorn", "Hill", day, "87", false), false},
		{"rounded otherwise", ofDay("2", "NF702", "Ada Thorn", "Hill", day, "87.4", false), false},
		{"another client", ofDay("2", "NF703", "Ben Moss", "Hill", day, "78", false), false},
		{"nothing else in common", ofDay("2", "NF703", "", "Moor", day, "78", false), false},
		{"another day", ofDay("2", "NF702", "Ada Thorn", "Hill", "2026-03-05", "78", false), false},
		{"no day in one", ofDay("2", "NF702", "Ada Thorn", "Hill", "", "78", false), false},
		{"held by itself", ofDay("2", "NF702", "Ada Thorn", "Hill", day, "78", true), false},
		{"itself", a(), false},
	} {
		x, y := a(), c.other
		if got := SetAgainst(x, []*Report{y}); got != c.holds {
			t.Errorf("%s: the first is held: %v, want %v", c.name, got, c.holds)
		}
		was := y.Status
		if got := SetAgainst(y, []*Report{a()}); got != c.holds {
			t.Errorf("%s: the second is held: %v, want %v", c.name, got, c.holds)
		}
		if c.holds != (x.Status == Held) || !c.holds && y.Status != was {
			t.Errorf("%s: status %s and %s", c.name, x.Status, y.Status)
		}
	}
	x := a()
	SetAgainst(x, []*Report{ofDay("2", "NF702", "", "", day, "78", false)})
	const want = `1.csv: held [sample-number-again] the laboratory number NF-1 stands with other results in report NF702 (2.csv), of the same day, and nothing says which of them counts
    expected  one report of a sample, or a later one that says that it is a correction
    found     P 87 here, P 78 there
    next      ask the laboratory which of the reports counts, and then say so, of this one with windrow ruling ID --count --by NAME --because WORDS; until then nothing of any of them is used, and letters that were written for one are put aside`
	if got := strings.Replace(x.Reasons[len(x.Reasons)-1].Error(), x.ID, "ID", 1); got != want {
		t.Errorf("it says\n%s\nwant\n%s", got, want)
	}
	if n := len(x.Records[0].Checks); x.Records[0].Checks[n-1].Check != AgainCode || x.Records[0].Status != Held {
		t.Errorf("the record: %s, %v", x.Records[0].Status, x.Records[0].Checks)
	}
}

// Of any number of reports, in whatever order they come, marked already or
// not, each ends as the set of all of them has it; and without the others it
// is as it was.
func TestReportsOfOneDayInAnyOrder(t *testing.T) {
	p := []string{"87", "78", "87", "60", "50", "40"} // the first and third say the same
	var fresh []*Report
	for i, v := range p {
		fresh = append(fresh, ofDay(string(rune('1'+i)), "NF702", "", "", "2026-03-04", v, false))
	}
	want := make([]string, len(p))
	for i, r := range fresh {
		want[i] = setAgain(t, r, fresh...)
		if !strings.Contains(want[i], `"status": "held"`) {
			t.Fatalf("report %d is not held", i)
		}
	}
	if n := strings.Count(want[0], "and others"); n < 1 || strings.Contains(want[0], "(3.csv)") {
		t.Errorf("of many, a few are named, and none that says the same: %s", want[0])
	}
	for turn := range p {
		marked := make([]*Report, len(p))
		var archive []*Report
		for k := range p { // they come one by one, the first of them another each time
			i := (k*5 + turn) % len(p)
			r := ofDay(string(rune('1'+i)), "NF702", "", "", "2026-03-04", p[i], false)
			SetAgainst(r, archive)
			archive = append(archive, r)
			for _, o := range archive {
				SetAgainst(o, archive)
			}
			marked[i] = r
		}
		slices.Reverse(archive)
		for i, r := range marked {
			if got := setAgain(t, r, archive...); got != want[i] {
				t.Errorf("turn %d: report %d is otherwise in this order:\n%s\nwant\n%s", turn, i, got, want[i])
			}
			b, err := r.JSON()
			if err != nil || string(b) != want[i] {
				t.Errorf("turn %d: report %d was otherwise before it was looked at once more, %v", turn, i, err)
			}
		}
	}
	before, err := fresh[3].JSON()
	if err != nil {
		t.Fatal(err)
	}
	r := ofDay("4", "NF702", "", "", "2026-03-04", "60", false)
	SetAgainst(r, fresh)
	if got := setAgain(t, r); got != string(before) || !SetApart(r) {
		t.Errorf("without the others it is\n%s\nwant\n%s", got, before)
	}
}

// The truth files as the archive of one office: none contradicts another of
// its day.
func TestTruthHasNoOtherOfItsDay(t *testing.T) {
	var reps []*Report
	for _, f := range truths(t) {
		ex := f.extract(t)
		ex.Mapping.ID = f.Lab
		ex.Source.Member = f.path
		reps = append(reps, Build(ex, Options{}))
	}
	for _, r := range reps {
		if SetAgainst(r, reps) {
			t.Errorf("%s: %s", r.Source.Member, r.Reasons[len(r.Reasons)-1].Error())
		}
	}
	if len(reps) < 20 {
		t.Errorf("only %d reports", len(reps))
	}
}
