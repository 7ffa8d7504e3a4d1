package archive_test

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
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
	if err != nil || len(es) != 11 {
		t.Fatalf("%v, %v", es, err)
	}
	for _, e := range es {
		if e.Name() != "FORMAT.md" && !strings.Contains(string(page), "`"+e.Name()) {
			t.Errorf("FORMAT.md says nothing of %s", e.Name())
		}
	}
}

// A program that knows nothing but FORMAT.md reads an archive with every kind
// of document and an erasure in it: it accounts for every file by a place that
// the page names, checks every hash, finds the original of every report or the
// tombstone that says where it went, and finds nothing that was erased.
func TestFormatPageIsEnoughToRead(t *testing.T) {
	a := open(t)
	note := fill(t, a)
	if err := erase(a, note); err != nil {
		t.Fatal(err)
	}
	all := files(t, a.Dir())
	// The patterns are those of the page's table of places.
	places := []struct{ shown, is string }{
		{"`originals/ab/sha256-abcd…`", `^originals/([0-9a-f]{2})/sha256-([0-9a-f]{64})$`},
		{"`reports/01/R0123…/0001.json`", `^reports/([0-9a-f]{2})/(R[^/]+)/(\d{4,})\.json(\.sha256)?$`},
		{"`advice/01/R0123…-1/0001.json`", `^advice/([0-9a-f]{2})/(R[^/]+-\d+)/(\d{4,})\.json(\.sha256)?$`},
		{"`signoffs/01/S0123…/0001.json`", `^signoffs/([0-9a-f]{2})/(S[^/]+)/(\d{4,})\.json(\.sha256)?$`},
		{"`rulings/01/R0123…/0001.json`", `^rulings/([0-9a-f]{2})/(R[^/]+)/(\d{4,})\.json(\.sha256)?$`},
		{"`proofs/01/R0123…/0001.json`", `^proofs/([0-9a-f]{2})/(R[^/]+)/(\d{4,})\.json(\.sha256)?$`},
		{"`tombstones/01/R0123…/0001.json`", `^tombstones/([0-9a-f]{2})/(R[^/]+)/(\d{4,})\.json(\.sha256)?$`},
		{"`arrivals/2026/11/20261125T143911Z-abcdef01-1.json`", `^arrivals/\d{4}/\d{2}/\d{8}T\d{6}Z-[0-9a-f]{8}-\d+\.json$`},
		{"`format.json`", `^format\.json$`},
	}
	seen := map[string]int{}
	for p, b := range all {
		if p == "FORMAT.md" {
			continue
		}
		known := false
		for _, place := range places {
			m := regexp.MustCompile(place.is).FindStringSubmatch(p)
			if m == nil {
				continue
			}
			known = true
			seen[place.shown]++
			if !strings.Contains(all["FORMAT.md"], "| "+place.shown+" |") {
				t.Errorf("the page has no line for %s", place.shown)
			}
			sum := fmt.Sprintf("%x", sha256.Sum256([]byte(b)))
			switch {
			case strings.HasPrefix(p, "originals/"):
				if m[2] != sum || m[1] != sum[:2] {
					t.Errorf("%s is not what its name says", p)
				}
			case len(m) == 5 && m[4] == "":
				if m[1] != m[2][1:3] || all[p+".sha256"] != sum+"  "+path.Base(p)+"\n" {
					t.Errorf("%s: folder or checksum is not as the page says", p)
				}
			}
		}
		if !known {
			t.Errorf("the page says nothing of %s", p)
		}
	}
	gone := map[string]bool{}
	for p, b := range all {
		var d struct {
			Schema    string
			Finished  *bool
			Originals []string
			Arrivals  []string
			Documents []struct {
				Kind, ID string
				Version  int
			}
			Kept struct {
				ID, SHA256 string
				Version    int
			}
		}
		if !strings.HasPrefix(p, "tombstones/") || !strings.HasSuffix(p, "/0002.json") {
			continue
		}
		if err := json.Unmarshal([]byte(b), &d); err != nil || d.Finished == nil || !*d.Finished {
			t.Fatalf("%s: %v, %s", p, err, b)
		}
		for _, h := range d.Originals {
			gone["originals/"+h[:2]+"/sha256-"+h] = true
		}
		for _, x := range d.Documents {
			gone[fmt.Sprintf("%s/%s/%s/%04d.json", x.Kind, x.ID[1:3], x.ID, x.Version)] = true
		}
		for _, x := range d.Arrivals {
			gone[x] = true
		}
		kept := fmt.Sprintf("reports/%s/%s/%04d.json", d.Kept.ID[1:3], d.Kept.ID, d.Kept.Version)
		if fmt.Sprintf("%x", sha256.Sum256([]byte(all[kept]))) != d.Kept.SHA256 {
			t.Errorf("what stays is not at %s", kept)
		}
	}
	if len(gone) != 7 {
		t.Errorf("the tombstone tells of %v", gone)
	}
	for p := range gone {
		if _, there := all[p]; there {
			t.Errorf("%s was erased and is there", p)
		}
	}
	reports := 0
	for p, b := range all {
		if !strings.HasPrefix(p, "reports/") || !strings.HasSuffix(p, ".json") {
			continue
		}
		reports++
		var d struct{ Source struct{ SHA256 string } }
		if err := json.Unmarshal([]byte(b), &d); err != nil || len(d.Source.SHA256) != 64 {
			t.Fatalf("%s: %v", p, err)
		}
		at := "originals/" + d.Source.SHA256[:2] + "/sha256-" + d.Source.SHA256
		if _, there := all[at]; there == gone[at] {
			t.Errorf("%s: its original is there %v, and erased %v", p, there, gone[at])
		}
	}
	if reports != 2 || len(seen) != len(places)-2 { // the ruling and the proof were erased
		t.Errorf("%d reports, %v", reports, seen)
	}
}
