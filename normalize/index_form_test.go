package normalize

import (
	"strings"
	"testing"

	"example.org/windrow/mappings"
)

// The bounds are those of rows I001, I003, I004 and I006 of the published
// table of derived values, each with its source there.
func TestIndexForm(t *testing.T) {
	for name, c := range map[string]struct {
		rd               mappings.Reading
		index, low, high string
		not              string
	}{
		"an amount per volume gets its index": {mappings.Reading{Analyte: "K", Number: "120", Unit: "mg/dm3", Method: "morgan", Scale: "ireland-k-index"}, "3", "101", "150", ""},
		"a printed index stands for amounts":  {mappings.Reading{Analyte: "K", Number: "2", Unit: "index", Basis: IndexBasis, Method: "morgan", Scale: "ireland-k-index"}, "2", "51", "100", ""},
		"the highest has no upper bound":      {mappings.Reading{Analyte: "K", Number: "4", Unit: "index", Basis: IndexBasis, Method: "morgan", Scale: "ireland-k-index"}, "4", "150", "", ""},
		"an index in signs":                   {mappings.Reading{Analyte: "P", Words: "2-", Printed: "2-", Method: "olsen", Scale: "northern-ireland-p-index"}, "2-", "16", "20", ""},
		"lb/acre of the customary slice":      {mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre", Area: slice, Method: "mehlich-3-icp", Scale: "new-jersey-p-level"}, "medium", "46", "71", ""},
		"an amount between two classes":       {mappings.Reading{Analyte: "P", Number: "9.4", Unit: "mg/dm3", Method: "olsen", Scale: "northern-ireland-p-index"}, "", "", "", "between the bounds of class 0 and class 1"},
		"beyond what was read of it":          {mappings.Reading{Analyte: "P", Number: "71", Unit: "mg/dm3", Method: "olsen", Scale: "northern-ireland-p-index"}, "", "", "", "beyond the classes"},
		"another method":                      {mappings.Reading{Analyte: "P", Number: "18", Unit: "mg/dm3", Method: "morgan", Scale: "northern-ireland-p-index"}, "", "", "", "made for another method than Morgan"},
		"a method that nobody states":         {mappings.Reading{Analyte: "P", Number: "18", Unit: "mg/dm3", Scale: "northern-ireland-p-index"}, "", "", "", "made for another method than not stated"},
		"an amount per mass":                  {mappings.Reading{Analyte: "K", Number: "120", Unit: "mg/kg", Method: "morgan", Scale: "ireland-k-index"}, "", "", "", "no amount in mg/dm3"},
		"a limit":                             {mappings.Reading{Analyte: "K", Number: "20", Censor: "<", Unit: "mg/dm3", Method: "morgan", Scale: "ireland-k-index"}, "", "", "", "a limit and no amount"},
		"no result":                           {mappings.Reading{Analyte: "K", Missing: "ND", Unit: "mg/dm3", Method: "morgan", Scale: "ireland-k-index"}, "", "", "", "no result"},
		"an index that the scale has not":     {mappings.Reading{Analyte: "K", Number: "9", Unit: "index", Basis: IndexBasis, Method: "morgan", Scale: "ireland-k-index"}, "", "", "", "is no index of the scale"},
	} {
		res := estimated(t, "", c.rd)[0]
		x := res.Forms.Index
		if x == nil {
			t.Errorf("%s: no form", name)
			continue
		}
		if x.Index != c.index || string(x.Low) != c.low || string(x.High) != c.high || !strings.Contains(x.Not, c.not) || (c.not == "") != (x.Not == "") || x.Source == "" {
			t.Errorf("%s: %+v", name, x)
		}
		if c.rd.Unit == "index" && (res.Unit != "index" || res.Value != Decimal(c.rd.Number)) {
			t.Errorf("%s: the index became %s %s", name, res.Value, res.Unit)
		}
	}
	// Where the mapping names none, there is none: High is no amount (row N06).
	if res := estimated(t, "", mappings.Reading{Analyte: "P", Words: "High", Method: "mehlich-3-icp"})[0]; res.Forms.Index != nil {
		t.Errorf("%+v", res.Forms.Index)
	}
}

// A mapping may name the scales that are in use, and no others.
func TestScaleWords(t *testing.T) {
	for word, want := range map[string]bool{"ireland-k-index": true, "north-carolina-p-index": false, "uk-k-index": false, "delaware-p-fiv": false, "my-own": false} {
		if id, ok := Vocabulary().Resolve(mappings.ScaleWord, word); ok != want || ok && id != word {
			t.Errorf("%s: %q %v", word, id, ok)
		}
	}
	if near := Vocabulary().Near(mappings.ScaleWord, "ireland-k-indx"); len(near) == 0 || near[0] != "ireland-k-index" {
		t.Errorf("%v", near)
	}
}
