//go:build unix

package index_test

import (
	"context"
	"slices"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// Of a test its values are read, each with what groups are made by; what is
// held in any way, and what only says again what another result says, is not.
func TestMeasured(t *testing.T) {
	onBoth(t, func(t *testing.T) {
		ctx := context.Background()
		ix := open(t, fresh(t))
		_, a := made(1, normalize.OK, 5, 2)
		_, held := made(2, normalize.Held, 1, 2)
		of := func(i int, name, county, sampled, received, reported string) *normalize.Record {
			r := a.Records[i]
			r.Client = &normalize.Client{Name: name}
			r.Sample.County, r.Sample.Sampled, r.Sample.Received, r.Sample.Reported, r.Sample.LandUse = county, sampled, received, reported, "lawn"
			for _, x := range r.Results {
				x.Analyte, x.Detail, x.Method, x.Unit, x.Value, x.Status = "P", "", "olsen", "mg/kg", "12.5", normalize.OK
			}
			r.Results[1].Restates = true
			return r
		}
		of(0, "Rosa Hale", "Wren", "2025-04-01", "2026-01-02", "2026-02-01").Results[0].Printed.Class = "low"
		of(1, "R. Hale", "Wren", "", "2024-12-30", "2026-02-01").Results[0].Censored = "<"
		of(2, "Hale, Rosa", "", "", "", "2023-02-01")
		of(3, "B.", "Finch", "", "", "").Results[0].Status = normalize.Held
		deep := of(4, "C.", "Wren", "2025-04-01", "", "2026-02-01")
		deep.Sample.DepthTopIn, deep.Sample.DepthIn = "6", "24"
		for _, x := range held.Records[0].Results {
			x.Analyte, x.Method, x.Unit, x.Value = "P", "olsen", "mg/kg", "99"
		}
		add(t, ix, 1, a, held)
		var got []index.Measured
		if err := ix.EachMeasured(ctx, index.Test{Analyte: "P", Method: "olsen", Unit: "mg/kg"}, func(m *index.Measured) { got = append(got, *m) }); err != nil {
			t.Fatal(err)
		}
		slices.SortFunc(got, func(x, y index.Measured) int {
			if x.Year > y.Year {
				return -1
			}
			return 1
		})
		if len(got) != 3 {
			t.Fatalf("%d values, want 3: %+v", len(got), got)
		}
		for i, year := range []string{"2025", "2024", "2023"} {
			if got[i].Year != year || got[i].Value != "12.5" || got[i].LandUse != "lawn" || got[i].Lab != a.Lab.ID {
				t.Errorf("%+v, want one of %s", got[i], year)
			}
		}
		if got[0].Rating != "low" || got[1].Censored != "<" || got[0].County != "Wren" || got[2].County != "" {
			t.Errorf("%+v", got)
		}
		// One client, however the name is written; and no name.
		if c := got[0].Client; c == "" || c != got[1].Client || c != got[2].Client || len(c) != 9 {
			t.Errorf("clients %q %q %q", got[0].Client, got[1].Client, got[2].Client)
		}
		tests, err := ix.Tests(ctx)
		if err != nil || !slices.Contains(tests, index.TestCount{Test: index.Test{Analyte: "P", Method: "olsen", Unit: "mg/kg"}, Results: 12}) {
			t.Errorf("%+v %v", tests, err)
		}
		// A later version takes the place of the values of the one before.
		a.Records[0].Results[0].Value = "13"
		add(t, ix, 2, a)
		n := 0
		if err := ix.EachMeasured(ctx, index.Test{Analyte: "P", Method: "olsen", Unit: "mg/kg"}, func(m *index.Measured) {
			n++
			if m.Year == "2025" && m.Value != "13" {
				t.Errorf("%+v", m)
			}
		}); err != nil || n != 3 {
			t.Errorf("%d values after a new version (%v)", n, err)
		}
	})
}
