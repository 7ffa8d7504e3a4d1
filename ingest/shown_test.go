package ingest

import (
	"strings"
	"testing"
)

func TestNamesDoNotPassForLinesOfOurs(t *testing.T) {
	for in, want := range map[string]string{
		"a.pdf": "a.pdf", "Bodenprobe März – Süd.pdf": "Bodenprobe März – Süd.pdf", "a\nok  b.pdf": `a\x0aok  b.pdf`, "\x1b[2Ja": `\x1b[2Ja`, "a\rb\tc": `a\x0db\x09c`,
		"gpj.\u202efdp": `gpj.\u202efdp`, "a\u2028b": `a\u2028b`, "a\x7f\u0085": `a\x7f\x85`,
	} {
		if got := Shown(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
	r := &Reason{Code: "x", Severity: Hold, Where: Place{File: "a\nok  b.pdf \x1b[1m"}, What: "the name \x1b]0;t\x07 is odd", Found: "two\nlines\x1b"}
	text := r.Error()
	if strings.ContainsAny(text, "\x1b\x07") || strings.Contains(text, "\nok") || !strings.Contains(text, "two\n              lines") {
		t.Errorf("got %q", text)
	}
}
