package normalize

import (
	"reflect"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// What is remembered of readings and equations makes no difference: one memory
// for all laboratories gives every record that a new one for each gives.
func TestRememberedResultsAreTheSame(t *testing.T) {
	shared, asked, readings := newAlike(), newEstimator(), 0
	for _, f := range truths(t) {
		for i, s := range f.extract(t).Samples {
			got, gotFacts := record(s, shared, Options{})
			asked.record(got)
			want, wantFacts := record(s, newAlike(), Options{})
			newEstimator().record(want)
			if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(gotFacts, wantFacts) {
				t.Fatalf("%s: sample %d differs", f.path, i+1)
			}
			readings += len(s.Readings)
		}
	}
	t.Logf("%d readings, of which %d were worked out; %d answers", readings, len(shared.made), len(asked.answers))
	if len(shared.made) == 0 || len(shared.made) > readings*3/4 || len(asked.answers) < 100 {
		t.Error("hardly anything was remembered")
	}
}

// Every field of a reading makes a result of its own, or stands in it: a field
// that is new and forgotten here would give one reading the result of another.
func TestNoFieldOfAReadingIsForgotten(t *testing.T) {
	place := func(n int) ingest.Place { return ingest.Place{File: "a.csv", Line: n} }
	base := mappings.Reading{Analyte: "P", Method: "mehlich-3-icp", Basis: "P2O5", Printed: "27.0", Number: "27.0", Unit: "lb/acre", PrintedUnit: "lb/A",
		Area: &mappings.AreaBasis{DepthIn: "20/3", LbPerAcre: "2000000", Source: "mapping"}, Place: place(1), Rule: place(2)}
	a, cv := newAlike(), &converter{}
	a.result(cv, &base)
	changed := 0
	try := func(name string, rd mappings.Reading) {
		changed++
		got, gotFacts := a.result(cv, &rd)
		want, wantFacts := cv.formed(&rd)
		if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(gotFacts, wantFacts) {
			t.Errorf("another %s: got\n%+v, want\n%+v", name, got, want)
		}
	}
	kinds := reflect.TypeFor[mappings.Reading]()
	for i := range kinds.NumField() {
		for _, text := range []string{"1.5", "K", "<", "K2O", "mg/kg", "volume", "index", "delaware-p-fiv"} {
			rd := base
			switch v := reflect.ValueOf(&rd).Elem().Field(i); v.Interface().(type) {
			case string:
				v.SetString(text)
			case ingest.Place:
				v.Set(reflect.ValueOf(place(7)))
			case *mappings.Band:
				rd.Band = &mappings.Band{High: text}
			case *mappings.AreaBasis:
				rd.Area = &mappings.AreaBasis{DepthIn: "6", LbPerAcre: "1000000", Source: text}
			case *mappings.PrintedLabel:
				rd.Label = &mappings.PrintedLabel{Text: text}
			case *ingest.OCR:
				rd.OCR = &ingest.OCR{}
			case []*ingest.Reason:
				rd.Doubts = []*ingest.Reason{{Code: "doubt", Severity: ingest.Flag}}
			default:
				t.Fatalf("field %s: a kind that this test does not know", kinds.Field(i).Name)
			}
			try(kinds.Field(i).Name, rd)
		}
	}
	area := reflect.TypeFor[mappings.AreaBasis]()
	for i := range area.NumField() {
		rd, other := base, *base.Area
		switch v := reflect.ValueOf(&other).Elem().Field(i); v.Kind() {
		case reflect.String:
			v.SetString("2")
		case reflect.Bool:
			v.SetBool(!v.Bool())
		}
		rd.Area = &other
		try("Area."+area.Field(i).Name, rd)
	}
	for _, d := range []mappings.Reading{{Number: "1.1", Unit: "g/cm3"}, {Number: "1.1", Unit: "kg/m3"}, {Number: "1.1", Full: "1.13", Unit: "g/cm3"}, {Number: "1.1", Unit: "g/cm3", Censor: "<"},
		{Number: "1.1", Unit: "g/cm3", Censor: "<", Printed: "<1.1"}} {
		cv.density = &d
		for _, u := range []string{"mg/dm3", "cmol(+)/dm3", "mg/kg"} {
			rd := base
			rd.Unit = u
			try("density", rd)
		}
	}
	if changed < 100 {
		t.Errorf("only %d changes were tried", changed)
	}
}
