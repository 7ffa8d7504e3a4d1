package dataset_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

type geoFeature struct {
	Type       string
	ID         string `json:"id"`
	Properties map[string]any
	Geometry   *struct {
		Type        string
		Coordinates json.RawMessage
	}
}

type geoFile struct {
	Type     string
	Unplaced int `json:"samples_without_county"`
	Features []geoFeature
}

// mapOf reads a map and holds it against RFC 7946, section by section.
func mapOf(t *testing.T, s string) geoFile {
	t.Helper()
	var members map[string]any
	if err := json.Unmarshal([]byte(s), &members); err != nil {
		t.Fatal(err)
	}
	// Section 4 took crs away; section 7.1 forbids members of geometries here.
	for _, no := range []string{"crs", "geometry", "coordinates", "geometries", "properties"} {
		if _, is := members[no]; is {
			t.Errorf("the collection has a member %s", no)
		}
	}
	var f geoFile
	if err := json.Unmarshal([]byte(s), &f); err != nil || f.Type != "FeatureCollection" || f.Features == nil {
		t.Fatalf("no FeatureCollection (section 3.3): %v", err)
	}
	ids := map[string]bool{}
	for _, x := range f.Features {
		if x.Type != "Feature" || x.Properties == nil || ids[x.ID] || x.Properties["name"] != x.ID {
			t.Errorf("no Feature (section 3.2): %+v", x)
		}
		ids[x.ID] = true
		if x.Geometry == nil {
			continue // section 3.2: unlocated
		}
		var polygons [][][][]float64
		if x.Geometry.Type == "Polygon" {
			polygons = make([][][][]float64, 1)
			if err := json.Unmarshal(x.Geometry.Coordinates, &polygons[0]); err != nil {
				t.Fatal(err)
			}
		} else if err := json.Unmarshal(x.Geometry.Coordinates, &polygons); err != nil || x.Geometry.Type != "MultiPolygon" {
			t.Fatalf("%s, %v", x.Geometry.Type, err)
		}
		for _, p := range polygons {
			for i, ring := range p {
				last := len(ring) - 1
				if last < 3 || !slices.Equal(ring[0], ring[last]) {
					t.Fatalf("%s: a ring that is not closed (section 3.1.6)", x.ID)
				}
				// The place furthest west, and of those furthest south, is a
				// corner; there the ring turns left if it runs counterclockwise.
				at := 0
				for j := range last {
					if slices.Compare(ring[j], ring[at]) < 0 {
						at = j
					}
				}
				a, b, c := ring[(at+last-1)%last], ring[at], ring[(at+1)%last]
				if left := (b[0]-a[0])*(c[1]-b[1])-(b[1]-a[1])*(c[0]-b[0]) > 0; left != (i == 0) {
					t.Errorf("%s: ring %d runs the wrong way (section 3.1.6)", x.ID, i)
				}
			}
		}
	}
	return f
}

// The map tells of each county what the rows of the table say, counted here
// once more in another way; and nothing of a group that is smaller.
func TestMapOfCounties(t *testing.T) {
	outlines, err := os.ReadFile("../../cmd/internal/demo/office/counties.geojson")
	if err != nil {
		t.Fatal(err)
	}
	rs, _ := inventedArchive(400)
	got, sum := write(t, dataset.Options{MinGroup: 5, Outlines: outlines}, rs...)
	f := mapOf(t, got[dataset.MapFile])
	rows := table(t, got["results.csv"])
	samples, values, below, above := map[string]map[string]bool{}, map[string]map[string][]float64{}, map[string]map[string]int{}, map[string]map[string]int{}
	for _, r := range rows {
		c := r["county"]
		if samples[c] == nil {
			samples[c], values[c], below[c], above[c] = map[string]bool{}, map[string][]float64{}, map[string]int{}, map[string]int{}
		}
		samples[c][r["sample"]] = true
		if r["value"] == "" || r["value_is"] == "estimated" {
			continue
		}
		k := r["analyte"] + "__" + r["method"] + "__" + strings.ReplaceAll(r["unit"], "/", "_per_")
		v, err := strconv.ParseFloat(r["value"], 64)
		if err != nil {
			t.Fatal(err)
		}
		switch r["censored"] {
		case "<":
			below[c][k]++
			v = -1
		case ">":
			above[c][k]++
			v = 1e9
		}
		values[c][k] = append(values[c][k], v)
	}
	if n := len(samples[""]) + len(samples[dataset.Suppressed]); f.Unplaced != n || n == 0 {
		t.Errorf("%d samples in no county, %d in the table", f.Unplaced, n)
	}
	told, medians := 0, 0
	for _, x := range f.Features {
		if x.Geometry == nil {
			t.Errorf("%s has no outline", x.ID)
		}
		if n := len(samples[x.ID]); x.Properties["samples"] != float64(n) {
			t.Errorf("%s: %v samples, %d in the table", x.ID, x.Properties["samples"], n)
		}
		told += len(samples[x.ID])
		for k, vs := range values[x.ID] {
			if x.Properties[k+"__samples"] != float64(len(vs)) || len(vs) < 5 {
				t.Errorf("%s, %s: %v samples, %d in the table", x.ID, k, x.Properties[k+"__samples"], len(vs))
			}
			if n := below[x.ID][k]; n > 0 && x.Properties[k+"__below_limit"] != float64(n) {
				t.Errorf("%s, %s: %v below a limit, %d in the table", x.ID, k, x.Properties[k+"__below_limit"], n)
			}
			slices.Sort(vs)
			low, high := vs[(len(vs)-1)/2], vs[len(vs)/2]
			m, is := x.Properties[k+"__median"].(float64)
			if is {
				medians++
				if d := m - (low+high)/2; d > 1e-9 || d < -1e-9 {
					t.Errorf("%s, %s: median %v, of the table %v", x.ID, k, m, (low+high)/2)
				}
			} else if low > 1 && high < 1e9 { // all limits of the invented laboratories are below 1
				t.Errorf("%s, %s: no median of %d", x.ID, k, len(vs))
			}
		}
		if n := len(x.Properties); n < 2+2*len(values[x.ID]) || n > 2+4*len(values[x.ID]) {
			t.Errorf("%s has %d properties", x.ID, n)
		}
	}
	if told+f.Unplaced != sum.Samples || medians < 10 {
		t.Errorf("%d samples told of %d, %d medians", told+f.Unplaced, sum.Samples, medians)
	}
	if again, _ := write(t, dataset.Options{MinGroup: 5, Outlines: outlines}, rs...); again[dataset.MapFile] != got[dataset.MapFile] {
		t.Error("the same reports give another map")
	}
}

// A median is told only if the limits leave no doubt of it.
func TestMapOfLimits(t *testing.T) {
	square := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"NAME":"finch"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[0,1],[1,1],[1,0],[0,0]],[[0.2,0.2],[0.8,0.2],[0.8,0.8],[0.2,0.2]]]}}]}`
	for _, c := range []struct {
		values []string
		want   any
	}{
		{[]string{"1", "2", "3", "10", "20"}, 3.0},
		{[]string{"<1", "2", "3", "10", "20"}, 3.0},
		{[]string{"1", "2", "3", "10", ">20"}, 3.0},
		{[]string{"1.1", "2.2", "3.4", "10"}, 2.8},
		{[]string{"<5", "2", "3", "10", "20"}, nil}, // it may be below 2, or above 3
		{[]string{"<1", "<1", "<1", "10", "20"}, nil},
		{[]string{"1", "2", ">2", ">30", ">30"}, nil},
	} {
		rs := many(len(c.values), func(i int, rep *normalize.Report, rec *normalize.Record) {
			res := rec.Results[1]
			v := strings.TrimLeft(c.values[i], "<>")
			res.Value, res.Printed.Number, res.Censored = normalize.Decimal(v), normalize.Decimal(v), strings.TrimSuffix(c.values[i], v)
			rec.Results = rec.Results[1:]
		})
		got, _ := write(t, dataset.Options{Outlines: []byte(square)}, rs...)
		f := mapOf(t, got[dataset.MapFile])
		if m := f.Features[0].Properties["P__mehlich-3-icp__mg_per_kg__median"]; m != c.want || f.Features[0].Properties["samples"] != float64(len(c.values)) {
			t.Errorf("%v: %v, want %v; %v", c.values, m, c.want, f.Features[0].Properties)
		}
	}
	// A county without an outline is there without a geometry.
	got, _ := write(t, dataset.Options{Outlines: []byte(strings.ReplaceAll(square, "finch", "Wren"))}, many(8, nil)...)
	f := mapOf(t, got[dataset.MapFile])
	if len(f.Features) != 2 || f.Features[0].ID != "Finch" || f.Features[0].Geometry != nil || f.Features[0].Properties["samples"] != 8.0 || f.Features[1].Properties["samples"] != 0.0 {
		t.Errorf("%+v", f.Features)
	}
}

// Outlines that are none are refused, with what is wrong, and nothing is
// written; a dataset without them has no map, nor that of an earlier one.
func TestMapRefuses(t *testing.T) {
	for bad, want := range map[string]string{
		`{`:                            "no JSON",
		`{"type":"FeatureCollection"}`: "no FeatureCollection with features",
		outlineOf(`Polygon`, `[[[0,0],[0,1],[1,1]]]`):                                                            "not closed",
		outlineOf(`Polygon`, `[[[0,0],[0,1],[1,1],[0,2]]]`):                                                      "not closed",
		outlineOf(`Polygon`, `[[[0,0],[0,1],[0,2],[0,0]]]`):                                                      "without extent",
		outlineOf(`Polygon`, `[[[0,0],[0,91],[1,1],[0,0]]]`):                                                     "degrees",
		outlineOf(`Polygon`, `[[[0],[0],[0],[0]]]`):                                                              "no longitude",
		outlineOf(`Polygon`, `[]`):                                                                               "without a ring",
		outlineOf(`MultiPolygon`, `[]`):                                                                          "no polygon",
		outlineOf(`MultiPolygon`, `[[[0,0],[0,1],[1,1],[0,0]]]`):                                                 "none of a MultiPolygon",
		outlineOf(`Point`, `[0,0]`):                                                                              `"Point"`,
		strings.Replace(outlineOf(`Polygon`, `[]`), "name", "n", 1):                                              "no property name",
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":null}]}`: "no geometry",
	} {
		dir := t.TempDir()
		_, err := dataset.Write(dir, all(many(8, nil)...), dataset.Options{Key: key, Outlines: []byte(bad)})
		var r *ingest.Reason
		if !errors.As(err, &r) || r.Code != "dataset-outlines" || !strings.Contains(r.Found, want) {
			t.Errorf("%s: %v, want %s", bad, err, want)
		}
		if es, _ := os.ReadDir(dir); len(es) != 0 {
			t.Errorf("%s: files were written", bad)
		}
	}
	dir := t.TempDir()
	for _, opt := range []dataset.Options{{Key: key, Outlines: []byte(outlineOf(`Polygon`, `[[[0,0],[0,1],[1,1],[0,0]]]`)), Provenance: true, Published: "2026-06-01"}, {Key: key}} {
		if _, err := dataset.Write(dir, all(many(8, nil)...), opt); err != nil {
			t.Fatal(err)
		}
		for _, name := range dataset.Extras {
			if _, err := os.Stat(filepath.Join(dir, name)); (err == nil) != (opt.Provenance || name == dataset.ResultsBook) {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

func outlineOf(kind, coordinates string) string {
	return fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":{"type":%q,"coordinates":%s}}]}`, kind, coordinates)
}

// The account of where the files come from is a document of PROV-JSON (W3C
// Member Submission, 24 April 2013, its structure from memory): every relation
// names elements that are there, every file was generated and derived from
// what leads back to the records, no file from itself; and it tells nothing of
// a client. The crate is as RO-Crate 1.1, sections "Root Data Entity" and "Data
// entities", wants it (from memory).
func TestProvenance(t *testing.T) {
	rs := []*normalize.Report{report(1), inEachTable(3)}
	opt := dataset.Options{Title: "Finch, 2026", Office: "Finch office", Licence: "https://example.org/terms", Version: "1.0", Provenance: true, Published: "2026-06-01",
		Outlines: []byte(outlineOf(`Polygon`, `[[[0,0],[0,1],[1,1],[0,0]]]`))}
	got, sum := write(t, opt, rs...)
	var doc map[string]map[string]json.RawMessage
	if err := json.Unmarshal([]byte(got[dataset.ProvenanceFile]), &doc); err != nil {
		t.Fatal(err)
	}
	ends := map[string][2][2]string{ // of each relation: attribute, and kind of element
		"wasGeneratedBy":    {{"prov:entity", "entity"}, {"prov:activity", "activity"}},
		"used":              {{"prov:activity", "activity"}, {"prov:entity", "entity"}},
		"wasDerivedFrom":    {{"prov:generatedEntity", "entity"}, {"prov:usedEntity", "entity"}},
		"wasAssociatedWith": {{"prov:activity", "activity"}, {"prov:agent", "agent"}},
		"wasAttributedTo":   {{"prov:entity", "entity"}, {"prov:agent", "agent"}},
		"actedOnBehalfOf":   {{"prov:delegate", "agent"}, {"prov:responsible", "agent"}},
	}
	from, made := map[string][]string{}, map[string]bool{}
	for kind, elements := range doc {
		ids := slices.Collect(maps.Keys(elements))
		for _, id := range ids {
			switch prefix, local, ok := strings.Cut(id, ":"); {
			case kind == "prefix":
			case !ok || local == "" || doc["prefix"][prefix] == nil && prefix != "_":
				t.Errorf("%s has a name of no namespace: %s", kind, id)
			}
		}
		e, is := ends[kind]
		if !is {
			if !slices.Contains([]string{"prefix", "entity", "activity", "agent"}, kind) {
				t.Errorf("a member %s", kind)
			}
			continue
		}
		for id, raw := range elements {
			var a map[string]string
			if err := json.Unmarshal(raw, &a); err != nil {
				t.Fatal(err)
			}
			for _, end := range e {
				if doc[end[1]][a[end[0]]] == nil {
					t.Errorf("%s %s: %s %q is no %s", kind, id, end[0], a[end[0]], end[1])
				}
			}
			switch kind {
			case "wasDerivedFrom":
				from[a["prov:generatedEntity"]] = append(from[a["prov:generatedEntity"]], a["prov:usedEntity"])
			case "wasGeneratedBy":
				made[a["prov:entity"]] = true
			}
		}
	}
	for name := range got {
		if name == dataset.ProvenanceFile || name == dataset.CrateFile {
			continue
		}
		at := "dataset:" + name
		var about map[string]any
		if err := json.Unmarshal(doc["entity"][at], &about); err != nil || !made[at] {
			t.Errorf("%s is not in the account: %v", name, err)
			continue
		}
		for steps := 0; at != "dataset:records"; steps++ {
			if len(from[at]) != 1 || steps > 4 {
				t.Fatalf("%s leads to %s, which is of %q", name, at, from[at])
			}
			at = from[at][0]
		}
		if name == "results.csv" && about["dataset:hash"] != "sha256:"+sum.SHA256 {
			t.Errorf("%v", about)
		}
	}
	if len(from["dataset:records"]) < 3 {
		t.Errorf("the records are of %q", from["dataset:records"])
	}
	for _, name := range dataset.Extras {
		for _, s := range append(secrets, rs[0].ID, rs[1].ID) {
			if strings.Contains(got[name], s) {
				t.Errorf("%s tells %q", name, s)
			}
		}
	}
	var crate struct {
		Context string           `json:"@context"`
		Graph   []map[string]any `json:"@graph"`
	}
	if err := json.Unmarshal([]byte(got[dataset.CrateFile]), &crate); err != nil || crate.Context != "https://w3id.org/ro/crate/1.1/context" {
		t.Fatal(crate.Context, err)
	}
	by := map[string]map[string]any{}
	for _, e := range crate.Graph {
		id, _ := e["@id"].(string)
		if id == "" || e["@type"] == nil || by[id] != nil {
			t.Errorf("%v", e)
		}
		by[id] = e
	}
	if d := by[dataset.CrateFile]; fmt.Sprint(d["about"], d["conformsTo"]) != "map[@id:./] map[@id:https://w3id.org/ro/crate/1.1]" {
		t.Errorf("%v", d)
	}
	root := by["./"]
	if root["@type"] != "Dataset" || root["name"] != "Finch, 2026" || root["datePublished"] != "2026-06-01" || root["description"] == "" || fmt.Sprint(root["license"]) != "map[@id:https://example.org/terms]" || by["https://example.org/terms"] == nil || by["#office"] == nil {
		t.Errorf("%v", root)
	}
	parts, _ := root["hasPart"].([]any)
	if len(parts) != len(got)-1 {
		t.Errorf("%d parts of %d files", len(parts), len(got))
	}
	for _, p := range parts {
		id, _ := p.(map[string]any)["@id"].(string)
		if _, is := got[id]; !is || by[id]["@type"] != "File" || by[id]["encodingFormat"] == "" || by[id]["contentSize"] != strconv.Itoa(len(got[id])) {
			t.Errorf("%s: %v", id, by[id])
		}
	}
}
