package archive_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/normalize/archive"
)

// What FORMAT.md tells a reader without this program to type must work, with
// sha256sum of the GNU core utilities as judge: silent on a sound archive,
// and not on a damaged one.
func TestFormatPageChecksAnArchive(t *testing.T) {
	for _, tool := range []string{"sh", "find", "sha256sum", "cut", "basename"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("this test needs %s: %v", tool, err)
		}
	}
	a := open(t)
	src := []byte("P 31 ppm")
	r, _ := a.PutOriginal(src)
	if _, _, err := a.PutReport(idA, report(idA, src, "P 31")); err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join(a.Dir(), "FORMAT.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(page), "## How to check it without the program\n")
	section, _, _ := strings.Cut(after, "\n## ")
	var script strings.Builder
	for line := range strings.Lines(section) {
		if code, ok := strings.CutPrefix(line, "    "); ok {
			script.WriteString(code)
		}
	}
	if strings.Count(script.String(), "sha256sum") != 2 {
		t.Fatalf("the page's script is not where it was: %q", script.String())
	}
	run := func() string {
		c := exec.Command("sh", "-c", script.String())
		c.Dir = a.Dir()
		out, _ := c.CombinedOutput()
		return string(out)
	}
	if out := run(); out != "" {
		t.Errorf("on a sound archive: %s", out)
	}
	original := filepath.Join(a.Dir(), "originals", r.SHA256()[:2], string(r))
	overwrite(t, original, "P 37 ppm")
	if out := run(); !strings.Contains(out, "damaged: ./"+r.SHA256()[:2]+"/"+string(r)) {
		t.Errorf("on a damaged original: %q", out)
	}
	overwrite(t, original, string(src))
	overwrite(t, filepath.Join(a.Dir(), "reports/01", idA, "0001.json"), string(report(idA, src, "P 37")))
	if out := run(); !strings.Contains(out, "0001.json: FAILED") {
		t.Errorf("on a damaged report: %q", out)
	}
}

// Every folder and file of a full archive is spoken of in its FORMAT.md.
func TestFormatPageNamesEverything(t *testing.T) {
	a := open(t)
	r, _ := a.PutOriginal([]byte("x"))
	_, _, _ = a.PutReport(idA, report(idA, []byte("x"), "x"))
	_, _, _ = a.PutAdvice(idA+"-1", []byte("{}"))
	if _, err := a.PutArrival(archive.Arrival{Name: "x", Time: jobTime, SHA256: r.SHA256(), Outcome: "ok"}); err != nil {
		t.Fatal(err)
	}
	page, _ := os.ReadFile(filepath.Join(a.Dir(), "FORMAT.md"))
	es, err := os.ReadDir(a.Dir())
	if err != nil || len(es) != 10 {
		t.Fatalf("%v, %v", es, err)
	}
	for _, e := range es {
		if e.Name() != "FORMAT.md" && !strings.Contains(string(page), "`"+e.Name()) {
			t.Errorf("FORMAT.md says nothing of %s", e.Name())
		}
	}
}
