package summary

import (
	"cmp"
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

// A By is something to group samples by.
type By string

// What samples are grouped by.
const (
	ByCounty  By = "county"
	ByLandUse By = "land-use"
	ByYear    By = "year"
	ByLab     By = "lab"
	ByDepth   By = "depth"
)

// Ways are all that samples can be grouped by, in the order in which groups are
// told.
var Ways = []By{ByCounty, ByLandUse, ByYear, ByLab, ByDepth}

// Words is a way of grouping as a heading.
func (b By) Words() string {
	switch b {
	case ByLandUse:
		return "land use"
	case ByLab:
		return "laboratory"
	case ByDepth:
		return "depth, inches"
	}
	return string(b)
}

// Options say what is told, and to whom.
type Options struct {
	By       []By     // nothing for all samples together
	Analytes []string // ids of those that are told; nothing for all
	County   string   // samples of one county only; "" for all
	// Office says that the summary stays in the office: groups of any size are
	// told, and lowest and highest values.
	Office bool
	// MinGroup is of how many samples and clients a group must be to be told,
	// where Office is not set.
	MinGroup int
	Title    string
	Name     string // of the office
	Version  string // of Windrow
}

// known is what a group has in place of what no report says.
const known = "not known"

// of is what a record says for a way of grouping.
func (b By) of(rep *normalize.Report, rec *normalize.Record) string {
	s := &rec.Sample
	out := ""
	switch b {
	case ByCounty:
		out = s.County
	case ByLandUse:
		out = s.LandUse
	case ByYear:
		if day := cmp.Or(s.Sampled, s.Received, s.Reported); len(day) >= 4 {
			out = day[:4]
		}
	case ByLab:
		out = cmp.Or(rep.Lab.Name, rep.Lab.ID)
	case ByDepth:
		out = s.Layer()
	}
	return cmp.Or(out, known)
}

// wants reports whether an analyte is asked for.
func (o *Options) wants(analyte string) bool {
	return len(o.Analytes) == 0 || slices.ContainsFunc(o.Analytes, func(a string) bool { return strings.EqualFold(a, analyte) })
}

// keeps reports whether a record is asked for.
func (o *Options) keeps(rec *normalize.Record) bool {
	return o.County == "" || strings.EqualFold(rec.Sample.County, o.County)
}
