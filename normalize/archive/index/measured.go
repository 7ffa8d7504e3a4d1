package index

import (
	"context"
	"strings"
)

// A Test is what was measured, and how: values of two of them are never put
// together.
type Test struct{ Analyte, Detail, Method, Unit string }

// A TestCount is a test with how many results of it the index has, held ones
// among them.
type TestCount struct {
	Test
	Results int
}

// Tests lists what was measured, in order.
func (ix *Index) Tests(ctx context.Context) (out []TestCount, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var t TestCount
		err := scan(&t.Analyte, &t.Detail, &t.Method, &t.Unit, &t.Results)
		out = append(out, t)
		return err
	}, `SELECT analyte, detail, method, unit, count(*) FROM results GROUP BY analyte, detail, method, unit ORDER BY analyte, detail, method, unit`)
	return out, fault("list what was measured", ix.path, err)
}

// A Measured is one value of a test, with what groups are made by.
type Measured struct {
	County, LandUse, Lab, LabName string
	Year                          string // of sampling, or else of receipt, or else of the report; "" where there is no date
	Client                        string // the same for samples of one client, and maybe of others with the same family name; "" where none is known
	Value, Censored, Rating       string // Rating is the class in which the laboratory's own word is
	Sample, Reported              string // number at the laboratory, folded, and date of the report: what was reported twice has both alike
}

// EachMeasured visits the values of a test that are used, in no order. What is
// held, in whole or in part, is not among them, nor what only says again what
// another result of its sample says, nor a layer from below the surface.
func (ix *Index) EachMeasured(ctx context.Context, t Test, visit func(*Measured)) error {
	var m Measured
	err := ix.each(ctx, func(scan func(...any) error) error {
		var sampled, received string
		if err := scan(&m.County, &m.LandUse, &m.Lab, &m.LabName, &sampled, &received, &m.Reported, &m.Client, &m.Value, &m.Censored, &m.Rating, &m.Sample); err != nil {
			return err
		}
		m.Year = ""
		for _, day := range []string{sampled, received, m.Reported} {
			if len(day) >= 4 {
				m.Year = day[:4]
				break
			}
		}
		visit(&m)
		return nil
	}, `SELECT r.county, r.land_use, p.lab, p.lab_name, r.sampled, r.received, r.reported, r.client, x.value, x.censored, x.rating, r.lab_sample_folded
FROM results x JOIN records r ON r.id = x.record_id JOIN reports p ON p.id = r.report_id
WHERE x.analyte = $1 AND x.detail = $2 AND x.method = $3 AND x.unit = $4 AND x.value <> '' AND x.status <> 'held' AND r.status <> 'held' AND p.status <> 'held'`, t.Analyte, t.Detail, t.Method, t.Unit)
	return fault("read what was measured", ix.path, err)
}

// family stands for the client of a record: the same for all names that end in
// the same word, or begin with it before a comma, so that one client with and
// without initials is one. Two clients may be taken for one by it, never one
// for two as long as the name of the family stands on the report.
func family(name string) string {
	if before, _, ok := strings.Cut(name, ","); ok {
		name = before
	}
	f := strings.Fields(name)
	for i := len(f) - 1; i >= 0; i-- {
		if j := joined(f[i]); len(j) > 1 {
			return hidden(j)
		}
	}
	return ""
}
