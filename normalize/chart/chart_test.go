package chart

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"image/png"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/normalize/censored"
)

var update = flag.Bool("update", false, "write the golden drawings")

// sets are the values that the tests of the package censored hold against R.
func sets(t *testing.T) map[string][]censored.Value {
	t.Helper()
	b, err := os.ReadFile("../censored/testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []struct {
		Name  string
		X     []float64
		Below []bool
	}
	if err := json.Unmarshal(b, &list); err != nil {
		t.Fatal(err)
	}
	out := map[string][]censored.Value{}
	for _, l := range list {
		for i, x := range l.X {
			v := censored.Value{X: x}
			if l.Below[i] {
				v.Side = censored.Below
			}
			out[l.Name] = append(out[l.Name], v)
		}
	}
	return out
}

func row(t *testing.T, label string, whole bool, values []censored.Value) Row {
	t.Helper()
	d, err := censored.Describe(values)
	if err != nil {
		t.Fatal(err)
	}
	return Row{Label: label, Description: d, Whole: whole}
}

func rowsOf(t *testing.T) []Row {
	s := sets(t)
	above := slices.Clone(s["few"])
	for i := range above {
		if above[i].Side == censored.Measured && above[i].X > 8 {
			above[i] = censored.Value{X: 8, Side: censored.Above}
		}
	}
	return []Row{row(t, "three limits", true, s["three_limits"]), row(t, "most below", false, s["many_below"]), row(t, "above, too", true, above), row(t, "two", true, s["none_below"][:2])}
}

// The drawings are as they were looked at.
func TestGoldenDrawings(t *testing.T) {
	for name, d := range map[string]*Drawing{"boxes": Boxes("lead: Mehlich-3, mg/kg", "lead, mg/kg", rowsOf(t)), "curves": Curves("lead: Mehlich-3, mg/kg", "lead, mg/kg", rowsOf(t))} {
		at := "testdata/" + name + ".svg"
		if *update {
			if err := os.WriteFile(at, d.SVG(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(at)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(want, d.SVG()) {
			t.Errorf("%s is another; look at both, then go test ./normalize/chart -update", at)
		}
	}
}

// A drawing is sound XML, says what it is to those who don't see it, has no
// colour, and takes no text for markup.
func TestSVG(t *testing.T) {
	evil := "\"><script>alert(1)</script>&\x00\xff]]>"
	rows := rowsOf(t)
	rows[0].Label = evil
	for _, d := range []*Drawing{Boxes(evil, evil, rows), Curves(evil, evil, rows)} {
		svg := d.SVG()
		dec := xml.NewDecoder(bytes.NewReader(svg))
		names := map[string]int{}
		for {
			tok, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%v\n%s", err, svg)
			}
			if e, ok := tok.(xml.StartElement); ok {
				names[e.Name.Local]++
				for _, a := range e.Attr {
					if strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "alert") {
						t.Errorf("attribute %s=%q", a.Name.Local, a.Value)
					}
				}
			}
		}
		if names["script"] > 0 || names["title"] != 1 || names["desc"] != 1 || names["text"] < 10 || !bytes.Contains(svg, []byte(`role="img"`)) {
			t.Errorf("elements: %v", names)
		}
		for _, c := range regexp.MustCompile(`#[0-9a-f]{6}`).FindAllString(string(svg), -1) {
			if c[1:3] != c[3:5] || c[3:5] != c[5:7] {
				t.Errorf("%s is a colour", c)
			}
		}
	}
}

// A picture is what the drawing is, in dots: of its size, and dark where ink is.
func TestPNG(t *testing.T) {
	d := Boxes("lead", "mg/kg", rowsOf(t))
	b, err := d.PNG(2)
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.PNG(2)
	if err != nil || !bytes.Equal(b, again) {
		t.Errorf("drawn twice it is two pictures, %v", err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if s := img.Bounds().Size(); s.X != int(2*d.Wide) || s.Y != int(2*d.High) {
		t.Errorf("%v dots, for %v by %v units", s, d.Wide, d.High)
	}
	seen := 0
	for _, it := range d.items {
		s, ok := it.(stroke)
		if !ok || s.ink != black || s.dash > 0 || s.width < 1 {
			continue
		}
		m := point{(s.points[0].x + s.points[1].x) / 2, (s.points[0].y + s.points[1].y) / 2}
		if r, _, _, _ := img.At(int(2*m.x), int(2*m.y)).RGBA(); r > 0x9000 {
			t.Errorf("no ink in the middle of %v", s)
		}
		seen++
	}
	if seen < 20 {
		t.Errorf("looked at %d strokes only", seen)
	}
	if r, _, _, _ := img.At(3, 3).RGBA(); r != 0xffff {
		t.Error("the paper is not white")
	}
}

// Where only a limit is known there is no line of a box, a whisker or a curve,
// but hatching.
func TestNothingIsDrawnBelowALimit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(5, 60).Draw(rt, "n")
		limits := rapid.SliceOfN(rapid.Float64Range(1, 30), 1, 3).Draw(rt, "limits")
		var values []censored.Value
		for i := range n {
			x, l := rapid.Float64Range(0.5, 60).Draw(rt, "x"), limits[i%len(limits)]
			if x < l {
				values = append(values, censored.Value{X: l, Side: censored.Below})
			} else {
				values = append(values, censored.Value{X: x})
			}
		}
		d, err := censored.Describe(values)
		if err != nil {
			rt.Fatal(err)
		}
		rows := []Row{{Label: "x", Description: d, Whole: rapid.Bool().Draw(rt, "whole")}}
		a := axisOf(rows, 100, 600, false)
		if a == nil {
			return
		}
		dr := &Drawing{}
		drawBox(dr, a, &rows[0], 50)
		edge, hatched := a.from, 0
		if d.Curve.Rest > 0 {
			edge = a.at(d.Curve.RestLimit)
		}
		for _, it := range dr.items {
			switch it := it.(type) {
			case stroke:
				if it.ink == grey {
					hatched++
					continue
				}
				for _, p := range it.points {
					if p.x < edge-0.01 {
						rt.Errorf("a line at %v, the limit is at %v: %+v", p.x, edge, d)
					}
				}
			case area:
				for _, p := range it.points {
					if it.ink == black && p.x < edge-4.01 || it.ink == white && p.x < edge-0.01 {
						rt.Errorf("an area at %v, the limit is at %v", p.x, edge)
					}
				}
			}
		}
		if d.Median.Given() && edge > a.from+1 && hatched == 0 {
			rt.Errorf("nothing is hatched though %d of %d are below limits", d.Below, d.N)
		}
		if len(rows[0].steps()) == 0 {
			return
		}
		for _, p := range outline(a, &rows[0], func(p float64) float64 { return p }) {
			if p.x < edge-0.01 {
				rt.Errorf("the curve begins at %v, the limit is at %v", p.x, edge)
			}
		}
	})
}

// Whoever may not see single values does not see the lowest and the highest
// tenth.
func TestEndsAreNotDrawn(t *testing.T) {
	r := row(t, "x", false, sets(t)["none_below"])
	low, high := r.Curve.Steps[0].X, r.Curve.Steps[len(r.Curve.Steps)-1].X
	steps := r.steps()
	if len(steps) < 20 || steps[0].X <= low || steps[len(steps)-1].X >= high {
		t.Errorf("%d steps of %d, from %v to %v", len(steps), len(r.Curve.Steps), steps[0].X, steps[len(steps)-1].X)
	}
	if few := row(t, "x", false, sets(t)["none_below"][:8]); len(few.steps()) != 0 {
		t.Error("single values of eight are drawn")
	}
}

// An axis has a place for each value, and rising marks.
func TestAxis(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var values []censored.Value
		for range rapid.IntRange(5, 20).Draw(rt, "n") {
			values = append(values, censored.Value{X: rapid.Float64Range(1e-3, 1e4).Draw(rt, "x")})
		}
		d, err := censored.Describe(values)
		if err != nil {
			rt.Fatal(err)
		}
		a := axisOf([]Row{{Description: d, Whole: true}}, 50, 500, true)
		last := a.from
		slices.SortFunc(values, func(x, y censored.Value) int {
			if x.X < y.X {
				return -1
			}
			return 1
		})
		for _, v := range values {
			p := a.at(v.X)
			if p < last || p > a.to || v.X < a.low*(1-1e-9) || v.X > a.high*(1+1e-9) {
				rt.Errorf("%v is at %v, after %v, on an axis from %v to %v", v.X, p, last, a.low, a.high)
			}
			last = p
		}
		at, texts := a.ticks()
		if len(at) < 2 || len(at) > 40 {
			rt.Errorf("%d ticks: %v", len(at), texts)
		}
		for i := 1; i < len(at); i++ {
			if at[i] <= at[i-1] || texts[i] == texts[i-1] {
				rt.Errorf("ticks %v", texts)
			}
		}
	})
	if Boxes("x", "y", []Row{row(t, "none", true, nil)}) != nil || Curves("x", "y", nil) != nil {
		t.Error("nothing was drawn")
	}
	if d := Boxes("x", "y", []Row{row(t, "same", true, []censored.Value{{X: 5}, {X: 5}, {X: 5}, {X: 5}, {X: 5}})}); d == nil {
		t.Error("values that are all the same are not drawn")
	}
}
