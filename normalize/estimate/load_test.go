package estimate

import (
	"strings"
	"testing"
	"testing/fstest"
)

const head = "id,analyte,from,to_analyte,to,equation,unit,to_unit,inputs,domain,n,r2,error,interval,verdict,source,provenance,active,inactive,note\n"
const good = "A1,P,bray-p1,,olsen,2*x + clay,mg/kg,mg/kg,clay,pH < 7.4; x 1..200; other: somewhere,,,,rmse 2,estimate only,kabala,seen,yes,,\n"
const scaleHead = "id,scale,title,analyte,methods,unit,index,low,high,factor,source,provenance,active,inactive,note\n"

func TestLoadRefuses(t *testing.T) {
	known := Known{
		Analyte: func(id string) bool { return strings.Contains(" P clay pH ", " "+id+" ") },
		Method:  func(id, a string) bool { return id == "bray-p1" || id == "olsen" && a != "clay" },
		Source:  func(k string) bool { return k == "kabala" },
	}
	load := func(rows, scales string) error {
		_, err := Load(fstest.MapFS{"conversions.csv": {Data: []byte(head + rows)}, "scales.csv": {Data: []byte(scaleHead + scales)}, "derived.csv": {Data: []byte(derivedHead)}}, known)
		return err
	}
	if err := load(good, "s,s1,t,P,olsen,mg/kg,low,0,9,,kabala,seen,yes,,\n"); err != nil {
		t.Fatal(err)
	}
	swap := func(old, new string) string { return strings.Replace(good, old, new, 1) }
	for _, c := range []struct{ rows, want string }{
		{swap(",kabala,", ",,"), "no source or no provenance"},
		{swap(",seen,", ",,"), "no source or no provenance"},
		{swap("kabala", "nobody-2000"), `source "nobody-2000" is not in the bibliography`},
		{swap("kabala", "kabala nobody"), `source "nobody"`},
		{swap("A1,P,", "A1,Q,"), `unknown analyte "Q"`},
		{swap("A1,P,", "A1,,"), "no analyte"},
		{swap("bray-p1", "bray"), `method "bray" is not known`},
		{swap("olsen", "olson"), `method "olson" is not known`},
		{swap("2*x", "2x"), "expected an operator"},
		{swap("2*x + clay", "2*x"), "uses x, and the row gives clay x"},
		{swap("2*x + clay", "2*x + sand"), "uses sand x"},
		{swap("2*x + clay", ""), "has no equation"},
		{swap("pH < 7.4", "pH about 7"), "is no condition"},
		{swap("pH < 7.4", "lime < 7.4"), "is no condition"},
		{swap("x 1..200", "x 200..1"), "is no condition"},
		{swap("other: somewhere", "only other: somewhere"), "can never be tested"},
		{swap("x 1..200", "texture muddy"), "no soil or land"},
		{swap("rmse 2", "rmse"), "is not rmse"},
		{swap("rmse 2", "rmse -2"), "is not rmse"},
		{swap("estimate only", "perhaps"), "unknown verdict"},
		{swap("estimate only", "do not convert"), "nothing should be converted"},
		{swap("seen", "from memory"), "only what was read or computed may be"},
		{swap("seen", "inferred"), "only what was read or computed may be"},
		{swap("seen", "coefficients not seen"), "only what was read or computed may be"},
		{swap("seen", "hearsay"), "unknown provenance"},
		{swap("yes,,", "no,,"), "does not say why"},
		{swap("yes,,", "yes,from memory,"), "a reason not to be"},
		{swap("yes,", "maybe,"), "neither yes nor no"},
		{good + good, "given twice"},
		{strings.Replace(good, "A1", "", 1), "empty or given twice"},
		{swap(",mg/kg,mg/kg,", ",mg/kg,,"), "both units"},
	} {
		if err := load(c.rows, ""); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "conversions.csv:") {
			t.Errorf("%s gives %v, want %s", c.rows, err, c.want)
		}
	}
	const sc = "s,s1,t,P,olsen,mg/kg,low,0,9,,kabala,seen,yes,,\n"
	for _, c := range []struct{ scales, want string }{
		{strings.Replace(sc, "kabala", "", 1), "no source"},
		{strings.Replace(sc, "kabala", "nobody", 1), "not in the bibliography"},
		{strings.Replace(sc, "seen", "from memory", 1), "only what was read or computed"},
		{strings.Replace(sc, "yes", "no", 1), "says why it is not"},
		{strings.Replace(sc, "olsen", "clay", 1), "is not known for P"},
		{strings.Replace(sc, "mg/kg", "spoon", 1), "no scale is in"},
		{strings.Replace(sc, ",0,9,", ",9,0,", 1), "9"},
		{strings.Replace(sc, ",0,9,", ",none,9,", 1), "is no bound"},
		{sc + strings.Replace(sc, "low,0,9", "high,8,20", 1), "does not lie above"},
		{sc + strings.Replace(sc, "mg/kg", "%", 1), "do not agree"},
		{strings.Replace(sc, ",low,0,9,,", ",,,,-1,", 1), "factor"},
	} {
		if err := load(good, c.scales); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s gives %v, want %s", c.scales, err, c.want)
		}
	}
}

const derivedHead = "id,quantity,name,extracts,measured_as,inputs,equation,unit,domain,threshold,verdict,source,provenance,active,inactive,note\n"

func TestLoadRefusesDerived(t *testing.T) {
	known := Known{
		Analyte: func(id string) bool { return strings.Contains(" Ca Mg pH ", " "+id+" ") },
		Method:  func(id, a string) bool { return id == "m3" && a != "pH" },
		Source:  func(k string) bool { return k == "handbook" },
	}
	const row = "D1,ratio,the ratio,m3,,Ca Mg,Ca/Mg,ratio,pH < 7.3,2,exact,handbook,seen,yes,,\n"
	load := func(rows string) error {
		_, err := Load(fstest.MapFS{"conversions.csv": {Data: []byte(head + good)}, "scales.csv": {Data: []byte(scaleHead)}, "derived.csv": {Data: []byte(derivedHead + rows)}},
			Known{Analyte: func(id string) bool { return known.Analyte(id) || id == "P" || id == "clay" }, Method: func(id, a string) bool { return known.Method(id, a) || id == "bray-p1" || id == "olsen" },
				Source: func(k string) bool { return k == "kabala" || known.Source(k) }})
		return err
	}
	if err := load(row); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{",handbook,", ",,", "no source or no provenance"},
		{",handbook,", ",nobody,", "not in the bibliography"},
		{",seen,", ",,", "no source or no provenance"},
		{",seen,", ",from memory,", "only what was read or computed may be"},
		{",seen,", ",hearsay,", "unknown provenance"},
		{",exact,", ",perhaps,", "unknown verdict"},
		{",exact,", ",do not convert,", "nothing should be converted"},
		{"the ratio", "", "has no name"},
		{"yes,,", "no,,", "does not say why"},
		{"yes,,", "yes,untested,", "a reason not to be"},
		{"yes,", "maybe,", "neither yes nor no"},
		{"Ca/Mg", "", "needs an equation"},
		{"Ca/Mg", "Ca/", "expected"},
		{"Ca/Mg", "Ca/K", "uses Ca K"},
		{",m3,", ",,", "methods of its inputs"},
		{",m3,", ",m9,", `method "m9" is not known for Ca`},
		{"Ca Mg,", "Ca Mg@m9,", `input "Mg" is not known`},
		{",ratio,pH", ",,pH", "a unit"},
		{"pH < 7.3", "lime < 7", "is no condition"},
		{",2,", ",two,", "is no number"},
		{",m3,,", ",m3,Q,", `unknown analyte "Q"`},
		{"D1", "", "empty or given twice"},
	} {
		bad := strings.Replace(row, c.old, c.new, 1)
		if bad == row {
			t.Fatalf("%q is not in the row", c.old)
		}
		if err := load(bad); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "derived.csv:2") {
			t.Errorf("%s gives %v, want %s", bad, err, c.want)
		}
	}
	if err := load(row + row); err == nil || !strings.Contains(err.Error(), "given twice") {
		t.Errorf("a row twice: %v", err)
	}
}
