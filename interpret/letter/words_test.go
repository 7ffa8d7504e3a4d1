package letter_test

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
)

// Names, labels and units come from files that anyone can send.
func TestHostileNamesAreEscaped(t *testing.T) {
	nasty := []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `'; DROP TABLE--`, `{{.Office}}`, `&lt;b&gt;`, "\u202eevil", `</title><svg onload=alert(1)>`}
	for _, n := range nasty {
		rec := record("vegetable garden"+n, n, n, n+", "+n, r("pH", "6.5", lab(n)), r("P", "50", func(x *normalize.Result) { x.Printed.Text, x.Printed.Unit, x.MethodName = n, n, n }), r("K", "40", by("x", n)))
		rec.Sample.LabID, rec.ID = n, n
		rep := &normalize.Report{ID: "R1", Status: normalize.OK, Lab: normalize.Lab{Name: n}}
		for _, ask := range []interpret.Ask{{LandUse: "lawn", On: "2026-04-15"}, {On: "2026-04-15"}} {
			a := interpret.Advise(rec, rep, ruleSet(t), ask)
			var b strings.Builder
			if err := (&letter.Letter{Advice: a, Record: rec, Report: rep, Office: letter.Office{Name: n, Address: n, Phone: n, Email: n, Web: n, Signature: n}}).HTML(&b); err != nil {
				t.Fatal(err)
			}
			h := b.String()
			for _, bad := range []string{"<script", "<img", "onerror=alert(1)>", "<svg onload", "</title><svg"} {
				if strings.Contains(h, bad) {
					t.Errorf("%q reached the page through %q", bad, n)
				}
			}
			if strings.Count(h, "<title>") != strings.Count(h, "</title>") {
				t.Errorf("%q broke the page", n)
			}
		}
	}
}

// A letter fetches nothing and runs nothing.
func TestSelfContained(t *testing.T) {
	for _, c := range cases() {
		_, b := write(t, c)
		for _, bad := range []string{"<script", "src=", "url(", "@import", "<link", "<iframe", "href="} {
			if strings.Contains(string(b), bad) {
				t.Errorf("%s holds %s", c.name, bad)
			}
		}
	}
}

// thousands parts off the thousands of a number below a million, as the
// letter writes it.
func thousands(n string) string {
	whole, rest, _ := strings.Cut(n, ".")
	if len(whole) > 3 {
		whole = whole[:len(whole)-3] + "," + whole[len(whole)-3:]
	}
	if rest != "" {
		return whole + "." + rest
	}
	return whole
}

// The letter holds every question, amount, caution and disclosure of the
// advice: nothing is dropped on the way to the page.
func TestNothingIsLeftOut(t *testing.T) {
	for _, c := range cases() {
		a, b := write(t, c)
		h := strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "&#43;", "+", "\u2011", "-", "\u00a0", " ").Replace(string(b))
		var want []string
		for _, q := range a.Questions {
			if strings.HasSuffix(q.Code, "-doubtful") {
				continue // the staff's words; see TestDoubtsArePlain for the client's
			}
			want = append(want, q.Text)
		}
		for _, x := range a.Cautions {
			want = append(want, x.Text)
		}
		want = append(want, a.Disclosure...)
		for _, s := range a.Sources {
			want = append(want, s.Text)
		}
		for _, l := range a.Lines {
			if l.Product != nil && len(l.Parts) == 0 {
				for _, f := range shownAreas(l.Product.PerArea) {
					want = append(want, thousands(f.Lb)+" lb")
				}
			}
			for _, p := range l.Parts {
				for _, f := range shownAreas(p.PerArea) {
					want = append(want, thousands(f.Lb)+" lb")
				}
			}
			if l.When == interpret.Not {
				want = append(want, l.What)
			}
		}
		if a.Lead != nil {
			want = append(want, a.Lead.Do...)
			want = append(want, a.Lead.History...)
		}
		want = append(want, c.rec.ID)
		for _, w := range want {
			if !strings.Contains(h, w) {
				t.Errorf("%s does not say %q", c.name, w)
			}
		}
		for _, r := range a.Ratings {
			if slices.Contains([]string{"pH", "OM", "P", "K", "Mg", "Ca"}, r.Analyte) && !strings.Contains(h, r.Printed) {
				t.Errorf("%s does not show the printed %s %s", c.name, r.Analyte, r.Printed)
			}
		}
	}
}

// shownAreas are those of an amount's areas that a letter has a column for.
func shownAreas(fs []interpret.ForArea) []interpret.ForArea { return fs[:min(2, len(fs))] }
