package normalize

import (
	"os"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/method"
)

// The page in the repository is the one that the list gives.
func TestChecksPage(t *testing.T) {
	got := ChecksPage()
	if *update {
		if err := os.WriteFile("CHECKS.md", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("CHECKS.md")
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Error("CHECKS.md is not what the list of checks gives: run go test ./normalize -run ChecksPage -update, and read what changed")
	}
	for _, c := range check.All() {
		if strings.Count(got, "| `"+c.Code+"` |") != 1 || bibliography()[c.Source].Key == "" {
			t.Errorf("%s: not once on the page, or without a source in the bibliography", c.Code)
		}
	}
}

// The tables of the checks name analytes, methods and sources that are known,
// and no usual range is wider than what is possible.
func TestCheckTablesName(t *testing.T) {
	std := method.Standard()
	for _, r := range check.Ranges() {
		a, ok := std.Analyte(r.Analyte)
		if !ok || a.ID != r.Analyte || bibliography()[r.Source].Key == "" {
			t.Errorf("%+v: analyte or source", r)
			continue
		}
		if lo, _ := a.Possible.Low.Float64(); r.Low < lo {
			t.Errorf("%+v: usual but not possible", r)
		}
		if hi, _ := a.Possible.High.Float64(); r.High > hi {
			t.Errorf("%+v: usual but not possible", r)
		}
		if kind, is := strings.CutPrefix(r.Method, "kind:"); is {
			if !slices.ContainsFunc(std.Methods, func(m *method.Method) bool { return string(m.Kind) == kind }) {
				t.Errorf("%+v: kind", r)
			}
		} else if m, ok := std.Method(r.Method); !ok || m.ID != r.Method || !m.Applies(r.Analyte) {
			t.Errorf("%+v: method", r)
		}
	}
	for _, y := range check.Typicals() {
		a, ok := std.Analyte(y.Analyte)
		if !ok || a.ID != y.Analyte || bibliography()[y.Source].Key == "" {
			t.Errorf("%+v: analyte or source", y)
		}
		for _, id := range y.Methods {
			if m, ok := std.Method(id); !ok || m.ID != id || !m.Applies(y.Analyte) {
				t.Errorf("%+v: method %s", y, id)
			}
		}
	}
	for _, o := range check.Orders() {
		if bibliography()[o.Source].Key == "" {
			t.Errorf("%+v: source", o)
		}
		for _, id := range slices.Concat(o.Weaker, o.Stronger) {
			m, ok := std.Method(id)
			if !ok || m.ID != id || !slices.ContainsFunc(o.Analytes, m.Applies) {
				t.Errorf("%+v: method %s", o, id)
			}
		}
	}
}
