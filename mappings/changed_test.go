package mappings

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every code that is said to mean a changed layout is one for which some rule
// holds a report.
func TestChangeCodesAreUsed(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range files {
		if f == "changed.go" || strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(b)
	}
	for _, c := range ChangeCodes() {
		if !strings.Contains(all.String(), `r.hold("`+c+`"`) {
			t.Errorf("no rule holds a report for %q", c)
		}
	}
}
