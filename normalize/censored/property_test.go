package censored_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/normalize/censored"
)

func figuresOf(d censored.Description) []censored.Figure {
	return []censored.Figure{d.Low, d.P10, d.Q1, d.Median, d.Q3, d.P90, d.High, d.MedianInterval.Low, d.MedianInterval.High, d.Mean, d.SD, d.MeanInterval.Low, d.MeanInterval.High}
}

// draw makes values of which some are below one of a few limits, and maybe some
// above one.
func draw(t *rapid.T) []censored.Value {
	n := rapid.IntRange(1, 60).Draw(t, "n")
	limits := rapid.SliceOfN(rapid.Float64Range(0.5, 20), 1, 4).Draw(t, "limits")
	high := rapid.SampledFrom([]float64{math.Inf(1), 40}).Draw(t, "high")
	var out []censored.Value
	for range n {
		x := math.Round(rapid.Float64Range(0.1, 60).Draw(t, "x")*10) / 10
		switch l := rapid.SampledFrom(limits).Draw(t, "l"); {
		case x < l:
			out = append(out, censored.Value{X: l, Side: censored.Below})
		case x > high:
			out = append(out, censored.Value{X: high, Side: censored.Above})
		default:
			out = append(out, censored.Value{X: x})
		}
	}
	return out
}

// Where all is measured the figures are the ordinary ones, worked out here from
// their definitions.
func TestWithoutLimitsAllIsOrdinary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Float64Range(-5, 500), 10, 80).Draw(t, "xs")
		var values []censored.Value
		sum := 0.0
		for _, x := range xs {
			values = append(values, censored.Value{X: x})
			sum += x
		}
		d, err := censored.Describe(values)
		if err != nil {
			t.Fatal(err)
		}
		n := float64(len(xs))
		mean := sum / n
		ss := 0.0
		for _, x := range xs {
			ss += (x - mean) * (x - mean)
		}
		slices.Sort(xs)
		median := xs[len(xs)/2]
		if len(xs)%2 == 0 {
			median = (median + xs[len(xs)/2-1]) / 2
		}
		for what, x := range map[string][2]float64{"mean": {d.Mean.X, mean}, "sd": {d.SD.X, math.Sqrt(ss / (n - 1))}, "median": {d.Median.X, median}, "low": {d.Low.X, xs[0]}, "high": {d.High.X, xs[len(xs)-1]}, "curve's rest": {d.Curve.Rest, 0}} {
			if math.Abs(x[0]-x[1]) > 1e-8*(1+math.Abs(x[1])) {
				t.Errorf("%s %v, want %v", what, x[0], x[1])
			}
		}
		if d.MeanBy != censored.ByAll || d.Robust != nil || d.NoRobust != "" || d.Bounded {
			t.Errorf("a method for limits was used: %+v", d)
		}
		for i, s := range d.Curve.Steps { // the curve is the share of values
			below := 0
			for _, x := range xs {
				if x < s.X {
					below++
				}
			}
			if math.Abs(s.Less-float64(below)/n) > 1e-9 {
				t.Fatalf("step %d: %v of %d of %v", i, s.Less, below, n)
			}
		}
	})
}

func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := draw(t)
		a, err := censored.Describe(values)
		if err != nil {
			t.Fatal(err)
		}
		mixed := slices.Clone(values)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		b, err := censored.Describe(mixed)
		if err != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("%+v\nand in another order\n%+v", a, b)
		}
	})
}

// In another unit, such as ten times smaller, every figure is that many times
// the one before, and every reason the same.
func TestScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := draw(t)
		by := rapid.SampledFrom([]float64{2, 8, 0.25}).Draw(t, "by") // powers of two: no rounding makes two values one
		a, _ := censored.Describe(values)
		scaled := slices.Clone(values)
		for i := range scaled {
			scaled[i].X *= by
		}
		b, _ := censored.Describe(scaled)
		fa, fb := figuresOf(a), figuresOf(b)
		for i := range fa {
			if fa[i].Why != fb[i].Why || fa[i].Side != fb[i].Side || math.Abs(fa[i].X*by-fb[i].X) > 1e-9*(1+math.Abs(fb[i].X)) {
				t.Errorf("figure %d: %+v, and %v times as large %+v", i, fa[i], by, fb[i])
			}
		}
	})
}

// Whatever the limits, what is said is true of the numbers behind them: a
// quantile that is a limit is one that the numbers keep, the quantiles rise, the
// shares of the curve come to 1, and the mean lies within its bounds.
func TestNothingIsSaidThatIsNotSo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := draw(t)
		d, err := censored.Describe(values)
		if err != nil {
			t.Fatal(err)
		}
		if n := d.N - d.Below - d.Above; n < 0 || d.N != len(values) {
			t.Fatalf("%d values, %d below, %d above", d.N, d.Below, d.Above)
		}
		if d.NoCurve != "" {
			return
		}
		sum := d.Curve.Rest + d.Curve.Top
		for _, s := range d.Curve.Steps {
			sum += s.Upto - s.Less
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("the shares come to %v", sum)
		}
		last := math.Inf(-1)
		for _, f := range []censored.Figure{d.P10, d.Q1, d.Median, d.Q3, d.P90} {
			if !f.Given() {
				continue
			}
			if f.X < last && f.Side != censored.Below {
				t.Errorf("quantiles fall: %+v", d)
			}
			if f.Side == censored.Measured {
				last = f.X
			}
		}
		if d.Bounded && (d.MeanLeast > d.MeanMost || d.MeanLeast < 0) {
			t.Errorf("the mean lies between %v and %v", d.MeanLeast, d.MeanMost)
		}
		least, most := 0.0, 0.0 // what the mean of the numbers behind them is between
		for _, v := range values {
			if v.Side == censored.Measured {
				least += v.X / float64(d.N)
			}
			most += v.X / float64(d.N)
		}
		if d.MeanBy == censored.ByRobust && (d.Mean.X < least || d.Mean.X > most+1e-9) {
			t.Errorf("mean %v of numbers whose mean is between %v and %v", d.Mean.X, least, most)
		}
		if d.Above > 0 && d.Mean.Given() {
			t.Error("a mean of values without an upper end")
		}
	})
}

func series(n int, of func(i int) censored.Value) (out []censored.Value) {
	for i := range n {
		out = append(out, of(i))
	}
	return out
}

// Each figure that is not given says why, and what can be told is told.
func TestWhatIsNotGivenSaysWhy(t *testing.T) {
	below := func(x float64) censored.Value { return censored.Value{X: x, Side: censored.Below} }
	above := func(x float64) censored.Value { return censored.Value{X: x, Side: censored.Above} }
	is := func(x float64) censored.Value { return censored.Value{X: x} }
	for _, x := range []struct {
		name   string
		values []censored.Value
		median string // as printed: a number with its sign, or a part of why not
		mean   string
	}{
		{"nothing", nil, "no values", "no values"},
		{"two", []censored.Value{is(1), is(2)}, "fewer than 3 values", "fewer than 3 values"},
		{"all below", series(20, func(int) censored.Value { return below(5) }), "<5", "fewer than 3 values are measured"},
		{"all below two limits", append(series(9, func(int) censored.Value { return below(5) }), below(2), below(2)), "<5", "fewer than 3 values are measured"},
		{"two measured", append(series(18, func(int) censored.Value { return below(5) }), is(7), is(9)), "<5", "fewer than 3 values are measured"},
		{"two measured, one below", []censored.Value{below(1), is(7), is(9)}, "fewer than 3 values are measured", "fewer than 3 values are measured"},
		{"six measured of 12", append(series(6, func(int) censored.Value { return below(5) }), is(6), is(7), is(8), is(9), is(10), is(11)), "<6", "fewer than 8 values are measured"},
		{"nine of 50", append(series(41, func(int) censored.Value { return below(5) }), series(9, func(i int) censored.Value { return is(6 + float64(i)) })...), "<5", "more than 80 %"},
		{"all alike", append(series(4, func(int) censored.Value { return below(5) }), series(9, func(int) censored.Value { return is(6) })...), "6", "all measured values are the same"},
		{"a zero", append(series(4, func(int) censored.Value { return below(0) }), series(9, func(i int) censored.Value { return is(float64(i + 1)) })...), "3", "no logarithms"},
		{"above", append(series(9, func(i int) censored.Value { return is(float64(i)) }), above(8)), "4.5", "no upper end"},
		{"most above", append(series(3, func(i int) censored.Value { return is(float64(i)) }), series(7, func(int) censored.Value { return above(10) })...), ">10", "no upper end"},
		{"above one of two limits", append(series(3, func(i int) censored.Value { return is(float64(i)) }), above(4), is(20), above(30), is(2.5), is(50)), "2.5", "no upper end"},
		{"nobody knows which is greater", []censored.Value{above(5), below(8), is(1), is(2), is(3)}, "higher than one that another is above", "higher than one that another is above"},
		{"a line over the limit", append(series(13, func(i int) censored.Value { return is(0.5 + float64(i%7)/20) }), below(0.1)), "0.625", "above the limits that they are below"},
		{"a limit over all", append(series(9, func(i int) censored.Value { return is(float64(i + 1)) }), below(0.5), below(50)), "4.5", "a limit is higher than every measured value"},
	} {
		d := describe(t, x.values)
		for what, f := range map[string]struct {
			got  censored.Figure
			want string
		}{"median": {d.Median, x.median}, "mean": {d.Mean, x.mean}} {
			got := f.got.Why
			if f.got.Given() {
				got = f.got.Side.String() + trim(f.got.X)
			}
			if got != f.want && (f.got.Given() || !strings.Contains(got, f.want)) {
				t.Errorf("%s: %s %q, want %q", x.name, what, got, f.want)
			}
		}
	}
	if d := describe(t, append(series(9, func(i int) censored.Value { return is(float64(i + 1)) }), below(50))); d.Uninformed != 1 {
		t.Errorf("%d values of which nothing follows, want 1", d.Uninformed)
	}
	// What is left below 5, three of thirteen, lies between 0 and 5.
	d := describe(t, append(series(3, func(int) censored.Value { return below(5) }), series(10, func(i int) censored.Value { return is(10 + float64(i)) })...))
	if low, high := 145.0/13, 160.0/13; !d.Bounded || !close(d.MeanLeast, low) || !close(d.MeanMost, high) {
		t.Errorf("mean between %v and %v, want %v and %v", d.MeanLeast, d.MeanMost, low, high)
	}
	// Cochran: 40 values of which one is far from the rest.
	d = describe(t, append(series(39, func(i int) censored.Value { return is(float64(i)) }), is(5000)))
	if d.MeanInterval.Given() || !strings.Contains(d.MeanInterval.Low.Why, "skewed") || !d.Mean.Exact() {
		t.Errorf("interval of a skewed mean: %+v", d.MeanInterval)
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := censored.Describe([]censored.Value{{X: bad}}); err == nil {
			t.Errorf("%v was described", bad)
		}
	}
}

func trim(x float64) string {
	return strings.TrimSuffix(strings.TrimRight(strings.TrimRight(formatted(x), "0"), "."), ".")
}
