package draft

import (
	"os"
	"path/filepath"
	"slices"
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
		for _, m := range members(t, f) {
			if ways := readSource(m); len(ways) > 0 {
				docs = append(docs, ways)
			}
		}
	}
	return files, docs
}

// A drift is what the program that made the revised reports changed, as its
// truth files say, in the words of a Change: relied on and found.
var drifts = map[string][][2]string{
	"thrushgate":      {{"Your result", "Found"}, {"ppm", "lb/acre"}},
	"oxbow":           {{"lb/acre", "ppm"}, {"Lab No. | Field / Sample", "Calcium | Magnesium | K | P"}},
	"calder-plains":   {{"{this year} | {last year}", "{last year} | {this year}"}, {"Phosphate, P2O5", "Phosphorus, P"}},
	"verrin":          {{"row 8", "row 11"}, {"NO3-N", "Nitrate N"}, {"mg/kg", "lb/acre"}, {"g/kg", "%"}},
	"grayling-street": {{"O.M.", "Org. matter"}, {"me/100 g", "mg/kg"}},
	"marrow-brook":    {{"Result", "Value"}},
	"ashlar-reed":     {{"Bray P1 ppm", "Avail. P ppm (Bray)"}, {"Olsen P ppm", "Avail. P ppm (Olsen)"}, {"ppm", "lb/acre"}},
}

// driftUnits are the tests that the truth files say are printed in another
// unit, by their labels in the catalogue or headings.
var driftUnits = map[string][]string{
	"thrushgate":      {"Phosphorus (P)", "Potassium (K)", "Calcium (Ca)", "Magnesium (Mg)", "Sulfur (S)"},
	"oxbow":           {"P", "K", "Calcium", "Magnesium", "Sulfur", "Zinc", "Manganese", "Copper", "Boron"},
	"verrin":          {"Nitrate N", "Organic matter"},
	"grayling-street": {"Ca", "Mg", "K", "Na"},
	"ashlar-reed":     {"Nitrate-N", "K", "Ca", "Mg", "Na"},
}

// The difference that a steward is shown must name what the laboratory
// changed and nothing that it did not: no heading is called gone that stands
// in the new reports, and every line of the old layout that still fits stays
// to the letter.
func TestReviseNamesWhatChanged(t *testing.T) {
	v := vocabulary()
	for lab, want := range drifts {
		text, err := os.ReadFile("../labs/" + lab + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		old, _ := mappings.Decode(lab+".yaml", text, v)
		dirs, _ := filepath.Glob(filepath.Join(labsDir, strings.Split(lab, "-")[0]+"*"))
		if old == nil || len(dirs) != 1 {
			t.Fatal(lab, dirs)
		}
		_, docs := revisedFiles(t, filepath.Base(dirs[0]))
		dr, reasons := Revise(old, text, docs, Options{Vocabulary: v})
		if dr == nil {
			t.Errorf("%s: nothing proposed: %v", lab, reasons)
			continue
		}
		for _, w := range want {
			if !slices.ContainsFunc(dr.Changes, func(c Change) bool {
				return strings.Contains(c.Relied, w[0]) && strings.Contains(c.Found, w[1]) && !c.Place.IsZero() && c.Proposed != ""
			}) {
				t.Errorf("%s: the change from %q to %q is not told with its place: %v", lab, w[0], w[1], dr.Changes)
			}
		}
		for _, u := range driftUnits[lab] {
			if !slices.ContainsFunc(dr.Changes, func(c Change) bool {
				return strings.Contains(c.What, "the unit") && (strings.HasSuffix(c.What, " "+u) || strings.HasSuffix(c.What, "'"+u+"'"))
			}) {
				t.Errorf("%s: the change of the unit of %s is not told: %v", lab, u, dr.Changes)
			}
		}
		printed := map[string]bool{}
		for _, ways := range docs {
			for _, d := range ways {
				for _, p := range d.Pages {
					for _, c := range p.Cells {
						printed[mappings.Squeeze(c.Text)] = true
					}
					for _, l := range mappings.LayOut(d, p).Lines {
						var words []string
						for _, w := range l {
							words = append(words, w.Text)
						}
						printed[mappings.Squeeze(strings.Join(words, " "))] = true
					}
				}
			}
		}
		for _, c := range dr.Changes {
			if c.Found != "" || !strings.Contains(c.What, "heading") {
				continue
			}
			for p := range printed {
				if strings.Contains(p, mappings.Squeeze(c.Relied)) {
					t.Errorf("%s: %q is called gone and stands in %q", lab, c.Relied, p)
				}
			}
		}
		unitLines := 0
		for _, l := range strings.Split(strings.TrimRight(string(text), "\n"), "\n") {
			if strings.Contains(dr.Text, l) {
				continue
			}
			if unitLines++; !strings.Contains(l, "{analyte:") || unitLines > len(dr.Changes) {
				t.Errorf("%s: the old line is no longer there: %s", lab, l)
			}
		}
		if !strings.Contains(dr.Text, "QUESTION") || len(dr.Questions) == 0 {
			t.Errorf("%s: a revised layout asks nothing, so nothing would hold what it reads", lab)
		}
	}
}

// Reports that the mapping reads as it is are not revised.
func TestReviseUnchanged(t *testing.T) {
	v := vocabulary()
	text, err := os.ReadFile("../labs/oxbow.yaml")
	if err != nil {
		t.Fatal(err)
	}
	old, _ := mappings.Decode("oxbow.yaml", text, v)
	ways := readWays(t, filepath.Join(labsDir, "oxbow-tansy-agronomy-laboratory", "OT-26-0418.pdf"))
	dr, reasons := Revise(old, text, [][]*ingest.Document{ways}, Options{Vocabulary: v})
	if dr != nil || len(reasons) != 1 || reasons[0].Code != "draft-unchanged" {
		t.Errorf("a report that is read as it is gave %v, %v", dr, reasons)
	}
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
