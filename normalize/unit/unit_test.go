package unit

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/normalize/internal/table"
)

// printed draws a number as laboratories print them.
func printed(t *rapid.T) string {
	return rapid.StringMatching(`(0|[1-9][0-9]{0,4})(\.[0-9]{1,3})?`).Draw(t, "printed")
}

func parse(t interface{ Fatalf(string, ...any) }, s string) Number {
	n, err := ParseNumber(s)
	if err != nil {
		t.Fatalf("%q: %v", s, err)
	}
	return n
}

func TestParseNumber(t *testing.T) {
	for _, c := range []struct {
		text        string
		sig, places int
	}{{"6.50", 3, 2}, {"0.05", 1, 2}, {"120", 3, 0}, {"0", 1, 0}, {"0.00", 2, 2}, {"-0.4", 1, 1}, {"007", 1, 0}, {"1000.0", 5, 1}} {
		n, err := ParseNumber(c.text)
		if err != nil || n.Sig != c.sig || n.Places != c.places {
			t.Errorf("%q: %+v %v, want %d digits, %d places", c.text, n, err, c.sig, c.places)
		}
	}
	for _, s := range []string{"", "-", ".", "1.", ".5", "1e3", "0x1p4", "1_000", "nan", "Inf", "1,000", " 1", "1 ", "+1", "--1", "1/2", "1.2.3", "١", strings.Repeat("9", 100)} {
		if n, err := ParseNumber(s); !errors.Is(err, ErrNumber) {
			t.Errorf("%q was read as %v", s, n.Rat)
		}
	}
}

func TestParseRational(t *testing.T) {
	for s, want := range map[string]string{"6 2/3": "20/3", "20/3": "20/3", "6.67": "667/100", "15": "15", "0.5": "1/2"} {
		if r, err := ParseRational(s); err != nil || r.RatString() != want {
			t.Errorf("%q: %v %v, want %s", s, r, err, want)
		}
	}
	for _, s := range []string{"", "6 2/0", "1/0", "6 7", "2/3 6", "6-8", "/3", "3/", "6 2/3 1", "1e9", "6 2.5"} {
		if r, err := ParseRational(s); err == nil {
			t.Errorf("%q was read as %v", s, r)
		}
	}
}

func TestFormatRule(t *testing.T) {
	half, oxide := big.NewRat(1, 2), Standard()
	p2o5, _ := oxide.Basis("P2O5")
	for _, c := range []struct {
		text string
		f    *big.Rat
		want string
	}{
		{"9", half, "4.5"}, {"100", half, "50.0"}, {"60", half, "30"}, {"255", new(big.Rat).Mul(half, p2o5.Factor), "55.64"}, {"2", big.NewRat(50, 61), "1.639"}, {"983", half, "491.5"},
		{"12345", big.NewRat(1, 3), "4115.0"}, {"0.0", half, "0"}, {"12345.67", big.NewRat(3, 1), "37037.01"}, {"0.031", half, "0.0155"}, {"99999", big.NewRat(5, 1), "499995"},
	} {
		n := parse(t, c.text)
		if got := Format(new(big.Rat).Mul(n.Rat, c.f), n.Sig); got != c.want {
			t.Errorf("%s x %s: %s, want %s", c.text, c.f.RatString(), got, c.want)
		}
	}
	for _, c := range []struct {
		text string
		k    int
		want string
	}{{"506", -3, "0.506"}, {"32", -1, "3.2"}, {"250", -3, "0.250"}, {"1.5", 3, "1500"}, {"0.30", 0, "0.30"}} {
		if got := Shifted(parse(t, c.text), c.k); got != c.want {
			t.Errorf("%s shifted by %d: %s, want %s", c.text, c.k, got, c.want)
		}
	}
}

// There and back again: a value converted and written by the rule goes back
// to the printed number within half a unit of its last digit.
func TestRoundTripWithinHalfADigit(t *testing.T) {
	units := Standard().Units
	rapid.Check(t, func(t *rapid.T) {
		n := parse(t, printed(t))
		u := rapid.SampledFrom(units).Draw(t, "unit")
		f := new(big.Rat).Quo(u.Factor, big.NewRat(rapid.Int64Range(1, 400).Draw(t, "by"), 100))
		back, ok := new(big.Rat).SetString(Format(new(big.Rat).Mul(n.Rat, f), n.Sig))
		if !ok {
			t.Fatalf("not a number")
		}
		back.Quo(back, f)
		d := back.Sub(back, n.Rat)
		if d.Abs(d).Cmp(n.Half()) > 0 {
			t.Fatalf("%s went to %s and came back off by %s", n.Rat.FloatString(4), u.ID, d.FloatString(8))
		}
	})
}

// More printed is never less converted.
func TestConversionIsMonotonic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := parse(t, printed(t)), parse(t, printed(t))
		if a.Rat.Cmp(b.Rat) > 0 {
			a, b = b, a
		}
		f := big.NewRat(rapid.Int64Range(1, 1_000_000).Draw(t, "num"), rapid.Int64Range(1, 1_000_000).Draw(t, "den"))
		sig := max(a.Sig, b.Sig)
		x, _ := new(big.Rat).SetString(Format(new(big.Rat).Mul(a.Rat, f), sig))
		y, _ := new(big.Rat).SetString(Format(new(big.Rat).Mul(b.Rat, f), sig))
		if x.Cmp(y) > 0 {
			t.Fatalf("%v < %v but %v > %v", a.Rat, b.Rat, x, y)
		}
	})
}

// A value never claims more digits than the rule allows, except digits before
// the point, which can't be left out; and rounding moves it by less than the
// twentieth of a percent that the rule promises.
func TestDigitsNeverGrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := parse(t, printed(t))
		f := big.NewRat(rapid.Int64Range(1, 1_000_000).Draw(t, "num"), rapid.Int64Range(1, 1_000_000).Draw(t, "den"))
		exact := new(big.Rat).Mul(n.Rat, f)
		s := Format(exact, n.Sig)
		m := parse(t, s)
		whole, _, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
		if limit := max(Digits(n.Sig)+1, len(whole)); m.Sig > limit { // 999.96 may round up to one digit more
			t.Fatalf("%s with %d digits became %s", n.Rat.FloatString(3), n.Sig, s)
		}
		d := new(big.Rat).Sub(m.Rat, exact)
		if bound := new(big.Rat).Mul(exact, big.NewRat(1, 2000)); d.Abs(d).Cmp(bound) > 0 {
			t.Fatalf("rounding moved %s to %s", exact.FloatString(9), s)
		}
	})
}

// A power of ten keeps exactly the printed digits.
func TestShiftKeepsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := parse(t, printed(t))
		k := rapid.IntRange(-6, 0).Draw(t, "k")
		m := parse(t, Shifted(n, k))
		if n.Rat.Sign() != 0 && m.Sig != n.Sig {
			t.Fatalf("%d digits became %d", n.Sig, m.Sig)
		}
		if got, ok := Shift(new(big.Rat).Quo(m.Rat, orOne(n.Rat))); n.Rat.Sign() != 0 && (!ok || got != k) {
			t.Fatalf("shift of %d found as %d", k, got)
		}
	})
}

func orOne(r *big.Rat) *big.Rat {
	if r.Sign() == 0 {
		return big.NewRat(1, 1)
	}
	return r
}

// Every spelling leads to its own row, in any letter case unless that would
// make it another unit.
func TestSpellings(t *testing.T) {
	tb := Standard()
	n := 0
	for _, u := range tb.Units {
		for _, s := range append([]string{u.ID}, u.Spellings...) {
			cased := strings.HasPrefix(s, "=")
			s = strings.TrimPrefix(s, "=")
			forms := []string{s, " " + s + "  "}
			if !cased {
				forms = append(forms, strings.ToUpper(s), strings.ReplaceAll(s, " ", ""))
			}
			for _, f := range forms {
				if got, ok := tb.Unit(f); !ok || got != u {
					t.Errorf("%q is not %s", f, u.ID)
				}
				n++
			}
		}
	}
	t.Logf("%d spellings of %d units", n, len(tb.Units))
	if table.Fold("") != "" {
		t.Error("nothing folds to something")
	}
	if _, ok := tb.Unit("mg/m3"); ok {
		t.Error("mg/m3 was taken for Mg/m3")
	}
}

// The customary factors beside the exact ones agree with them to the digits
// that the trade uses: an outside check of the formulas (customary factors as
// in the published table of units, rows U054 to U067).
func TestCustomaryFactors(t *testing.T) {
	for _, b := range Standard().Bases {
		if !b.Active {
			continue
		}
		c := parse(t, b.Customary)
		d := new(big.Rat).Sub(b.Factor, c.Rat)
		if limit := new(big.Rat).Mul(c.Half(), big.NewRat(101, 50)); d.Abs(d).Cmp(limit) > 0 {
			t.Errorf("%s: exact %s, customary %s", b.ID, b.Factor.FloatString(6), b.Customary)
		}
	}
}
