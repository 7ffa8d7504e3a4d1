package interpret

import (
	"encoding/csv"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestRowsAreThosePublished compares the cells of the built-in rule set with
// the rows taken from the publications (testdata/published, where each names
// its source and how it was read), so that a slip of the hand in the YAML is
// seen. Columns a, b and c hold: bounds and class of a rating; inputs, rate
// and table of lime; rate and class of a nutrient; figure and date of a
// limit; range and target of a pH.
func TestRowsAreThosePublished(t *testing.T) {
	f, err := os.Open("../testdata/published/interpretation-rows.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][]string{}
	for _, r := range all[1:] {
		rows[r[0]] = r
	}
	compared := map[byte]int{}
	perAcre := map[string]bool{} // rows printed in lb/acre, which are halved
	same := func(id string, got Num, want string) {
		t.Helper()
		if want == "" && got == "" {
			compared[id[0]]++
			return
		}
		w, ok := parseNum(want)
		if perAcre[id] {
			w = quo(w, rat(2, 1))
		}
		if !ok || got == "" || got.rat().Cmp(w) != 0 {
			t.Errorf("%s is %q in the rule set and %q in the publication (%s)", id, got, want, rows[id][5])
		}
		compared[id[0]]++
	}
	// What a row rests on may not be called firmer than it was read.
	rests := func(id string, p Provenance) {
		t.Helper()
		r := rows[id]
		if r == nil {
			return
		}
		want := map[Provenance]bool{Seen: true, Computed: true, Inferred: true}
		switch {
		case strings.HasPrefix(r[6], "common"):
			want = map[Provenance]bool{Common: true}
		case strings.HasPrefix(r[6], "memory"):
			want = map[Provenance]bool{Memory: true}
		case strings.HasPrefix(r[6], "secondary"):
			want = map[Provenance]bool{Secondary: true, Inferred: true}
		case strings.HasPrefix(r[6], "inference"):
			want = map[Provenance]bool{Inferred: true}
		}
		if !want[p] {
			t.Errorf("%s is called %q, but it rests on %q", id, p, r[6])
		}
	}
	for _, rs := range allLoaded(t) {
		for _, k := range rs.Lime.Caps {
			rests(k.ID, k.Provenance)
		}
		for _, k := range rs.Lime.Choices {
			rests(k.ID, k.Provenance)
		}
		for _, table := range rs.Ratings {
			for _, c := range table.Classes {
				id, side, _ := strings.Cut(c.ID, "-")
				r := rows[id]
				if r == nil {
					t.Errorf("%s is not among the published rows", c.ID)
					continue
				}
				switch side { // the band that a critical value leaves over
				case "up":
					same(id, c.From, r[2])
					same(id, c.Below, "")
					continue
				case "under":
					same(id, c.From, "0")
					same(id, c.Below, r[1])
					continue
				}
				rests(c.ID, c.Provenance)
				perAcre[id] = r[4] == "lb/acre"
				if r[1] == "" || table.Analyte == "EC" && c.From.rat().Sign() == 0 {
					r[1] = "0" // the lowest band begins at nothing; for salts the publication\'s begins at what water itself carries
				}
				same(c.ID, c.From, r[1])
				same(c.ID, c.Below, r[2])
				word := c.Word
				if word == "" {
					word = c.Class
				}
				if want := strings.SplitN(strings.SplitN(r[3], " (", 2)[0], ":", 2)[0]; word != want {
					t.Errorf("%s is called %q, published %q", c.ID, word, want)
				}
			}
		}
		cells := regexp.MustCompile(`(?:acidity|BpH)=([0-9.]+);target=([0-9.]+)`)
		for _, rate := range rs.Lime.Rates {
			for _, row := range rate.Rows {
				var first int
				if _, err := fmt.Sscanf(row.ID, "L%d-", &first); err != nil {
					t.Fatal(row.ID)
				}
				for i, v := range row.Rates {
					id := fmt.Sprintf("L%03d", first+i)
					r := rows[id]
					if r == nil {
						t.Errorf("%s is not among the published rows", id)
						continue
					}
					m := cells.FindStringSubmatch(r[1])
					if m == nil {
						t.Fatalf("%s: %q", id, r[1])
					}
					same(id, row.Acidity+row.Buffer, m[1])
					same(id, rate.Goals[i], m[2])
					same(id, v, r[2])
				}
			}
		}
		for _, table := range rs.Nutrients {
			for _, row := range table.Rows {
				rests(row.ID, row.Provenance)
				r := rows[row.ID]
				if r == nil || row.Rate == "" || strings.Contains(r[1], " ") {
					continue // rows of the native bed and magnesium are split from one published row; a range is given by its low end
				}
				same(row.ID, row.Rate, r[1])
				if row.Class != "" && row.Class != r[3] {
					t.Errorf("%s is for %q, published for %q", row.ID, row.Class, r[3])
				}
			}
			if b := table.OnceMost; b != nil && rows[b.ID] != nil {
				same(b.ID, b.Most, rows[b.ID][1])
			}
		}
		for _, h := range rs.Lead.History {
			rests(h.ID, h.Provenance)
			same(h.ID, h.Figure, rows[h.ID][1])
			if !strings.HasPrefix(h.Date, rows[h.ID][2]) {
				t.Errorf("%s is dated %s, published %s", h.ID, h.Date, rows[h.ID][2])
			}
		}
		for _, p := range rs.PH {
			rests(p.ID, p.Provenance)
			r := rows[p.ID]
			if r[1] == "" { // a target alone, below which lime is due
				r[1] = r[3]
			}
			same(p.ID, p.Low, r[1])
			same(p.ID, p.High, r[2])
			if p.Target != "" || p.LimeBelow != "" || p.AcidifyAbove != "" {
				same(p.ID, p.Target, r[3])
			}
		}
		for _, k := range rs.Cautions {
			rests(k.ID, k.Provenance)
		}
	}
	rs := loaded(t)
	// The sulfur rule and its bounds, against the rows' own words and the
	// copy that the published checks are worked with.
	if len(rs.Sulfur) != 1 {
		t.Fatalf("%d sulfur rules", len(rs.Sulfur))
	}
	s := rs.Sulfur[0]
	rests(s.ID, s.Provenance)
	rests(s.Hopeless.ID, s.Hopeless.Provenance)
	same(s.ID, s.To, strings.TrimPrefix(rows[s.ID][1], "start pH, "))
	if m := regexp.MustCompile(`pH > ([0-9.]+) calcareous`).FindStringSubmatch(rows[s.Hopeless.ID][1]); m == nil {
		t.Errorf("%s: %q", s.Hopeless.ID, rows[s.Hopeless.ID][1])
	} else {
		same(s.Hopeless.ID, s.Hopeless.PH, m[1])
	}
	same(s.ID, s.PerTenth, string(tennessee.PerTenth))
	same(s.ID, s.OnceOver, string(tennessee.OnceOver))
	same(s.ID, s.FirstPart, string(tennessee.FirstPart))
	if s.Months != tennessee.Months || len(s.Factors) != len(tennessee.Factors) {
		t.Errorf("%+v", s)
	}
	for i, f := range tennessee.Factors {
		same(s.ID, s.Factors[i].By, string(f.By))
		if s.Factors[i].Textures[0] != f.Textures[0] {
			t.Errorf("factor %d is for %v, published for %v", i, s.Factors[i].Textures, f.Textures)
		}
	}
	for _, k := range rs.Lime.Caps {
		if k.ID == "L225" || k.ID == "L196" {
			same(k.ID, k.Most, rows[k.ID][2])
		}
	}
	for _, k := range rs.Cautions {
		rests(k.ID, k.Provenance)
		if k.ID == "L200" && !strings.Contains(k.Text, rows["L200"][2]+" tons") {
			t.Errorf("the caution on lime without tillage does not say %s tons: %s", rows["L200"][2], k.Text)
		}
		// Two thirds of a pound on 100 sq ft are 6.67 lb on 1000.
		if k.ID == "L230" && (!strings.Contains(k.Text, "two thirds of a pound on 100 square feet") || rat(20, 3).Cmp(num(t, rows["L230"][2])) > 0) {
			t.Errorf("the caution on sulfur is over %s lb/1000 sq ft: %s", rows["L230"][2], k.Text)
		}
	}
	t.Logf("cells compared, by the letter of the row: R %d, L %d, N %d, M %d, T %d", compared['R'], compared['L'], compared['N'], compared['M'], compared['T'])
	for letter, least := range map[byte]int{'R': 90, 'L': 300, 'N': 20, 'M': 9, 'T': 9} {
		if compared[letter] < least {
			t.Errorf("only %d cells of rows %c were compared", compared[letter], letter)
		}
	}
}

// An area that is one of the usual ones is told once.
func TestOwnAreaIsToldOnce(t *testing.T) {
	a := Advise(recordOf("lawn", goodGarden...), okReport, loaded(t), Ask{AreaSqFt: "1000"})
	for _, l := range a.Lines {
		if l.Product != nil && len(l.Product.PerArea) != 1 {
			t.Errorf("%s: %+v", l.ID, l.Product.PerArea)
		}
	}
}
