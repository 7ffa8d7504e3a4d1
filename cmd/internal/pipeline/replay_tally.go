package pipeline

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/difference"
)

// mostExamples is how many examples a tally keeps of one analyte.
const mostExamples = 2

// A ReplayTally sums up a replay: by laboratory and by analyte. It keeps no
// report; its size goes with the number of analytes and of different ratios.
type ReplayTally struct {
	Reports  int                   `json:"reports"`
	Outcomes map[ReplayOutcome]int `json:"outcomes"`
	Held     int                   `json:"held"`     // reports that are held as read today
	Newly    int                   `json:"to_held"`  // of these, reports that were not
	Freed    int                   `json:"released"` // reports that were held and are not as read today
	Applied  int                   `json:"applied"`  // versions written
	Letters  int                   `json:"letters"`  // letters written anew
	Kept     int                   `json:"kept_letters"`
	Labs     []*LabTally           `json:"laboratories"` // those with a difference, in order of their ids
}

// A LabTally is what differs of one laboratory.
type LabTally struct {
	Lab      normalize.Lab    `json:"lab"`
	Reports  int              `json:"reports"` // read anew
	Differ   int              `json:"differ"`
	Held     int              `json:"held"`
	Samples  int              `json:"samples"` // that are new or gone, or of which another fact than a result differs
	Analytes []*AnalyteTally  `json:"analytes"`
	Reasons  map[string]int   `json:"reasons"` // "new CODE" or "gone CODE" -> reports
	Status   map[string]int   `json:"status"`  // "ok → held" -> reports
	Advice   map[string]int   `json:"advice"`  // what is advised otherwise -> samples
	Causes   map[string]int   `json:"causes"`  // -> differences
	Examples []*ReplayExample `json:"examples"`
}

// An AnalyteTally is what differs of one analyte of a laboratory.
type AnalyteTally struct {
	Analyte string         `json:"analyte"`
	Moved   int            `json:"moved"` // results with another value
	Other   int            `json:"other"` // with the same value and another lineage, status or printed text
	New     int            `json:"new"`
	Gone    int            `json:"gone"`
	Least   string         `json:"least,omitempty"` // ratio new by old
	Median  string         `json:"median,omitempty"`
	Most    string         `json:"most,omitempty"`
	Status  map[string]int `json:"status"`  // "ok → held" -> results
	Ratings map[string]int `json:"ratings"` // "low → medium" -> samples
	Fields  map[string]int `json:"fields"`  // field -> results

	ratios map[string]int
}

// A ReplayExample is one difference, to look at.
type ReplayExample struct {
	Report  string             `json:"report"`
	File    string             `json:"file"`
	Sample  string             `json:"sample"`
	Analyte string             `json:"analyte"`
	Old     string             `json:"old"`
	New     string             `json:"new"`
	Field   string             `json:"field,omitempty"` // of which Old and New are the contents; "" for the value
	Place   ingest.Place       `json:"place,omitzero"`
	Because []difference.Cause `json:"because"`
}

// Add takes in one report.
func (t *ReplayTally) Add(x *Replayed) {
	if t.Outcomes == nil {
		t.Outcomes = map[ReplayOutcome]int{}
	}
	t.Reports++
	t.Outcomes[x.Outcome]++
	t.Letters += len(x.Letters)
	t.Kept += len(x.Kept)
	if x.Applied > 0 {
		t.Applied++
	}
	if x.Status == normalize.Held {
		t.Held++
	}
	if d := x.Diff; d != nil && d.Old != d.New {
		if d.New == normalize.Held {
			t.Newly++
		} else if d.Old == normalize.Held {
			t.Freed++
		}
	}
	l := t.lab(x.Lab)
	l.Reports++
	if x.Status == normalize.Held {
		l.Held++
	}
	if x.Outcome != ReplayChanged && x.Outcome != ReplayNew {
		return
	}
	l.Differ++
	if d := x.Diff; d != nil {
		l.add(x, d)
	}
	for _, a := range x.Advice {
		switch a.What {
		case "rating":
			l.analyte(a.Analyte).Ratings[arrow(a.Old, a.New)]++
		default:
			l.Advice[a.What]++
		}
		if x.Diff == nil && l.Advice[a.What] <= 1 {
			l.example(&ReplayExample{Report: x.ID, File: x.Name, Sample: a.Sample, Analyte: a.Analyte, Old: a.Old, New: a.New, Field: a.What, Because: []difference.Cause{difference.Cause(a.Because)}})
		}
		if a.Because != "values" { // those are counted
			l.Causes[a.Because]++
		}
	}
}

func arrow(a, b string) string { return orNone(a) + " → " + orNone(b) }

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func (t *ReplayTally) lab(lab normalize.Lab) *LabTally {
	i, ok := slices.BinarySearchFunc(t.Labs, lab.ID, func(l *LabTally, id string) int { return cmp.Compare(l.Lab.ID, id) })
	if !ok {
		t.Labs = slices.Insert(t.Labs, i, &LabTally{Lab: lab, Reasons: map[string]int{}, Status: map[string]int{}, Advice: map[string]int{}, Causes: map[string]int{}})
	}
	return t.Labs[i]
}

func (l *LabTally) analyte(id string) *AnalyteTally {
	id, _, _ = strings.Cut(id, " ") // without the detail of a rating
	i, ok := slices.BinarySearchFunc(l.Analytes, id, func(a *AnalyteTally, id string) int { return cmp.Compare(a.Analyte, id) })
	if !ok {
		l.Analytes = slices.Insert(l.Analytes, i, &AnalyteTally{Analyte: id, Status: map[string]int{}, Ratings: map[string]int{}, Fields: map[string]int{}, ratios: map[string]int{}})
	}
	return l.Analytes[i]
}

func (l *LabTally) add(x *Replayed, d *difference.Report) {
	because := func(cs []difference.Cause) {
		for _, c := range cs {
			l.Causes[string(c)]++
		}
	}
	if d.Old != d.New {
		l.Status[arrow(string(d.Old), string(d.New))]++
	}
	for _, r := range d.Reasons {
		l.Reasons[string(r.Kind)+" "+r.Code]++
		because(r.Because)
	}
	for _, r := range d.Records {
		l.Samples++
		because(r.Because)
		if len(r.Fields) > 0 && l.Samples <= mostExamples {
			f := r.Fields[0]
			l.example(&ReplayExample{Report: x.ID, File: x.Name, Sample: r.Sample, Old: f.Old, New: f.New, Field: f.Name, Because: r.Because})
		}
	}
	for i := range d.Results {
		r := &d.Results[i]
		because(r.Because)
		a := l.analyte(r.Analyte)
		e := &ReplayExample{Report: x.ID, File: x.Name, Sample: r.Sample, Analyte: r.Analyte, Old: r.Old, New: r.New, Place: r.Place, Because: r.Because}
		switch {
		case r.Kind == difference.New:
			a.New++
		case r.Kind == difference.Gone:
			a.Gone++
		case r.Moved():
			a.Moved++
			a.ratio(r.Ratio)
		default:
			a.Other++
			f := r.Fields[0]
			e.Old, e.New, e.Field = f.Old, f.New, f.Name
		}
		if r.OldStat != r.NewStat && r.Kind == difference.Changed {
			a.Status[arrow(r.OldStat, r.NewStat)]++
		}
		for _, f := range r.Fields {
			a.Fields[f.Name]++
		}
		n := a.Moved + a.New + a.Gone
		if e.Field != "" {
			n = a.Other + n + mostExamples - 1 // one will do, and none beside a value
		}
		if n <= mostExamples {
			l.example(e)
		}
	}
}

// mostLabExamples bounds the examples of one laboratory.
const mostLabExamples = 16

func (l *LabTally) example(e *ReplayExample) {
	if len(l.Examples) < mostLabExamples {
		l.Examples = append(l.Examples, e)
	}
}

// ratio takes in a ratio; four digits of it are kept, so that those that
// rounding alone sets apart count as one.
func (a *AnalyteTally) ratio(s string) {
	if f, err := strconv.ParseFloat(s, 64); err == nil {
		a.ratios[strconv.FormatFloat(f, 'g', 4, 64)]++
	}
}

// End works out what can only be said of all, and drops the laboratories of
// which nothing differs.
func (t *ReplayTally) End() {
	t.Labs = slices.DeleteFunc(t.Labs, func(l *LabTally) bool { return l.Differ == 0 })
	for _, l := range t.Labs {
		for _, a := range l.Analytes {
			a.sum()
		}
	}
}

func (a *AnalyteTally) sum() {
	if len(a.ratios) == 0 {
		return
	}
	number := func(s string) float64 {
		f, _ := strconv.ParseFloat(s, 64) // ratio has written it
		return f
	}
	keys := slices.SortedFunc(maps.Keys(a.ratios), func(x, y string) int { return cmp.Compare(number(x), number(y)) })
	n := 0
	for _, k := range keys {
		n += a.ratios[k]
	}
	a.Least, a.Most = keys[0], keys[len(keys)-1]
	seen := 0
	for _, k := range keys {
		if seen += a.ratios[k]; 2*seen >= n {
			a.Median = k // of an even number, the lower of the two in the middle
			return
		}
	}
}
