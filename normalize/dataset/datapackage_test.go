package dataset_test

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// The checks below follow the text of the Data Package standard, version 2.0
// (datapackage.org, pages Data Package, Data Resource and Table Schema, read
// for this test). Each names the property that it follows. They read the
// descriptor as a stranger's program would, with none of our types.

var (
	resourceName = regexp.MustCompile(`^[a-z0-9._-]+$`)                // name
	safePath     = regexp.MustCompile(`^[a-z0-9-]+\.csv$`)             // path: relative, no step upwards
	licenceID    = regexp.MustCompile(`^[-a-zA-Z0-9._]+$`)             // licenses.name
	semantic     = regexp.MustCompile(`^\d+\.\d+\.\d+\+[0-9a-f]{12}$`) // version: semantic versioning, with build metadata
	lexical      = map[string]*regexp.Regexp{                          // Field Types
		"number":  regexp.MustCompile(`^[-+]?(\d+(\.\d*)?|\.\d+)(E[-+]?\d+)?$`),
		"integer": regexp.MustCompile(`^[-+]?\d+$`),
		"string":  regexp.MustCompile(`(?s)^.*$`),
	}
)

type stranger = map[string]any

func list(v any) (out []stranger) {
	vs, _ := v.([]any)
	for _, v := range vs {
		m, _ := v.(stranger)
		out = append(out, m)
	}
	return out
}

func words(v any) (out []string) {
	vs, _ := v.([]any)
	for _, v := range vs {
		s, _ := v.(string)
		out = append(out, s)
	}
	return out
}

func str(v any) string { s, _ := v.(string); return s }

// packageFaults are the places where a dataset departs from the standard, or
// its tables from what the descriptor says of them; cells counts the cells
// that were held against their field.
func packageFaults(files map[string]string) (faults []string, cells int) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	var d stranger
	if err := json.Unmarshal([]byte(files["datapackage.json"]), &d); err != nil {
		return []string{"descriptor: " + err.Error()}, 0
	}
	if str(d["$schema"]) != "https://datapackage.org/profiles/2.0/datapackage.json" {
		fault("$schema is %v", d["$schema"])
	}
	if !resourceName.MatchString(str(d["name"])) || !semantic.MatchString(str(d["version"])) || str(d["title"]) == "" {
		fault("name %v, version %v, title %v", d["name"], d["version"], d["title"])
	}
	for _, l := range list(d["licenses"]) {
		name, path := str(l["name"]), str(l["path"])
		if name == "" && path == "" || name != "" && !licenceID.MatchString(name) {
			fault("licence %v", l)
		}
	}
	for _, key := range []string{"contributors", "sources"} {
		for _, m := range list(d[key]) {
			if str(m["title"]) == "" {
				fault("%s: one without a title", key)
			}
		}
	}
	names := map[string]bool{}
	if len(list(d["resources"])) == 0 {
		fault("no resources")
	}
	for _, r := range list(d["resources"]) {
		name, path := str(r["name"]), str(r["path"])
		if !resourceName.MatchString(name) || names[name] {
			fault("resource name %q", name)
		}
		names[name] = true
		text, there := files[path]
		if !there || !safePath.MatchString(path) {
			fault("%s: path %q", name, path)
			continue
		}
		h := sha256.Sum256([]byte(text))
		if r["hash"] != "sha256:"+hex.EncodeToString(h[:]) || r["bytes"] != float64(len(text)) {
			fault("%s: hash or bytes are not those of the file", name)
		}
		if r["type"] != "table" || r["mediatype"] != "text/csv" || r["format"] != "csv" || r["encoding"] != "utf-8" {
			fault("%s: type, format, mediatype or encoding", name)
		}
		schema, _ := r["schema"].(stranger)
		n, fs := tableFaults(name, schema, text)
		faults, cells = append(faults, fs...), cells+n
	}
	return faults, cells
}

// tableFaults holds a table against its schema.
func tableFaults(name string, schema stranger, text string) (cells int, faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, name+": "+fmt.Sprintf(format, args...)) }
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) == 0 {
		return 0, []string{fmt.Sprintf("%s: no table: %v", name, err)}
	}
	fields := list(schema["fields"])
	var heads []string
	for _, f := range fields {
		heads = append(heads, str(f["name"]))
	}
	if !slices.Equal(heads, rows[0]) { // fieldsMatch: exact by default
		fault("fields %v, columns %v", heads, rows[0])
		return 0, faults
	}
	for i, f := range fields {
		form := lexical[str(f["type"])]
		if form == nil || str(f["description"]) == "" || str(f["title"]) == "" {
			fault("field %s: type %v, or not described", heads[i], f["type"])
			continue
		}
		if to := str(f["unit_field"]); to != "" && !slices.Contains(heads, to) {
			fault("field %s: its units are in %q, which is no column", heads[i], to)
		}
		missing := words(schema["missingValues"])
		if own, ok := f["missingValues"]; ok { // replaces that of the schema
			missing = words(own)
		}
		c, _ := f["constraints"].(stranger)
		enum := words(c["enum"])
		pattern, err := regexp.Compile("^(?:" + str(c["pattern"]) + ")$") // a pattern is of the whole value, as in XML Schema
		if err != nil {
			fault("field %s: %v", heads[i], err)
			continue
		}
		for n, r := range rows[1:] {
			cells++
			switch v := r[i]; {
			case slices.Contains(missing, v):
				if c["required"] == true {
					fault("row %d: %s is required and missing", n+1, heads[i])
				}
			case !form.MatchString(v):
				fault("row %d: %s is %q, no %s", n+1, heads[i], v, f["type"])
			case len(enum) > 0 && !slices.Contains(enum, v):
				fault("row %d: %s is %q, not one of %v", n+1, heads[i], v, enum)
			case c["minimum"] != nil && below(v, c["minimum"]):
				fault("row %d: %s is %q, less than %v", n+1, heads[i], v, c["minimum"])
			case c["pattern"] != nil && !pattern.MatchString(v):
				fault("row %d: %s is %q, not like %v", n+1, heads[i], v, c["pattern"])
			}
		}
	}
	return cells, faults
}

func below(v string, minimum any) bool {
	n, err := strconv.Atoi(v)
	return err != nil || float64(n) < minimum.(float64)
}

// inEachTable is a report whose results give rows in each of the tables.
func inEachTable(n int) *normalize.Report {
	r := report(n)
	rec := r.Records[0]
	rec.Client.Name = strings.Repeat("Ann ", n+1) + "Quill"
	rec.Results[2].UCUM = "mg/kg"
	rec.Results[0].Estimates = []normalize.Estimate{{Analyte: "P", Method: "bray-1", Value: "11.2", Unit: "mg/kg", Equation: "e1", Verdict: "estimate only", InDomain: "unknown", Source: "key-e",
		Interval: &normalize.Interval{Low: "9", High: "13", Percent: 68}, Steps: []normalize.Step{{From: normalize.Quantity{Value: "13.52", Unit: "mg/kg"}, Source: "key-e"}}}}
	for a, v := range map[string]string{"Ca": "6.2", "Mg": "1.4"} {
		rec.Results = append(rec.Results, &normalize.Result{Analyte: a, Method: "mehlich-3", MethodName: "Mehlich-3", Status: normalize.OK, Value: normalize.Decimal(v), Unit: "mg/kg", UCUM: "mg/kg", Printed: normalize.Printed{Text: v, Number: normalize.Decimal(v)}})
	}
	return r
}

func TestDataPackage(t *testing.T) {
	opt := dataset.Options{Title: "Finch County, 2026", Office: "Finch office", Licence: "CC BY 4.0", Version: "1.0", MinGroup: 5}
	var rs []*normalize.Report
	for i := range 6 {
		rs = append(rs, inEachTable(i))
		rs[i].Records[0].Sample.County = fmt.Sprint("County ", i)
	}
	got, sum := write(t, opt, rs...)
	if sum.Estimates == 0 || sum.Derived == 0 || !strings.Contains(got["results.csv"], ",suppressed,") {
		t.Fatalf("a table is empty or nothing is suppressed, so that the test proves little: %+v", sum)
	}
	faults, cells := packageFaults(got)
	for _, f := range faults {
		t.Error(f)
	}
	if want := sum.Rows*len(dataset.Columns()) + sum.Estimates*len(dataset.EstimateColumns()) + sum.Derived*len(dataset.DerivedColumns()) + sum.Wide*strings.Count(strings.SplitN(got["wide.csv"], "\n", 2)[0]+",", ","); cells != want {
		t.Errorf("%d cells were looked at, of %d", cells, want)
	}
	var d struct {
		Citation, Terms, Version string
		Licenses                 []map[string]string
		Contributors             []struct{ Title string }
		Sources                  []struct{ Title string }
		Resources                []struct {
			Name   string
			Schema struct{ Fields []map[string]any }
		}
	}
	if err := json.Unmarshal([]byte(got["datapackage.json"]), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Licenses) != 1 || d.Licenses[0]["name"] != "CC-BY-4.0" || d.Terms != "CC BY 4.0" || len(d.Contributors) != 1 || d.Contributors[0].Title != "Finch office" {
		t.Errorf("licences %v, terms %q, contributors %v", d.Licenses, d.Terms, d.Contributors)
	}
	if want := "Finch office, Finch County, 2026, version " + d.Version + ", made by Windrow 1.0."; d.Citation != want {
		t.Errorf("citation %q, want %q", d.Citation, want)
	}
	var titles []string
	for _, s := range d.Sources {
		titles = append(titles, s.Title)
	}
	for _, must := range []string{"Reports of the laboratory verrin", "key-a: ", "key-b: ", "key-e: "} {
		if !slices.ContainsFunc(titles, func(s string) bool { return strings.HasPrefix(s, must) }) {
			t.Errorf("no source %q among %q", must, titles)
		}
	}
	// Only the table of results, and that of samples, has a column of measured values that could be
	// summed; each number says its unit, or which column does.
	unitless := map[string]bool{}
	for _, r := range d.Resources {
		for _, f := range r.Schema.Fields {
			if f["group"] == "measured" && f["type"] == "number" && r.Name != "results" && r.Name != "wide" && f["name"] != "measured" {
				t.Errorf("%s: %v is said to be measured", r.Name, f["name"])
			}
			if f["type"] == "number" && f["unit"] == nil && f["unit_field"] == nil {
				unitless[r.Name+"."+f["name"].(string)] = true
			}
		}
	}
	if len(unitless) > 0 {
		t.Errorf("numbers without a unit: %v", unitless)
	}
}

// Each slip in a descriptor or a table is found, so that the check above can
// fail.
func TestDataPackageFaultsAreFound(t *testing.T) {
	good, _ := write(t, dataset.Options{Licence: "CC0 1.0"}, report(1), inEachTable(3))
	if f, _ := packageFaults(good); len(f) > 0 {
		t.Fatal(f)
	}
	for _, slip := range [][3]string{
		{"datapackage.json", `profiles/2.0`, `profiles/1.0`},
		{"datapackage.json", `"path": "results.csv"`, `"path": "../results.csv"`},
		{"datapackage.json", `"name": "estimates"`, `"name": "results"`},
		{"datapackage.json", `"hash": "sha256:`, `"hash": "sha256:0`},
		{"datapackage.json", `[0-9]{4}(-(0[1-9]`, `[0-9]{3}(-(0[1-9]`},
		{"datapackage.json", `"minimum": 1`, `"minimum": 2`},
		{"datapackage.json", `"name": "land_use"`, `"name": "landuse"`},
		{"datapackage.json", `"name": "CC0-1.0"`, `"name": "CC0 1.0"`},
		{"datapackage.json", `[0-9a-f]{20}`, `[0-9a-f]{19}`},
		{"datapackage.json", `"unit_field": "ucum"`, `"unit_field": "ucumm"`},
		{"datapackage.json", `"converted",`, ``},
		{"results.csv", "13.52", "13,52"},
	} {
		bad := map[string]string{}
		for n, s := range good {
			bad[n] = s
		}
		bad[slip[0]] = strings.Replace(bad[slip[0]], slip[1], slip[2], 1)
		if bad[slip[0]] == good[slip[0]] {
			t.Errorf("%q is not in %s", slip[1], slip[0])
		}
		if f, _ := packageFaults(bad); len(f) == 0 {
			t.Errorf("%q in place of %q in %s was not found", slip[2], slip[1], slip[0])
		}
	}
}

// Terms that name no open licence are never made one.
func TestLicenceIsNeverGuessed(t *testing.T) {
	for terms, want := range map[string]string{"": "", "CC BY": "", "CC BY-NC 4.0": "", "for the university alone": "", "cc-by-sa-4.0": "CC-BY-SA-4.0", "ODC-PDDL-1.0": "ODC-PDDL-1.0",
		"https://example.org/terms": "https://example.org/terms", "https://": "", "see https://example.org/terms": ""} {
		got, _ := write(t, dataset.Options{Licence: terms}, report(1))
		var d struct {
			Terms    string
			Licenses []struct{ Name, Path string }
		}
		if err := json.Unmarshal([]byte(got["datapackage.json"]), &d); err != nil {
			t.Fatal(err)
		}
		have := ""
		for _, l := range d.Licenses {
			have += l.Name + l.Path
		}
		if have != want || d.Terms == "" || terms != "" && d.Terms != terms {
			t.Errorf("%q: licence %q, want %q; terms %q", terms, have, want, d.Terms)
		}
	}
}

// The version follows the content: it is the same for the same tables and
// another where a value is another.
func TestPackageVersionFollowsContent(t *testing.T) {
	version := func(v normalize.Decimal) string {
		r := report(1)
		r.Records[0].Results[1].Value = v
		got, _ := write(t, dataset.Options{}, r)
		var d struct{ Version string }
		if err := json.Unmarshal([]byte(got["datapackage.json"]), &d); err != nil {
			t.Fatal(err)
		}
		return d.Version
	}
	if a, b := version("6.50"), version("6.50"); a != b || a == "" {
		t.Errorf("the same tables have versions %q and %q", a, b)
	}
	if a, b := version("6.50"), version("6.51"); a == b {
		t.Errorf("other tables have the same version %q", a)
	}
}
