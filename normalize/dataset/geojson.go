package dataset

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/ingest"
)

// MapFile is the name of the map of counties (GeoJSON, RFC 7946) that a dataset
// has where outlines were given.
const MapFile = "counties.geojson"

// A feature is one county with its outline as it was given and what the tables
// tell of it. The geometry is null for one that has no outline (RFC 7946,
// section 3.2).
type feature struct {
	Type       string         `json:"type"`
	ID         string         `json:"id"`
	Properties map[string]any `json:"properties"`
	Geometry   *geometry      `json:"geometry"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

type position []json.Number // longitude, latitude, and maybe a height

// A countyTest names what is told of one test by one method in one unit.
type countyTest struct{ analyte, detail, method, unit string }

// name is the beginning of the names of the properties of a test.
func (t countyTest) name() string {
	return wideTest{analyte: t.analyte, detail: t.detail, method: t.method, unit: t.unit}.stem()
}

// A spread counts the published values of one test in one county. It holds
// each value once.
type spread struct {
	n            int
	values       map[string]int // that are no limits
	below, above map[string]int // limits
}

// counties counts the rows of results.csv by county as they are published, so
// that it tells nothing that the table does not tell; and its groups are of as
// many clients as those of the table.
type counties struct {
	tests   map[string]map[countyTest]*spread
	samples map[string]int
	last    string // sample
	once    map[countyTest]bool
}

func newCounties() *counties {
	return &counties{tests: map[string]map[countyTest]*spread{}, samples: map[string]int{}, once: map[countyTest]bool{}}
}

// take counts a row; the rows of a sample come one after the other, and a test
// that it has more than once counts once.
func (c *counties) take(f []string) {
	county := f[colCounty]
	if f[colSample] != c.last {
		c.last = f[colSample]
		clear(c.once)
		c.samples[county]++
	}
	t := countyTest{f[colAnalyte], f[colDetail], f[colMethod], f[colUnit]}
	if f[colValue] == "" || f[colValueIs] == isEstimated || !plainNumber(f[colValue]) || c.once[t] {
		return
	}
	c.once[t] = true
	if c.tests[county] == nil {
		c.tests[county] = map[countyTest]*spread{}
	}
	s := c.tests[county][t]
	if s == nil {
		s = &spread{values: map[string]int{}, below: map[string]int{}, above: map[string]int{}}
		c.tests[county][t] = s
	}
	s.n++
	switch f[colCensored] {
	case "<":
		s.below[f[colValue]]++
	case ">":
		s.above[f[colValue]]++
	default:
		s.values[f[colValue]]++
	}
}

func total(m map[string]int) (n int) {
	for _, k := range m {
		n += k
	}
	return n
}

// median is the median of the values; "" where a limit could lie on either side
// of it, so that the values don't tell it.
func (s *spread) median() string {
	type step struct {
		at *apd.Decimal
		n  int
	}
	var steps []step
	for v, n := range s.values {
		d, _, err := apd.NewFromString(v)
		if err != nil {
			return ""
		}
		steps = append(steps, step{d, n})
	}
	slices.SortFunc(steps, func(x, y step) int { return x.at.Cmp(y.at) })
	below := total(s.below)
	at := func(i int) *apd.Decimal { // the i-th of all, from 0; nil for a limit
		if i -= below; i < 0 {
			return nil
		}
		for _, st := range steps {
			if i -= st.n; i < 0 {
				return st.at
			}
		}
		return nil
	}
	low, high := at((s.n-1)/2), at(s.n/2)
	if low == nil || high == nil {
		return ""
	}
	// It is certain only if all limits lie on their side of it.
	for v := range s.below {
		if d, _, err := apd.NewFromString(v); err != nil || d.Cmp(low) > 0 {
			return ""
		}
	}
	for v := range s.above {
		if d, _, err := apd.NewFromString(v); err != nil || d.Cmp(high) < 0 {
			return ""
		}
	}
	ctx := apd.BaseContext.WithPrecision(100)
	var sum, mid apd.Decimal
	if _, err := ctx.Add(&sum, low, high); err != nil {
		return ""
	}
	if _, err := ctx.Mul(&mid, &sum, apd.New(5, -1)); err != nil {
		return ""
	}
	mid.Reduce(&mid)
	return mid.Text('f')
}

// properties are what is told of a county, flat, as programs for maps want it.
func (c *counties) properties(name, county string, k int) map[string]any {
	p := map[string]any{"name": name, "samples": 0}
	switch n := c.samples[county]; {
	case n >= k:
		p["samples"] = n
	case n > 0:
		p["samples"] = nil
	}
	for t, s := range c.tests[county] {
		if s.n < k {
			continue // can't be, since their group in the table is no smaller
		}
		stem := t.name()
		p[stem+"__samples"] = s.n
		if n := total(s.below); n > 0 {
			p[stem+"__below_limit"] = n
		}
		if n := total(s.above); n > 0 {
			p[stem+"__above_limit"] = n
		}
		p[stem+"__median"] = nil
		if m := s.median(); m != "" {
			p[stem+"__median"] = json.Number(m)
		}
	}
	return p
}

// writeMap writes the map of counties.
func (c *counter) writeMap(dir string) error {
	outlines, err := readOutlines(c.opt.Outlines)
	if err != nil {
		return &passedOn{&ingest.Reason{Code: "dataset-outlines", Severity: ingest.Fail, What: "the map of the dataset can't be made of the outlines of counties", Expected: "a GeoJSON file (RFC 7946) with a Polygon or MultiPolygon for each county, and its name as the property name",
			Found: err.Error(), Next: "mend the file that county_map names, or move it away: then the dataset has no map"}}
	}
	left := map[string]bool{}
	for county := range c.places.samples {
		if county != "" && county != Suppressed {
			left[county] = true
		}
	}
	var features []feature
	for _, o := range outlines {
		mine := o.name
		for county := range left {
			if strings.EqualFold(county, text(o.name)) {
				mine = county
			}
		}
		delete(left, mine)
		features = append(features, feature{"Feature", o.name, c.places.properties(o.name, mine, c.opt.MinGroup), o.geometry})
	}
	for _, county := range slices.Sorted(maps.Keys(left)) {
		features = append(features, feature{"Feature", county, c.places.properties(county, county, c.opt.MinGroup), nil})
	}
	slices.SortStableFunc(features, func(x, y feature) int { return strings.Compare(x.ID, y.ID) })
	file := struct {
		Type     string    `json:"type"`
		Title    string    `json:"title"`
		Terms    string    `json:"terms"`
		About    string    `json:"about"`
		Unplaced int       `json:"samples_without_county"`
		Features []feature `json:"features"`
	}{"FeatureCollection", cmp.Or(c.opt.Title, noTitle), cmp.Or(c.opt.Licence, noLicence),
		"What results.csv tells of each county, by analyte, method and unit: samples with a value; how many of them are below or above a limit; and their median, null where limits leave it open. Estimates are not among them, and methods and units are never put together. A sample whose county is withheld or not known is in no county.",
		c.places.samples[""] + c.places.samples[Suppressed], features}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(file); err != nil {
		return err
	}
	return writeFile(filepath.Join(dir, MapFile), func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err })
}

// An outline is a county's.
type outline struct {
	name     string
	geometry *geometry
}

// readOutlines reads outlines and winds their rings as RFC 7946 wants it
// (section 3.1.6): those without counterclockwise, those of holes clockwise.
func readOutlines(b []byte) ([]outline, error) {
	var file struct {
		Type     string
		Features []struct {
			Properties map[string]any
			Geometry   *struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(b, &file); err != nil {
		return nil, errors.New("no JSON: " + ingest.Cause(err))
	}
	if file.Type != "FeatureCollection" || len(file.Features) == 0 {
		return nil, errors.New("no FeatureCollection with features")
	}
	var out []outline
	seen := map[string]bool{}
	for i, f := range file.Features {
		name := ""
		for key, v := range f.Properties {
			if s, ok := v.(string); ok && strings.EqualFold(key, "name") {
				name = strings.TrimSpace(s)
			}
		}
		switch {
		case name == "":
			return nil, fmt.Errorf("feature %d has no property name", i+1)
		case seen[strings.ToLower(name)]:
			return nil, fmt.Errorf("%s is there twice", name)
		case f.Geometry == nil:
			return nil, fmt.Errorf("%s has no geometry", name)
		}
		seen[strings.ToLower(name)] = true
		g := &geometry{Type: f.Geometry.Type}
		var polygons [][][]position
		var err error
		switch g.Type {
		case "Polygon":
			polygons = make([][][]position, 1)
			err = json.Unmarshal(f.Geometry.Coordinates, &polygons[0])
			g.Coordinates = polygons[0]
		case "MultiPolygon":
			err = json.Unmarshal(f.Geometry.Coordinates, &polygons)
			g.Coordinates = polygons
		default:
			return nil, fmt.Errorf("%s is a %q", name, g.Type)
		}
		if err != nil {
			return nil, fmt.Errorf("the coordinates of %s are none of a %s", name, g.Type)
		}
		for _, p := range polygons {
			if len(p) == 0 {
				return nil, fmt.Errorf("%s has a polygon without a ring", name)
			}
			for n, ring := range p {
				if err := wind(ring, n == 0); err != nil {
					return nil, fmt.Errorf("%s: %w", name, err)
				}
			}
		}
		if len(polygons) == 0 {
			return nil, fmt.Errorf("%s has no polygon", name)
		}
		out = append(out, outline{name, g})
	}
	return out, nil
}

// wind turns a ring so that it runs counterclockwise, or clockwise.
func wind(ring []position, counterclockwise bool) error {
	area := 0.0
	var px, py float64
	for i, at := range ring {
		if len(at) < 2 {
			return errors.New("a place that is no longitude and latitude")
		}
		x, err1 := strconv.ParseFloat(at[0].String(), 64)
		y, err2 := strconv.ParseFloat(at[1].String(), 64)
		if err1 != nil || err2 != nil || math.Abs(x) > 180 || math.Abs(y) > 90 {
			return errors.New("a place that is no longitude and latitude in degrees")
		}
		if i > 0 {
			area += px*y - x*py
		}
		px, py = x, y
	}
	if len(ring) < 4 || !slices.Equal(ring[0], ring[len(ring)-1]) {
		return errors.New("a ring that is not closed, or of fewer than four places")
	}
	if area == 0 {
		return errors.New("a ring without extent")
	}
	if (area > 0) != counterclockwise {
		slices.Reverse(ring)
	}
	return nil
}
