package web

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/windrow/normalize/censored"
	"example.org/windrow/normalize/summary"
)

// By no two views of a frame can a group be worked out, as the one less the
// other, that is smaller than what may be shown: of all pairs of choices where
// the one holds the other, the difference is nothing or large enough.
func TestNoSmallGroupByDifference(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 7))
		f := &frame{}
		for _, w := range []*summary.Wordlist{&f.years, &f.counties, &f.uses, &f.labs, &f.rate} {
			w.Of("")
		}
		for y := range 3 {
			f.years.Of(fmt.Sprint(2024 + y))
		}
		for _, c := range []string{"Finch", "Quarry", "Wren"} {
			f.counties.Of(c)
		}
		f.uses.Of("lawn")
		f.uses.Of("orchard")
		for range 40 + rng.IntN(140) {
			// Uneven, so that groups of all sizes are there.
			skew := func(n int) uint16 { return uint16(float64(n) * math.Pow(rng.Float64(), 2)) }
			f.spots = append(f.spots, spot{year: 1 + skew(3), county: skew(4), use: skew(3), client: int32(rng.IntN(25)), value: float64(len(f.spots))})
		}
		f.hide()
		sets := map[choice]map[float64]bool{}
		for _, c := range f.counties.List {
			for _, u := range f.uses.List {
				for _, from := range f.years.List {
					for _, to := range f.years.List {
						x := choice{c, u, from, to}
						sets[x] = map[float64]bool{}
						f.pick(x, func(s *spot) { sets[x][s.value] = true })
					}
				}
			}
		}
		// What the table of counties shows of everything.
		for y := range f.years.List {
			x := choice{"by county", "", f.years.List[y], f.years.List[y]}
			sets[x] = map[float64]bool{}
			f.pickByCounty(choice{From: f.years.List[y], To: f.years.List[y]}, func(_ string, s *spot) { sets[x][s.value] = true })
		}
		shown := 0
		for a, small := range sets {
			for b, large := range sets {
				p := &summary.Pile{}
				if len(small) > len(large) {
					continue
				}
				inside := true
				for v := range small {
					inside = inside && large[v]
				}
				if !inside {
					continue
				}
				for v := range large {
					if !small[v] {
						p.Add(f.spots[int(v)].client)
					}
				}
				if p.N > 0 {
					shown++
				}
				if p.N > 0 && !p.Enough(smallest) {
					t.Fatalf("seed %d: %+v less %+v is %d samples of %d clients", seed, b, a, p.N, p.Clients())
				}
			}
		}
		if shown == 0 && len(f.spots) > 100 {
			t.Errorf("seed %d: nothing is shown of %d samples", seed, len(f.spots))
		}
	}
}

// R, quantile(1:10) and quantile(c(2, 4, 4, 5, 7, 9, 11, 12, 13)), whose
// default is type 7: 3.25 5.5 7.75; 4 7 11. The definition is that of Hyndman
// and Fan; the values are from memory, and follow from it by hand.
func TestQuartiles(t *testing.T) {
	for _, x := range []struct{ in, want []float64 }{
		{[]float64{10, 1, 9, 2, 8, 3, 7, 4, 6, 5}, []float64{3.25, 5.5, 7.75}},
		{[]float64{13, 2, 4, 4, 5, 7, 9, 11, 12}, []float64{4, 7, 11}},
		{[]float64{6.5}, []float64{6.5, 6.5, 6.5}},
	} {
		var values []censored.Value
		for _, v := range x.in {
			values = append(values, censored.Value{X: v})
		}
		s := spreadOf(values)
		if s.N != len(x.in) || !slices.Equal([]float64{s.Q1.X, s.Mid.X, s.Q3.X}, x.want) {
			t.Errorf("%v: %v %v %v, want %v", x.in, s.Q1, s.Mid, s.Q3, x.want)
		}
	}
}

// A limit is no value: of 4 in 10 below 5 the lowest quarter is below 5, and no
// more is known of it; where most are below, the middle is as well.
func TestQuartilesBelowALimit(t *testing.T) {
	values := make([]censored.Value, 10)
	for i := range values {
		if values[i] = (censored.Value{X: 5, Side: censored.Below}); i >= 4 {
			values[i] = censored.Value{X: float64(5 + i)}
		}
	}
	s := spreadOf(values)
	if got := []string{numeral(s.Q1), numeral(s.Mid), numeral(s.Q3)}; !slices.Equal(got, []string{"<5.00", "9.50", "12.0"}) || s.Below != 4 || !s.drawn() {
		t.Errorf("%v of %+v", got, s)
	}
	for i := range 6 {
		values[i] = censored.Value{X: 5, Side: censored.Below}
	}
	if s = spreadOf(values); numeral(s.Mid) != "<5.00" || numeral(s.Q3) != "12.0" {
		t.Errorf("%+v", s)
	}
	// Two measured values are too few for a figure that is none of a limit.
	s = spreadOf([]censored.Value{{X: 1, Side: censored.Below}, {X: 2}, {X: 3}, {X: 1, Side: censored.Below}, {X: 1, Side: censored.Below}})
	if s.drawn() || numeral(s.Q3) != "–" || numeral(s.Mid) != "<1.00" {
		t.Errorf("%+v", s)
	}
	if drawCourse([]yearLine{{Year: "2025", spread: s}, {Year: "2026", spread: s}}) != nil {
		t.Error("years without a middle are drawn")
	}
}

// Each value is in the bin whose edges say so, and none is lost.
func TestBins(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 3))
		var xs []float64
		for range 5 + rng.IntN(300) {
			v := math.Round(math.Exp(rng.NormFloat64())*1000*math.Pow(10, float64(rng.IntN(4)-2))) / 100
			if seed%3 == 0 {
				v = math.Round(60+10*rng.NormFloat64()) / 10
			}
			xs = append(xs, v)
		}
		slices.Sort(xs)
		bins := binsOf(xs)
		n := 0
		for i, b := range bins {
			want := 0
			for _, v := range xs {
				if v >= b.From-1e-9 && (b.Open || v < b.To-1e-9) {
					want++
				}
			}
			if b.N != want {
				t.Errorf("seed %d: %q has %d, want %d", seed, b.Label, b.N, want)
			}
			if b.Open && i < len(bins)-1 {
				t.Errorf("seed %d: %q is open in the middle", seed, b.Label)
			}
			n += b.N
		}
		if n != len(xs) || len(bins) > mostBins {
			t.Errorf("seed %d: %d of %d values in %d bins", seed, n, len(xs), len(bins))
		}
	}
	if got := binsOf([]float64{5.9, 6, 6, 6.1}); len(got) == 0 || got[0].Label != "5.90 to below 5.95" {
		t.Errorf("%+v", got)
	}
}

// A map is drawn of what RFC 7946 calls a FeatureCollection, and of nothing
// else; a square at 60° north is half as wide as it is high.
func TestOutlines(t *testing.T) {
	feature := func(geometry string) []byte {
		return []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"NAME":"Wren"},"geometry":` + geometry + `}]}`)
	}
	m, err := drawOutlines(feature(`{"type":"Polygon","coordinates":[[[10,59.5],[11,59.5],[11,60.5],[10,60.5],[10,59.5]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	if a := m.Areas[0]; a.Name != "Wren" || math.Abs((m.Wide-4)/(m.High-4)-0.5) > 0.001 || math.Abs(a.X-m.Wide/2) > 0.1 || math.Abs(a.Y-m.High/2) > 0.1 {
		t.Errorf("%+v", m)
	}
	for name, b := range map[string][]byte{
		"no JSON":             []byte("x"),
		"another type":        []byte(`{"type":"Feature"}`),
		"a point":             feature(`{"type":"Point","coordinates":[1,2]}`),
		"no geometry":         feature(`null`),
		"feet":                feature(`{"type":"Polygon","coordinates":[[[500000,2],[3,4],[5,7]]]}`),
		"no place":            feature(`{"type":"Polygon","coordinates":[[[1],[3,4],[5,7]]]}`),
		"depth":               feature(`{"type":"MultiPolygon","coordinates":[[[1,2],[3,4]]]}`),
		"without extent":      feature(`{"type":"Polygon","coordinates":[[[1,2],[1,2],[1,2]]]}`),
		"without coordinates": feature(`{"type":"Polygon"}`),
	} {
		if m, err := drawOutlines(b); err == nil {
			t.Errorf("%s gives %+v", name, m)
		}
	}
}
