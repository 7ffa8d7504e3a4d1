package difference

import (
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// A Kind says how something differs.
type Kind string

// The kinds of difference.
const (
	Changed Kind = "changed" // in both versions, and not the same
	New     Kind = "new"     // in the newer version only
	Gone    Kind = "gone"    // in the older version only
)

// A Cause is what two versions of a report name differently and what may
// therefore have made a difference.
type Cause string

// The causes. ByOthers is other reports in the archive, such as one that came
// since and has the same sample. Unexplained stands where the versions name the same mapping,
// tables, software and settings and differ all the same: then something that
// no version names has a say, and somebody should find out what.
const (
	ByMapping   Cause = "mapping"
	ByTables    Cause = "tables"
	BySoftware  Cause = "software"
	BySettings  Cause = "settings"
	ByOthers    Cause = "other reports"
	Unexplained Cause = "unexplained"
)

// A Field is one field with both of its contents, in words; "" where there is
// none.
type Field struct {
	Name string `json:"name"` // as in the record's JSON, with points, such as printed.unit
	Old  string `json:"old"`
	New  string `json:"new"`
}

// A Result is a result that differs.
type Result struct {
	Kind    Kind         `json:"kind"`
	Record  string       `json:"record"` // id, in the newer version where it is there
	Sample  string       `json:"sample"` // its number at the laboratory, else the client's label
	Analyte string       `json:"analyte"`
	Detail  string       `json:"detail,omitempty"`
	Place   ingest.Place `json:"place,omitzero"`  // where it is printed, in the newer version where it is there
	Old     string       `json:"old"`             // value and unit, in words
	New     string       `json:"new"`             // the same of the newer version
	OldStat string       `json:"old_status"`      // "" of a new result
	NewStat string       `json:"new_status"`      // "" of one that is gone
	Ratio   string       `json:"ratio,omitempty"` // new by old, to six significant digits; "" where the units differ or either is no number other than 0
	Fields  []Field      `json:"fields,omitempty"`
	Because []Cause      `json:"because"`
}

// Moved reports whether the value itself is another one, in number, unit,
// words or censoring. What differs otherwise is how it came about, how it was
// printed, or what checks found.
func (r *Result) Moved() bool { return r.Kind == Changed && r.Old != r.New }

// A Record is a sample that differs by itself, beside its results.
type Record struct {
	Kind    Kind    `json:"kind"`
	Record  string  `json:"record"`
	Sample  string  `json:"sample"`
	Fields  []Field `json:"fields,omitempty"`
	Because []Cause `json:"because"`
}

// A Reason is a reason about the report as a whole that only one version has.
type Reason struct {
	Kind     Kind            `json:"kind"` // New or Gone
	Code     string          `json:"code"`
	Severity ingest.Severity `json:"severity"`
	What     string          `json:"what"`
	Where    ingest.Place    `json:"where,omitzero"`
	Because  []Cause         `json:"because"`
}

// A Report is how two versions of a report differ. Lists are in the order of
// the newer version, with what is gone behind.
type Report struct {
	ID      string           `json:"report"`
	Old     normalize.Status `json:"old_status"`
	New     normalize.Status `json:"new_status"`
	Fields  []Field          `json:"fields,omitempty"`  // of the report as a whole
	Reading []Field          `json:"reading,omitempty"` // by what it was read: no difference of the report
	Reasons []Reason         `json:"reasons,omitempty"`
	Records []Record         `json:"records,omitempty"`
	Results []Result         `json:"results,omitempty"`

	records []string // ids of the records, in the newer version, that differ in any way
}

// Alike reports whether the versions differ in nothing but by what they were
// read.
func (d *Report) Alike() bool {
	return len(d.Fields) == 0 && len(d.Reasons) == 0 && len(d.Records) == 0 && len(d.Results) == 0
}

// Differs reports whether the record of that id, in the newer version, is
// new or differs in itself or in one of its results.
func (d *Report) Differs(record string) bool { return slices.Contains(d.records, record) }

// Causes are all causes of the differences, each once.
func (d *Report) Causes() []Cause {
	var out []Cause
	add := func(cs []Cause) {
		for _, c := range cs {
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	for _, x := range d.Results {
		add(x.Because)
	}
	for _, x := range d.Records {
		add(x.Because)
	}
	for _, x := range d.Reasons {
		add(x.Because)
	}
	slices.Sort(out)
	return out
}
