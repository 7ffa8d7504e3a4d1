package censored_test

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"example.org/windrow/normalize/censored"
)

// A reference is what R finds of one set of values; testdata/reference.R says how.
type reference struct {
	Name      string
	X         []float64
	Below     []bool
	At        []float64
	Less, SE  []*float64
	Probs     []float64
	Quantiles []*float64
	Low, High []*float64
	KMMean    float64  `json:"km_mean"`
	KMMeanSE  float64  `json:"km_mean_se"`
	ROSMean   *float64 `json:"ros_mean"`
	ROSSD     *float64 `json:"ros_sd"`
	ROSMedian *float64 `json:"ros_median"`
	ROSA      *float64 `json:"ros_intercept"`
	ROSB      *float64 `json:"ros_slope"`
}

func references(t *testing.T) map[string]reference {
	t.Helper()
	b, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []reference
	if err := json.Unmarshal(b, &list); err != nil {
		t.Fatal(err)
	}
	out := map[string]reference{}
	for _, r := range list {
		out[r.Name] = r
	}
	if len(out) != 7 {
		t.Fatalf("%d sets, want 7", len(out))
	}
	return out
}

func (r *reference) values() []censored.Value {
	var out []censored.Value
	for i, x := range r.X {
		v := censored.Value{X: x}
		if r.Below[i] {
			v.Side = censored.Below
		}
		out = append(out, v)
	}
	return out
}

func describe(t *testing.T, values []censored.Value) censored.Description {
	t.Helper()
	d, err := censored.Describe(values)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func close(a, b float64) bool { return math.Abs(a-b) <= 1e-7*math.Max(1, math.Abs(b)) }

// The distribution, its standard errors, quantiles, the interval of the median
// and the mean are those of R's survival package on flipped data.
func TestAgainstSurvival(t *testing.T) {
	compared := 0
	for name, r := range references(t) {
		c, ok := censored.CurveOf(r.values())
		if !ok || len(c.Steps) != len(r.At) {
			t.Fatalf("%s: %d steps, R has %d", name, len(c.Steps), len(r.At))
		}
		for i, s := range c.Steps {
			if !close(s.X, r.At[i]) || !close(s.Less, *r.Less[i]) {
				t.Errorf("%s: P(X < %v) = %v, R has %v at %v", name, s.X, s.Less, *r.Less[i], r.At[i])
			}
			if s.Less > 0 && !close(s.SE(), *r.SE[i]) { // R has none where the curve ends
				t.Errorf("%s: standard error at %v is %v, R has %v", name, s.X, s.SE(), *r.SE[i])
			}
			compared++
		}
		for i, p := range r.Probs {
			f := c.Quantile(p)
			switch want := r.Quantiles[i]; {
			case want == nil && f.Side != censored.Below:
				t.Errorf("%s: quantile %v is %v, R has none, since the curve doesn't come so low", name, p, f)
			case want != nil && (!f.Exact() || !close(f.X, *want)):
				t.Errorf("%s: quantile %v is %v, R has %v", name, p, f, *want)
			}
			iv := c.QuantileInterval(p)
			for end, e := range map[string]struct {
				got  censored.Figure
				want *float64
			}{"low": {iv.Low, r.Low[i]}, "high": {iv.High, r.High[i]}} {
				switch {
				case e.want == nil && e.got.Exact() && end == "low":
					t.Errorf("%s: the low end at %v is %v, R has none", name, p, e.got)
				case e.want != nil && (!e.got.Exact() || !close(e.got.X, *e.want)):
					t.Errorf("%s: the %s end at %v is %v, R has %v", name, end, p, e.got, *e.want)
				case e.want != nil:
					compared++
				}
			}
		}
		d := describe(t, r.values())
		mean := d.MeanMost // R takes what is left for the lowest limit
		if !d.Bounded {
			if mean = d.Mean.X; d.MeanBy == censored.ByRobust {
				continue
			}
			m := c.N
			if iv := d.MeanInterval; iv.Given() {
				// R's standard error is with n, and its interval normal; Student's 97.5 %
				// point of 34 degrees of freedom is 2.0322 in any printed table.
				if m != 35 || !closeTo((iv.High.X-iv.Low.X)/2, 2.0322*r.KMMeanSE*math.Sqrt(35.0/34), 1e-4) {
					t.Errorf("%s: interval of the mean %v, standard error in R %v", name, iv, r.KMMeanSE)
				}
				compared++
			}
		}
		if c.Rest == 0 || c.RestLimit == min(r.X) {
			if !close(mean, r.KMMean) {
				t.Errorf("%s: mean %v, R has %v", name, mean, r.KMMean)
			}
			compared++
		}
	}
	if compared < 250 {
		t.Errorf("only %d figures were compared", compared)
	}
}

func closeTo(a, b, share float64) bool { return math.Abs(a-b) <= share*math.Abs(b) }

func min(xs []float64) float64 {
	m := math.Inf(1)
	for _, x := range xs {
		m = math.Min(m, x)
	}
	return m
}

// Regression on order statistics is that of R's package NADA.
func TestAgainstNADA(t *testing.T) {
	compared := 0
	for name, r := range references(t) {
		if r.ROSMean == nil {
			continue
		}
		got, why := censored.Robust(r.values())
		if why != "" {
			t.Errorf("%s: %s", name, why)
			continue
		}
		for what, x := range map[string][2]float64{"mean": {got.Mean, *r.ROSMean}, "standard deviation": {got.SD, *r.ROSSD}, "median": {got.Median, *r.ROSMedian}, "intercept": {got.Intercept, *r.ROSA}, "slope": {got.Slope, *r.ROSB}} {
			if !close(x[0], x[1]) {
				t.Errorf("%s: %s %v, NADA has %v", name, what, x[0], x[1])
			}
			compared++
		}
	}
	if compared != 30 {
		t.Errorf("%d figures compared, want 30", compared)
	}
}

// What Helsel prints of the arsenic of Oahu by regression on order statistics:
// mean 0.97, standard deviation 0.72, median 0.70 (Statistics for Censored
// Environmental Data, 2012, chapter 6; from memory).
func TestOahuAsPrinted(t *testing.T) {
	r := references(t)["oahu"]
	d := describe(t, r.values())
	if d.N != 24 || d.Below != 13 || len(d.Limits) != 3 {
		t.Errorf("%d values, %d below %d limits; 24, 13 and 3 are printed", d.N, d.Below, len(d.Limits))
	}
	if d.MeanBy != censored.ByRobust || math.Round(d.Mean.X*100) != 97 || math.Round(d.SD.X*100) != 72 || math.Round(d.Median.X*100) != 70 {
		t.Errorf("mean %v by %s, sd %v, median %v", d.Mean.X, d.MeanBy, d.SD.X, d.Median.X)
	}
}

func formatted(x float64) string { return strconv.FormatFloat(x, 'f', 6, 64) }
