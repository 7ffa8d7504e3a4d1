package normalize

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference like code")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	p := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(p, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs:\n%s", p, got)
	}
}

// The traces that a clerk will ask for most, one for each way of converting.
func TestTraceGolden(t *testing.T) {
	var b bytes.Buffer
	for _, want := range []struct{ file, analyte, sample string }{
		{"CP26-A017.pdf", "P", "CP26-A017-01"},
		{"MB26-0711.csv", "Ca", "MB49180"},
		{"MB26-0711.csv", "NO3-N", "MB49180"},
		{"VA-26-0311.xlsx", "base_sat_K", "V027631"},
		{"VA-26-0311.xlsx", "Cu", "V027631"},
		{"unknown-lab.pdf", "P", ""},
	} {
		n := b.Len()
		for _, f := range truths(t) {
			if f.File != want.file {
				continue
			}
			rep := Build(f.extract(t), Options{})
			for _, rec := range rep.Records {
				for _, res := range rec.Results {
					if res.Analyte == want.analyte && (want.sample == "" || rec.Sample.LabID == want.sample) && b.Len() == n {
						Trace(&b, rep, rec, res)
						b.WriteByte('\n')
					}
				}
			}
		}
		if b.Len() == n {
			t.Fatalf("no %s in %s", want.analyte, want.file)
		}
	}
	golden(t, "traces.txt", b.Bytes())
	for _, l := range strings.Split(b.String(), "\n") {
		if strings.TrimRight(l, " ") != l {
			t.Errorf("line ends in a space: %q", l)
		}
	}
}
