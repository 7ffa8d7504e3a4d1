package difference

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// result is a result as a mapping might read it from a line of a list.
func result(analyte, value string, line int) *normalize.Result {
	v := normalize.Decimal(value)
	return &normalize.Result{Analyte: analyte, Method: "mehlich-3", MethodName: "Mehlich-3", Basis: analyte, Status: normalize.OK, Value: v, Unit: "mg/kg",
		Printed: normalize.Printed{Text: value, Number: v, Unit: "ppm", UnitID: "ppm", Place: ingest.Place{Line: line, Col: 7}, Rule: ingest.Place{File: "lab.yaml", Line: 12}},
		Steps:   []normalize.Step{{Rule: "unit/ppm", What: "ppm is mg/kg", From: normalize.Quantity{Value: v, Unit: "ppm"}, Factor: "1", To: normalize.Quantity{Value: v, Unit: "mg/kg"}, Source: "definition", Exact: true}}}
}

func report(records ...*normalize.Record) *normalize.Report {
	return &normalize.Report{Schema: normalize.SchemaVersion, ID: "R0123456789abcdef", Status: normalize.OK, Lab: normalize.Lab{ID: "quarry-ag", Name: "Quarry Ag"}, Version: "1.0", Tables: "aa",
		Mapping: normalize.MappingRef{ID: "quarry-ag", Layout: "list", File: "lab.yaml", SHA256: "m1"}, Records: records}
}

func sample(n, id string, rs ...*normalize.Result) *normalize.Record {
	return &normalize.Record{ID: "R0123456789abcdef-" + n, Status: normalize.OK, Sample: normalize.Sample{LabID: id}, Results: rs, Checks: []normalize.Finding{}}
}

func causesOf(cs []Cause) string {
	var out []string
	for _, c := range cs {
		out = append(out, string(c))
	}
	return strings.Join(out, " ")
}

func TestAlike(t *testing.T) {
	old := report(sample("1", "A", result("P", "12.5", 3)))
	now := report(sample("1", "A", result("P", "12.5", 3)))
	if d := Compare(old, now); !d.Alike() || len(d.Reading) != 0 {
		t.Errorf("the same report differs: %+v", d)
	}
	now.Version, now.Tables, now.Mapping.SHA256, now.Mapping.File = "1.1", "bb", "m2", "other.yaml"
	now.Records[0].Results[0].Printed.Rule.Line = 40
	now.Reasons, old.Reasons = []*ingest.Reason{{Code: "x", Severity: ingest.Flag, What: "w", Rule: ingest.Place{Line: 1}}}, []*ingest.Reason{{Code: "x", Severity: ingest.Flag, What: "w", Rule: ingest.Place{Line: 2}}}
	d := Compare(old, now)
	if !d.Alike() {
		t.Errorf("what only tells by which line it was read is told as a difference: %+v", d)
	}
	var names []string
	for _, f := range d.Reading {
		names = append(names, f.Name)
	}
	if got := strings.Join(names, " "); got != "mapping.file mapping.sha256 software tables" {
		t.Errorf("read by: %s", got)
	}
}

// A version from before labels were kept is not another reading of the report;
// another label is.
func TestLabels(t *testing.T) {
	old := report(sample("1", "A", result("P", "12.5", 3)))
	now := report(sample("1", "A", result("P", "12.5", 3)))
	now.Records[0].Results[0].Printed.Label = &mappings.PrintedLabel{Text: "P", Place: ingest.Place{Line: 1}}
	if d := Compare(old, now); !d.Alike() {
		t.Errorf("a label that was not kept then is told as a difference: %+v", d)
	}
	old.Records[0].Results[0].Printed.Label = &mappings.PrintedLabel{Text: "P2O5", Place: ingest.Place{Line: 1}}
	if d := Compare(old, now); d.Alike() || len(d.Results) != 1 || len(d.Results[0].Fields) != 1 || d.Results[0].Fields[0].Name != "printed.label.text" {
		t.Errorf("another label: %+v", d)
	}
}

func TestValueMoves(t *testing.T) {
	old := report(sample("1", "A", result("P", "12.5", 3), result("K", "100", 4)))
	now := report(sample("1", "A", result("P", "25.0", 3), result("K", "100", 4)))
	// The number printed is the same; another factor was used.
	p := now.Records[0].Results[0]
	p.Printed.Text, p.Printed.Number, p.Steps[0].From.Value, p.Steps[0].Factor = "12.5", "12.5", "12.5", "2"
	now.Tables = "bb"
	now.Mapping.SHA256 = "m2"
	d := Compare(old, now)
	if len(d.Results) != 1 || len(d.Records) != 0 || d.Alike() {
		t.Fatalf("%+v", d)
	}
	r := d.Results[0]
	if !r.Moved() || r.Old != "12.5 mg/kg" || r.New != "25.0 mg/kg" || r.Ratio != "2" || r.Place.Line != 3 {
		t.Errorf("%+v", r)
	}
	if got := causesOf(r.Because); got != "tables" {
		t.Errorf("nothing was read otherwise, so that the tables are the cause, not %q", got)
	}
	if !d.Differs("R0123456789abcdef-1") || d.Differs("R0123456789abcdef-2") {
		t.Error("which record differs")
	}
	// What was read is another: no table did that.
	p.Printed.UnitID = "lb-acre"
	if got := causesOf(Compare(old, now).Results[0].Because); got != "mapping" {
		t.Errorf("because of %q, want mapping", got)
	}
	now.Version = "2"
	if got := causesOf(Compare(old, now).Results[0].Because); got != "mapping software" {
		t.Errorf("because of %q, want mapping software", got)
	}
	now.Version, now.Tables, now.Mapping = old.Version, old.Tables, old.Mapping
	if got := causesOf(Compare(old, now).Results[0].Because); got != "unexplained" {
		t.Errorf("because of %q, want unexplained", got)
	}
}

// A finding that comes without a new mapping, table or software is for another
// report that came since; a value that does is for nothing that is known.
func TestOtherReports(t *testing.T) {
	found := []normalize.Finding{{Check: "x", Severity: ingest.Flag, What: "w", Source: "definition"}}
	now := report(sample("1", "A", result("P", "1", 1)))
	now.Records[0].Checks = found
	now.Records[0].Results[0].Findings, now.Records[0].Results[0].Status = found, normalize.Flagged
	d := Compare(report(sample("1", "A", result("P", "1", 1))), now)
	if got := causesOf(d.Causes()); got != "other reports" || len(d.Records) != 1 || len(d.Results) != 1 {
		t.Errorf("because of %q: %+v", got, d)
	}
	now.Records[0].Results[0].Value = "2"
	if got := causesOf(Compare(report(sample("1", "A", result("P", "1", 1))), now).Results[0].Because); got != "unexplained" {
		t.Errorf("because of %q", got)
	}
}

// A field that this package has never heard of is compared as well: those of
// Result are all found when each is set by its JSON.
func TestEveryFieldCounts(t *testing.T) {
	full := `{"analyte":"P","detail":"d","method":"m","method_name":"M","basis":"P","status":"flagged","printed":{"text":"<1","number":"1","unit":"ppm","unit_id":"ppm","rating":"low","rating_class":"low","index":"2","mark":"*","place":{"line":3}},
"censored":"<","missing":"ND","value":"1","unit":"mg/kg","ucum":"mg/kg","class":"loam","volumetric":{"value":"1","unit":"mg/dm3"},"forms":{"ppm":{"value":"1","unit":"ppm"},"lb_per_acre_not":"w"},"not_converted":"why",
"steps":[{"rule":"r","what":"w","from":{"value":"1","unit":"ppm"},"to":{"value":"1","unit":"ppm"},"source":"s","exact":true}],"form_steps":[],"findings":[{"check":"c","severity":"flag","what":"w","source":"s"}]}`
	var o map[string]any
	if err := json.Unmarshal([]byte(full), &o); err != nil {
		t.Fatal(err)
	}
	base := result("P", "1", 3)
	for k := range o {
		b, err := json.Marshal(base)
		if err != nil {
			t.Fatal(err)
		}
		var one map[string]any
		if err := json.Unmarshal(b, &one); err != nil {
			t.Fatal(err)
		}
		if x, _ := json.Marshal(one[k]); string(x) == mustJSON(t, o[k]) {
			continue // as it is in the base
		}
		one[k] = o[k]
		var changed normalize.Result
		if err := json.Unmarshal([]byte(mustJSON(t, one)), &changed); err != nil {
			t.Fatal(err)
		}
		if mustJSON(t, changed) == string(b) {
			continue // an empty list for none
		}
		d := Compare(report(sample("1", "A", base)), report(sample("1", "A", &changed)))
		if len(d.Results) != 1 || len(d.Results[0].Fields) == 0 || !strings.HasPrefix(d.Results[0].Fields[0].Name, k) {
			t.Errorf("a change of %s is told as %+v", k, d.Results)
		}
	}
}

func mustJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A sample that is found in front of the others shifts every record's number
// but is no reason to take one for another.
func TestSamplesKeepTheirOwn(t *testing.T) {
	old := report(sample("1", "A", result("P", "1", 1)), sample("2", "B", result("P", "2", 2)))
	now := report(sample("1", "Z", result("P", "9", 9)), sample("2", "A", result("P", "1", 1)), sample("3", "B", result("P", "2", 2)))
	d := Compare(old, now)
	var got []string
	for _, r := range d.Results {
		got = append(got, string(r.Kind)+" "+r.Sample+" "+r.New)
	}
	if strings.Join(got, ";") != "new Z 9 mg/kg" {
		t.Errorf("results: %v", got)
	}
	got = nil
	for _, r := range d.Records {
		s := string(r.Kind) + " " + r.Sample
		for _, f := range r.Fields {
			s += " " + f.Name
		}
		got = append(got, s)
	}
	if strings.Join(got, ";") != "new Z;changed A id;changed B id" {
		t.Errorf("records: %v", got)
	}
	d = Compare(now, old)
	if n := len(d.Results); n != 1 || d.Results[0].Kind != Gone || d.Results[0].Old != "9 mg/kg" {
		t.Errorf("%+v", d.Results)
	}
}

// What stands in one place and is taken for another analyte is one result
// that changed, not one gone and one new.
func TestAnotherAnalyte(t *testing.T) {
	d := Compare(report(sample("1", "A", result("K", "7", 1), result("P", "12", 3))), report(sample("1", "A", result("K", "7", 1), result("S", "12", 3))))
	if len(d.Results) != 1 || d.Results[0].Kind != Changed || d.Results[0].Fields[0].Name != "analyte" {
		t.Errorf("%+v", d.Results)
	}
}

func TestRatio(t *testing.T) {
	for _, x := range []struct{ a, b, ua, ub, want string }{
		{"12.5", "25", "mg/kg", "mg/kg", "2"},
		{"3", "1", "mg/kg", "mg/kg", "0.333333"},
		{"0", "1", "mg/kg", "mg/kg", ""},
		{"1", "0", "mg/kg", "mg/kg", ""},
		{"1", "2", "mg/kg", "%", ""},
		{"", "2", "mg/kg", "mg/kg", ""},
	} {
		if got := Ratio(&normalize.Result{Value: normalize.Decimal(x.a), Unit: x.ua}, &normalize.Result{Value: normalize.Decimal(x.b), Unit: x.ub}); got != x.want {
			t.Errorf("%s %s to %s %s: %q, want %q", x.a, x.ua, x.b, x.ub, got, x.want)
		}
	}
}

func TestValue(t *testing.T) {
	for want, r := range map[string]*normalize.Result{
		"<0.5 mg/kg": {Censored: "<", Value: "0.5", Unit: "mg/kg"}, "none": {Missing: "ND"}, "sandy loam": {Class: "sandy loam", Unit: "class"},
		"3 mg/dm3": {Volumetric: &normalize.Quantity{Value: "3", Unit: "mg/dm3"}}, "not converted": {Unit: "mg/kg", Why: "depth unknown"},
	} {
		if got := Value(r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What is known of a client never shows.
func TestClientsAreNotShown(t *testing.T) {
	old, now := report(sample("1", "A")), report(sample("1", "A"))
	old.Records[0].Client = &normalize.Client{Name: "Ottoline Grebe", Phone: "555-0100"}
	now.Records[0].Client = &normalize.Client{Name: "O. Grebe", Email: "og@example.org"}
	d := Compare(old, now)
	text := mustJSON(t, d)
	if strings.Contains(text, "Grebe") || strings.Contains(text, "555") || strings.Contains(text, "og@") {
		t.Errorf("shown: %s", text)
	}
	var names []string
	for _, f := range d.Records[0].Fields {
		names = append(names, f.Name)
	}
	if !slices.Equal(names, []string{"client.email", "client.name", "client.phone"}) {
		t.Errorf("fields: %v", names)
	}
}

func TestReasonsAndStatus(t *testing.T) {
	old, now := report(), report()
	old.Status, now.Status = normalize.OK, normalize.Held
	old.Reasons = []*ingest.Reason{{Code: "a", Severity: ingest.Flag, What: "was"}}
	now.Reasons = []*ingest.Reason{{Code: "b", Severity: ingest.Hold, What: "is", Where: ingest.Place{Page: 2}}}
	d := Compare(old, now)
	if d.Old != normalize.OK || d.New != normalize.Held || len(d.Reasons) != 2 || d.Reasons[0].Kind != New || d.Reasons[0].Where.Page != 2 || d.Reasons[1].Kind != Gone || d.Reasons[1].Code != "a" {
		t.Errorf("%+v", d)
	}
	if len(d.Fields) != 1 || d.Fields[0] != (Field{"status", "ok", "held"}) {
		t.Errorf("%+v", d.Fields)
	}
}

// That a result waits because its report does is told once, of the report; a
// result that is held for a cause of its own is told.
func TestHeldWithTheReport(t *testing.T) {
	old := report(sample("1", "A", result("P", "1", 1), result("K", "2", 2)))
	now := report(sample("1", "A", result("P", "1", 1), result("K", "2", 2)))
	now.Status, now.Records[0].Status = normalize.Held, normalize.Held
	for _, r := range now.Records[0].Results {
		r.Status = normalize.Held
	}
	now.Records[0].Results[1].Findings = []normalize.Finding{{Check: "x", Severity: ingest.Hold, What: "w", Source: "definition"}}
	d := Compare(old, now)
	if len(d.Results) != 1 || d.Results[0].Analyte != "K" || d.New != normalize.Held || d.Alike() {
		t.Errorf("%+v", d)
	}
}

// Neither report is changed, however they differ.
func TestCompareChangesNothing(t *testing.T) {
	old := report(sample("1", "A", result("P", "1", 1), result("K", "2", 2)))
	now := report(sample("1", "B", result("K", "3", 2)), sample("2", "A", result("P", "4", 1)))
	a, b := mustJSON(t, old), mustJSON(t, now)
	Compare(old, now)
	if mustJSON(t, old) != a || mustJSON(t, now) != b {
		t.Error("a report was changed")
	}
}
