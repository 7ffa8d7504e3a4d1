package interpret

import (
	"bytes"
	"encoding/csv"
	"io/fs"
	"math/big"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret/rules"
)

// publishedRows are rows of a table of testdata/published by their id, each
// cell by its heading.
func publishedRows(t *testing.T, name string, ids ...string) map[string]map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rd := csv.NewReader(f)
	rd.FieldsPerRecord = -1
	recs, err := rd.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for _, r := range recs[1:] {
		for _, id := range ids {
			if r[0] != id {
				continue
			}
			out[id] = map[string]string{}
			for i, h := range recs[0] {
				out[id][h] = r[i]
			}
		}
	}
	if len(out) != len(ids) {
		t.Fatalf("%s has %d of the rows %v", name, len(out), ids)
	}
	return out
}

// checkInputs reads a published check's numbers, such as CCE=90; P10=95.
func checkInputs(t *testing.T, cell string) map[string]*big.Rat {
	t.Helper()
	out := map[string]*big.Rat{}
	for _, f := range strings.Split(cell, ";") {
		k, v, ok := strings.Cut(strings.TrimSpace(f), "=")
		if !ok {
			t.Fatalf("%q", cell)
		}
		out[k] = num(t, v)
	}
	return out
}

func sieve(percent *big.Rat, counts string) Sieve {
	return Sieve{Percent: Num(percent.FloatString(6)), Counts: Num(counts)}
}

// Rows U080 to U083 of the published units, and the handbook's own worked
// examples C013 and C014: what a limestone is worth by its sieve analysis, as
// an office enters it. Each scheme's weights are the counts of its fractions;
// labels that print what passes a sieve are turned into fractions here as an
// office does it, by taking one from the next.
func TestPublishedLimeQuality(t *testing.T) {
	rows := publishedRows(t, "conversions-units.csv", "U080", "U081", "U082", "U083")
	handbook := func(v map[string]*big.Rat) []Sieve {
		return []Sieve{sieve(v["f60"], "1"), sieve(v["f20_60"], "0.6"), sieve(v["f8_20"], "0.2"), sieve(v["f8"], "0")}
	}
	passing := func(coarse, fine *big.Rat) []Sieve {
		return []Sieve{sieve(sub(rat(100, 1), coarse), "0"), sieve(sub(coarse, fine), "0.5"), sieve(fine, "1")}
	}
	cce := func(r *big.Rat) Num { return Num(r.FloatString(6)) }
	for id, r := range rows {
		for _, c := range []string{"check1", "check2"} {
			v := checkInputs(t, r[c+"_in"])
			var got *big.Rat
			switch id {
			case "U080":
				got = (&Limestone{CCE: "100", Fineness: handbook(v)}).Fine()
			case "U081": // a fineness that is known as one number: that share counts, and the rest doesn't
				got = (&Limestone{CCE: cce(v["NV"]), Moisture: cce(v["MC"]), Fineness: []Sieve{sieve(v["ER"], "1"), sieve(sub(rat(100, 1), v["ER"]), "0")}}).Effective()
			case "U082":
				got = (&Limestone{CCE: cce(v["CCE"]), Fineness: passing(v["P10"], v["P50"])}).Effective()
			case "U083":
				got = (&Limestone{CCE: cce(v["CCE"]), Fineness: passing(v["P8"], v["P60"])}).Effective()
			}
			within(t, got, r[c+"_out"], "0.000001")
		}
	}
	checks := publishedRows(t, "conversions-checks.csv", "C013", "C014")
	example := Limestone{CCE: "100", Fineness: []Sieve{{Percent: "78.8", Counts: "1"}, {Percent: "10", Counts: "0.6"}, {Percent: "2.4", Counts: "0.2"}, {Percent: "7.8", Counts: "0"}}}
	if !strings.HasPrefix(checks["C013"]["input"], "78.8 % <60 mesh, 10 % 20-60, 2.4 % 8-20, 7.8 %") || checks["C014"]["input"] != "ER 85, NV 95, moisture 13" {
		t.Fatalf("the examples are others: %v", checks)
	}
	within(t, example.Fine(), checks["C013"]["expected"], checks["C013"]["tolerance"])
	wet := Limestone{CCE: "95", Moisture: "13", Fineness: []Sieve{{Percent: "85", Counts: "1"}, {Percent: "15", Counts: "0"}}}
	within(t, wet.Effective(), checks["C014"]["expected"], checks["C014"]["tolerance"])
	// A limestone of half the worth takes twice the weight, to the letter's line.
	within(t, ProductRate(rat(1, 1), wet.Effective()), "1.4235", "0.0005")
}

// C010 and C011: the North Carolina rate of lime, acidity x (target - pH) /
// (6.6 - pH), through the kind of rate that rule sets give.
func TestPublishedNorthCarolinaLime(t *testing.T) {
	rows := publishedRows(t, "conversions-checks.csv", "C010", "C011")
	rate := LimeRate{ID: "nc", Kind: kindEquation, Unit: unitTonsAcre, K: "4", Ceiling: "6.6"}
	target := &PHTarget{Target: "6.0"}
	at := func(buffer string) *big.Rat {
		n, q := rate.bufferFormula(span{value: num(t, "5.0")}, num(t, buffer), target, buffer)
		if n == nil {
			t.Fatalf("%v", q)
		}
		return n.rate
	}
	within(t, at("6.35"), rows["C010"]["expected"], rows["C010"]["tolerance"]) // an acidity of 1 leaves the factor
	within(t, at("6.3"), rows["C011"]["expected"], rows["C011"]["tolerance"])  // an acidity of 1.2
}

// U085: a rate goes by the depth of soil that it is to sweeten.
func TestPublishedLimeDepth(t *testing.T) {
	r := publishedRows(t, "conversions-units.csv", "U085")["U085"]
	for _, c := range []string{"check1", "check2"} {
		v := checkInputs(t, r[c+"_in"])
		within(t, LimeRateAtDepth(v["x"], v["d0"], v["d1"]), r[c+"_out"], "0.000001")
	}
}

// A scale that states no share of its own goes by the depths, in advice too:
// half of 8 inches is what the rule set's own 1/2 says.
func TestLimeScaleByDepth(t *testing.T) {
	buffer := res("buffer_pH", "6.3", "mehlich-buffer")
	target := &PHTarget{Target: "6.0"}
	rate := LimeRate{ID: "nc", Kind: kindEquation, Methods: []string{"mehlich-buffer"}, Unit: unitPerThousand, K: "4", Ceiling: "6.6", DepthIn: "8"}
	of := func(k Scale) *need {
		r := rate
		k.For = []string{"lawn"}
		r.Scale = []Scale{k}
		n, q := r.fromBuffer("lawn", span{value: num(t, "5.0")}, target, buffer)
		if n == nil {
			t.Fatalf("%v", q)
		}
		return n
	}
	stated, byDepth := of(Scale{By: "1/2", DepthIn: "4"}), of(Scale{DepthIn: "4"})
	if stated.rate.Cmp(byDepth.rate) != 0 || byDepth.depth != "4" || !strings.Contains(byDepth.working, "x 4/8 for 4 inches of soil instead of 8") {
		t.Errorf("%s (%s), and by the depth %s (%s)", stated.rate, stated.working, byDepth.rate, byDepth.working)
	}
	within(t, of(Scale{DepthIn: "6"}).rate, "0.5625", "0")
	for what, c := range map[string]struct {
		r LimeRate
		k Scale
	}{
		"no depth of the rate": {LimeRate{}, Scale{DepthIn: "4"}},
		"no depth":             {LimeRate{DepthIn: "8"}, Scale{DepthIn: "0", By: "1/2"}},
		"no share":             {LimeRate{DepthIn: "8"}, Scale{DepthIn: "4", By: "-1/2"}},
	} {
		c2 := &checker{}
		c2.limeScale(&c.r, &c.k)
		if len(c2.faults) != 1 || c2.faults[0].Code != "lime-depth" {
			t.Errorf("%s: %v", what, c2.faults)
		}
	}
}

// An office's list is refused where the water of a limestone can't be, or
// would be taken off twice.
func TestLimestoneMoistureIsChecked(t *testing.T) {
	good, err := fs.ReadFile(rules.FS, ProductsFile)
	if err != nil {
		t.Fatal(err)
	}
	of := func(lines string) []*ingest.Reason {
		own := "\nlimestones:\n  - {id: own, name: limestone of the quarry, " + lines + ", source: definition, provenance: computed}\n"
		_, faults := LoadRules(rules.FS, fstest.MapFS{ProductsFile: {Data: append(bytes.Clone(good), own...)}})
		return faults
	}
	if f := of("cce_percent: 95, moisture_percent: 13, fineness: [{size: under 60 mesh, percent: 80, counts: 1}, {size: 20 to 60 mesh, percent: 20, counts: 0.6}]"); len(f) > 0 {
		t.Errorf("a sound limestone: %v", f)
	}
	for _, bad := range []string{"cce_percent: 95, moisture_percent: 60", "cce_percent: 95, moisture_percent: -1", "ecce_percent: 80, moisture_percent: 5"} {
		if f := of(bad); len(f) == 0 || f[0].Code != "limestone-unclear" || f[0].Rule.Line == 0 {
			t.Errorf("%s: %v", bad, f)
		}
	}
}
