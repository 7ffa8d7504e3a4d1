package main

import (
	"os"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// swap FILE OUT OLD NEW… copies a file with texts replaced, each of which must
// be there.
func swap(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 4 || len(args)%2 != 0 {
		ts.Fatalf("usage: swap FILE OUT OLD NEW…")
	}
	text := ts.ReadFile(args[0])
	for i := 2; i < len(args); i += 2 {
		if !strings.Contains(text, args[i]) {
			ts.Fatalf("%s does not hold %q", args[0], args[i])
		}
		text = strings.ReplaceAll(text, args[i], args[i+1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o600))
}
