package mappings

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// Every mistake in a mapping is told by file, line and column, with what was
// expected and what to do. The golden files are read as a steward would.
func TestDecodeErrors(t *testing.T) {
	files, err := filepath.Glob("testdata/errors/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no files to try", err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		m, reasons := Decode(f, b, words{})
		if m != nil || len(reasons) == 0 {
			t.Errorf("%s was accepted", f)
			continue
		}
		var out []string
		for _, r := range reasons {
			if r.Where.Line == 0 || r.Where.Col == 0 || r.What == "" || r.Next == "" || r.Severity != ingest.Fail {
				t.Errorf("%s: a reason without its place or advice: %+v", f, r)
			}
			out = append(out, r.Error())
		}
		got := strings.Join(out, "\n") + "\n"
		want := strings.TrimSuffix(f, ".yaml") + ".want"
		if *update {
			if err := os.WriteFile(want, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		golden, err := os.ReadFile(want)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(golden) {
			t.Errorf("%s: got\n%swant\n%s", f, got, golden)
		}
	}
}

func FuzzDecode(f *testing.F) {
	for _, pat := range []string{"testdata/errors/*.yaml", "labs/*.yaml"} {
		files, _ := filepath.Glob(pat)
		for _, name := range files {
			b, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 20000 {
			return
		}
		m, reasons := Decode("f.yaml", b, words{})
		if (m == nil) == (len(reasons) == 0) {
			t.Fatalf("a mapping beside %d reasons", len(reasons))
		}
	})
}
