package mappings

import (
	"reflect"
	"testing"

	"example.org/windrow/ingest"
)

func atomsOf(words ...string) []*atom {
	var out []*atom
	l := &line{}
	x := 0.0
	for _, w := range words {
		width := float64(len(w)) * 5
		out = append(out, &atom{text: w, box: ingest.Box{X0: x, Y0: 0, X1: x + width, Y1: 10}, writing: &writing{base: 9, size: 10}, line: l})
		x += width + 3
	}
	l.atoms = out
	return out
}

func TestPattern(t *testing.T) {
	cases := []struct {
		pattern string
		words   []string
		want    map[string]string // nil: not found
	}{
		{"Soil pH", []string{"Soil", "pH", "6.4"}, map[string]string{}},
		{"Ca", []string{"Calcium", "3"}, nil},
		{"Ca", []string{"MgCa", "3"}, nil},
		{"pH is {result}.", []string{"Your", "pH", "is", "6.4.", "Thank", "you"}, map[string]string{"result": "6.4"}},
		{"pH is {result}", []string{"Your", "pH", "is", "6.4", "today"}, map[string]string{"result": "6.4"}},
		{"lead: {result} ppm Rating: {rating}. This", []string{"lead:", "22", "ppm", "Rating:", "Above", "Optimum.", "This", "is"}, map[string]string{"result": "22", "rating": "Above Optimum"}},
		{"sheet # of #", []string{"sheet", "1", "of", "4"}, map[string]string{}},
		{"sheet # of #", []string{"sheet", "one", "of", "4"}, nil},
		{"Certificate {report_no}, sheet", []string{"Certificate", "of", "MB-1,", "sheet"}, map[string]string{"report_no": "of MB-1"}},
		{"Lab \\# {lab_sample_id}", []string{"Lab", "#", "17"}, map[string]string{"lab_sample_id": "17"}},
		{"a (b) [c] +", []string{"a", "(b)", "[c]", "+"}, map[string]string{}},
		{"Growers' Co-op", []string{"Growers\u2019", "Co\u2013op"}, nil}, // places of a report are normalised when read, see below
	}
	for _, c := range cases {
		p, err := newPattern(c.pattern, ingest.Place{})
		if err != nil {
			t.Fatalf("%q: %v", c.pattern, err)
		}
		hits := find(p, atomsOf(c.words...))
		if c.want == nil {
			if len(hits) > 0 {
				t.Errorf("%q found in %v", c.pattern, c.words)
			}
			continue
		}
		if len(hits) != 1 || !reflect.DeepEqual(hits[0].texts, c.want) {
			t.Errorf("%q in %v: got %v, want %v", c.pattern, c.words, hits, c.want)
		}
	}
	for _, bad := range []string{"", "  ", "{", "{}", "a {x} {x}"} {
		if _, err := newPattern(bad, ingest.Place{}); err == nil {
			t.Errorf("the pattern %q was accepted", bad)
		}
	}
}

func TestOptionalPlaceholder(t *testing.T) {
	p, err := newPattern("{result} {rating?}", ingest.Place{})
	if err != nil {
		t.Fatal(err)
	}
	for in, want := range map[string][2]string{"53 H": {"53", "H"}, "53": {"53", ""}, "1 Very high": {"1", "Very high"}} {
		got, ok := p.matchWhole(in)
		if !ok || got["result"] != want[0] || got["rating"] != want[1] {
			t.Errorf("%q: got %v %v", in, got, ok)
		}
	}
}

func TestNormalise(t *testing.T) {
	for in, want := range map[string]string{
		"  a \u00a0 b\n": "a b", "0\u20136": "0-6", "Growers\u2019": "Growers'", "\u00b5g": "\u03bcg", "\ufeffLab": "Lab", "co\u00adop": "coop",
	} {
		if got := normalise(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

func TestUnitBehindItsNumber(t *testing.T) {
	p, err := newPattern("{result} {unit?}", ingest.Place{})
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string][2]string{
		"72%": {"72", "%"}, "5.3ppm": {"5.3", "ppm"}, "<0.5 mg/kg": {"<0.5", "mg/kg"}, "6.4": {"6.4", ""},
		// A word that stands for no value is not an N with a unit D.
		"ND ppm": {"ND", "ppm"}, "ND": {"ND", ""}, "ND%": {"ND%", ""},
	} {
		got, ok := p.matchWhole(text)
		if !ok || got["result"] != want[0] || got["unit"] != want[1] {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}
