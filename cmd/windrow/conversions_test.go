package main

import (
	"os"
	"strings"
	"testing"
)

// The command prints the page that is committed, and the same as HTML.
func TestConversionsPage(t *testing.T) {
	want, err := os.ReadFile("../../normalize/CONVERSIONS.md")
	if err != nil {
		t.Fatal(err)
	}
	if got := must(t, exitDone, "conversions"); got != string(want) {
		t.Error("windrow conversions prints another page than normalize/CONVERSIONS.md")
	}
	page := must(t, exitDone, "conversions", "--format", "html")
	for _, s := range []string{"<!DOCTYPE html>", "Soil Chemical Methods - Australasia", "cmol(&#43;)/kg", "</html>"} {
		if !strings.Contains(page, s) {
			t.Errorf("the HTML page has no %q", s)
		}
	}
	must(t, exitUsage, "conversions", "--format", "pdf")
	must(t, exitUsage, "conversions", "lime")
}
