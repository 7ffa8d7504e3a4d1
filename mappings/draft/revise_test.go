package draft

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// revisedFiles are reports after a laboratory changed its layout.
func revisedFiles(t testing.TB, lab string) (files []string, docs [][]*ingest.Document) {
	all, _ := filepath.Glob(filepath.Join(labsDir, lab, "revised", "*.*"))
	for _, f := range all {
		ways := readWays(t, f)
		n := 0
		for _, d := range ways {
			for _, p := range d.Pages {
				n += len(p.Words) + len(p.Cells)
			}
		}
		if n > 0 {
			files, docs = append(files, f), append(docs, ways)
		}
	}
	return files, docs
}

// Each laboratory's own mapping, amended for its revised reports, must read
// them without a fault that no question covers.
func TestRevise(t *testing.T) {
	v := vocabulary()
	ran := 0
	for lab, file := range map[string]string{
		"thrushgate-garden-soil-desk":                  "thrushgate",
		"oxbow-tansy-agronomy-laboratory":              "oxbow",
		"calder-plains-growers-cooperative-laboratory": "calder-plains",
		"verrin-analytical":                            "verrin",
		"grayling-street-soil-chemistry-bureau":        "grayling-street",
		"marrow-brook-land-water-testing":              "marrow-brook",
	} {
		if only := os.Getenv("DRAFT_SHOW"); !strings.HasPrefix(lab, only) {
			continue
		}
		text, err := os.ReadFile("../labs/" + file + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		old, why := mappings.Decode(file+".yaml", text, v)
		if old == nil {
			t.Fatal(why)
		}
		files, docs := revisedFiles(t, lab)
		if len(files) == 0 {
			continue
		}
		ran++
		dr, reasons := Revise(old, text, docs, Options{Vocabulary: v})
		if dr == nil {
			t.Errorf("%s: nothing proposed: %v", lab, reasons)
			continue
		}
		again, _ := Revise(old, text, docs, Options{Vocabulary: v})
		if again.Text != dr.Text {
			t.Errorf("%s: the same reports give another text", lab)
		}
		if os.Getenv("DRAFT_SHOW") != "" {
			t.Log(dr.Text)
		}
		sc := scoreLab(t, files, docs, dr)
		t.Logf("%s: %d readings, %d right, %d wrong, %d asked, %d missed", lab, sc.want, sc.right, sc.wrong, sc.asked, sc.missed)
		if sc.wrong > 0 || sc.right*100 < 80*sc.want {
			for _, n := range sc.notes[:min(20, len(sc.notes))] {
				t.Error(n)
			}
		}
		if !strings.Contains(dr.Text, "    from: 2026-") || !strings.Contains(dr.Text, "until: 2026-") || !strings.Contains(dr.Text, "What has changed") {
			t.Errorf("%s: the draft has no dates in force or shows no difference", lab)
		}
	}
	if ran == 0 {
		t.Fatal("no revised report was read")
	}
}
