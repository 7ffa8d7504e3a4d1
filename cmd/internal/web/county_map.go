package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// What a file of outlines may be: bytes of it, places, and how wide a drawing is.
const (
	mostOutline = 8 << 20
	mostPlaces  = 200_000
	mapWide     = 440.0
	mapTallest  = 560.0
)

// An area is a county's outline, ready to be drawn.
type area struct {
	Name string
	Path string  // of an SVG
	X, Y float64 // where its name stands
}

// A chart of areas, in units of the drawing.
type outlineMap struct {
	Areas      []area
	Wide, High float64
}

// outlines keeps what was read of the office's file until the file changes.
type outlines struct {
	mu   sync.Mutex
	at   time.Time
	size int64
	made *outlineMap
	err  *ingest.Reason
}

// get gives the office's outlines; nil where it has none. The reason says what
// is wrong with the file.
func (o *outlines) get(path string) (*outlineMap, *ingest.Reason) {
	fi, err := os.Stat(path)
	if path == "" || errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	bad := func(found string) *ingest.Reason {
		return &ingest.Reason{Code: "outlines", Severity: ingest.Flag, Where: ingest.Place{File: path}, What: "the map of counties can't be drawn", Expected: "a GeoJSON file (RFC 7946) with a Polygon or MultiPolygon for each county, and its name as the property name", Found: found, Next: "mend the file, or correct county_map in windrow.yaml; all else of the page is as it was"}
	}
	if err != nil {
		return nil, bad(ingest.Cause(err))
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.at.Equal(fi.ModTime()) && o.size == fi.Size() && (o.made != nil || o.err != nil) {
		return o.made, o.err
	}
	o.at, o.size, o.made, o.err = fi.ModTime(), fi.Size(), nil, nil
	switch {
	case !fi.Mode().IsRegular():
		o.err = bad("no plain file")
	case fi.Size() > mostOutline:
		o.err = bad("a file of " + ingest.Size(fi.Size()))
	default:
		b, err := os.ReadFile(path)
		if err == nil {
			o.made, err = drawOutlines(b)
		}
		if err != nil {
			o.err = bad(err.Error())
		}
	}
	return o.made, o.err
}

// A geometry of GeoJSON, as far as it is drawn.
type geometry struct {
	Type        string
	Coordinates json.RawMessage
}

type ring [][]float64 // places as longitude and latitude, and maybe a height

// drawOutlines makes a drawing of a GeoJSON file: longitudes drawn shorter by
// the cosine of the middle latitude, so that a county looks as it does on the
// ground. Its errors are clauses for people.
func drawOutlines(b []byte) (*outlineMap, error) {
	var file struct {
		Type     string
		Features []struct {
			Properties map[string]any
			Geometry   *geometry
		}
	}
	if err := json.Unmarshal(b, &file); err != nil {
		return nil, errors.New("no JSON: " + ingest.Cause(err))
	}
	if file.Type != "FeatureCollection" || len(file.Features) == 0 {
		return nil, errors.New("no FeatureCollection with features")
	}
	type shape struct {
		name  string
		rings []ring
	}
	var shapes []shape
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	places := 0
	for i, f := range file.Features {
		s := shape{}
		for key, v := range f.Properties {
			if text, ok := v.(string); ok && strings.EqualFold(key, "name") {
				s.name = strings.TrimSpace(text)
			}
		}
		if s.name == "" {
			return nil, fmt.Errorf("feature %d has no property name", i+1)
		}
		var polygons [][]ring
		switch {
		case f.Geometry == nil:
			return nil, fmt.Errorf("%s has no geometry", s.name)
		case f.Geometry.Type == "Polygon":
			polygons = make([][]ring, 1)
			if err := json.Unmarshal(f.Geometry.Coordinates, &polygons[0]); err != nil {
				return nil, fmt.Errorf("the coordinates of %s are none of a Polygon", s.name)
			}
		case f.Geometry.Type == "MultiPolygon":
			if err := json.Unmarshal(f.Geometry.Coordinates, &polygons); err != nil {
				return nil, fmt.Errorf("the coordinates of %s are none of a MultiPolygon", s.name)
			}
		default:
			return nil, fmt.Errorf("%s is a %q", s.name, f.Geometry.Type)
		}
		for _, p := range polygons {
			s.rings = append(s.rings, p...)
		}
		for _, r := range s.rings {
			for _, at := range r {
				if places++; places > mostPlaces {
					return nil, fmt.Errorf("more than %s places", thousands(mostPlaces))
				}
				if len(at) < 2 || math.Abs(at[0]) > 180 || math.Abs(at[1]) > 90 {
					return nil, fmt.Errorf("a place of %s that is no longitude and latitude in degrees", s.name)
				}
				west, east, south, north = math.Min(west, at[0]), math.Max(east, at[0]), math.Min(south, at[1]), math.Max(north, at[1])
			}
		}
		shapes = append(shapes, s)
	}
	if places == 0 || east == west || north == south {
		return nil, errors.New("outlines without extent")
	}
	narrower := math.Max(0.05, math.Cos((south+north)/2*math.Pi/180))
	scale := math.Min((mapWide-4)/((east-west)*narrower), (mapTallest-4)/(north-south))
	m := &outlineMap{Wide: (east-west)*narrower*scale + 4, High: (north-south)*scale + 4}
	for _, s := range shapes {
		a := area{Name: s.name}
		var path strings.Builder
		largest := 0.0
		for _, r := range s.rings {
			left, right, top, foot := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
			sum, cx, cy := 0.0, 0.0, 0.0
			px, py := 0.0, 0.0
			for j, at := range r {
				x, y := (at[0]-west)*narrower*scale+2, (north-at[1])*scale+2
				c := "L"
				if j == 0 {
					c = "M"
				} else {
					k := px*y - x*py
					sum, cx, cy = sum+k, cx+(px+x)*k, cy+(py+y)*k
				}
				px, py = x, y
				fmt.Fprintf(&path, "%s%.1f %.1f", c, x, y)
				left, right, top, foot = math.Min(left, x), math.Max(right, x), math.Min(top, y), math.Max(foot, y)
			}
			path.WriteString("Z")
			// The name stands at the middle of the largest part.
			if size := math.Abs(sum); size > largest && size > 0 {
				largest, a.X, a.Y = size, cx/(3*sum), cy/(3*sum)
				a.X, a.Y = math.Max(left, math.Min(right, a.X)), math.Max(top, math.Min(foot, a.Y))
			}
		}
		a.Path = path.String()
		m.Areas = append(m.Areas, a)
	}
	return m, nil
}
