package pipeline

import (
	"os"
	"testing"
)

// TestMain lets the test binary be the process that parses.
func TestMain(m *testing.M) {
	if code, yes := Child(); yes {
		os.Exit(code)
	}
	os.Exit(m.Run())
}
