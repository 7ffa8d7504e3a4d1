package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const gardenReport = "../../testdata/labs/thrushgate-garden-soil-desk/TG-26-01365.pdf"

// Two rule sets on one report: what each says with its rows, and why they
// differ.
func TestRulesCompare(t *testing.T) {
	out := must(t, exitDone, "rules", "compare", gardenReport, "--land-use", "vegetable garden", "--on", "2026-06-01", "--with", "mehlich-3-home,delaware-mehlich-3")
	for _, want := range []string{
		"P 52 mg/kg by",
		"mehlich-3-home: optimum (its word: high): 36 up to 69 mg/kg",
		"delaware-mehlich-3: optimum: 51 up to 101 mg/kg",
		"[R078 udel-nutrients, seen]",
		"K 129 mg/kg by",
		"delaware-mehlich-3: medium: 71 up to 141 mg/kg",
		"(they differ)",
		"draw their lines at other values",
	} {
		if !strings.Contains(unwrapped(out), want) {
			t.Errorf("not said: %s in\n%s", want, out)
		}
	}
	must(t, exitUsage, "rules", "compare", gardenReport, "--with", "mehlich-9-home")
	must(t, exitUsage, "rules", "compare", gardenReport, "--land-use", "moon base")
}

// unwrapped is a text without the breaks of its lines.
func unwrapped(s string) string { return strings.Join(strings.Fields(s), " ") }

// Which rows answer for a report, and where they stand.
func TestRulesExplainARecord(t *testing.T) {
	out := unwrapped(must(t, exitDone, "rules", "explain", "--record", gardenReport, "--land-use", "vegetable garden", "--on", "2026-06-01"))
	for _, want := range []string{"by mehlich-3-home, for vegetable garden", "row R009: rutgers-levels, computed from the source, at mehlich-3-home.yaml:", "row L018: ncda-buffer, read in the source, at mehlich-3-home.yaml:"} {
		if !strings.Contains(out, want) {
			t.Errorf("not said: %s in\n%s", want, out)
		}
	}
}

// Manganese goes by an index of value and pH: its classes are not told as if the
// value were held against them. What stands out whatever grows is told too.
func TestRulesExplainTellsAnIndex(t *testing.T) {
	out := must(t, exitDone, "rules", "explain", "mehlich-3-home")
	for _, want := range []string{"  an index of Mn and pH, by mehlich-3-icp", "    index: 101.7 + 3.75 x Mn in mg/kg + -15.2 x pH in water", "sodium         SAR from 13 ratio on  [csu-sodic, seen]", "  EC in dS/m, by ph-water-1-2, for every use"} {
		if !strings.Contains(out, want) {
			t.Errorf("not said: %s", want)
		}
	}
	if strings.Contains(out, "Mn in mg/kg, by") {
		t.Error("the classes of the index are told as such of manganese itself")
	}
}

// An office's own figure is checked, used and told.
func TestRulesOfAnOffice(t *testing.T) {
	dir := t.TempDir()
	text := "overrides: windrow-overrides/1\nof: mehlich-3-home\nby: P. Larkin\non: 2026-02-01\nchanges:\n  - {row: N001, key: rate, was: \"2.5\", now: \"2\", why: Our trials.}\n"
	file := filepath.Join(dir, "overrides.yaml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitDone, "rules", "check", dir); !strings.Contains(out, "ok  mehlich-3-home") || !strings.Contains(out, "ok  tri-state-2020") {
		t.Error(out)
	}
	if err := os.WriteFile(file, []byte(strings.Replace(text, "2.5", "3", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	must(t, exitFailed, "rules", "check", dir)
}

func TestRulesReference(t *testing.T) {
	page, err := os.ReadFile("../../interpret/RULES.md")
	if err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitDone, "rules", "reference"); out != string(page) {
		t.Error("the page that is kept is another one: run the tests of interpret with -update")
	}
}
