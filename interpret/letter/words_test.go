package letter_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

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
			if err := letter.HTML(&b, a, rec, rep, letter.Office{Name: n, Address: n, Phone: n, Email: n, Web: n, Signature: n}); err != nil {
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

type element struct {
	name  string
	attrs map[string]string
}

func elements(t *testing.T, h string) []element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(h))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out []element
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if s, ok := tok.(xml.StartElement); ok {
			e := element{s.Name.Local, map[string]string{}}
			for _, a := range s.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			out = append(out, e)
		}
	}
}

// Structure for people who listen to a page or print it without color.
func TestAccessible(t *testing.T) {
	pictures := 0
	for _, c := range cases() {
		_, b := write(t, c)
		level, h1 := 0, 0
		for _, e := range elements(t, string(b)) {
			switch e.name {
			case "html":
				if e.attrs["lang"] == "" {
					t.Errorf("%s: no language", c.name)
				}
			case "h1", "h2", "h3", "h4":
				n := int(e.name[1] - '0')
				if n == 1 {
					h1++
				}
				if n > level+1 {
					t.Errorf("%s: %s after h%d", c.name, e.name, level)
				}
				level = n
			case "th":
				if e.attrs["scope"] == "" {
					t.Errorf("%s: a table heading without scope", c.name)
				}
			case "svg":
				pictures++
				if e.attrs["role"] != "img" || e.attrs["aria-label"] == "" {
					t.Errorf("%s: a picture without words", c.name)
				}
			}
		}
		if h1 != 1 {
			t.Errorf("%s: %d main headings", c.name, h1)
		}
	}
	if pictures == 0 {
		t.Error("no picture was drawn")
	}
}

// Contrast of every text color of the style sheet on white is at least 4.5
// (WCAG 2.1, success criterion 1.4.3; formula of relative luminance from the
// same standard, from memory).
func TestContrast(t *testing.T) {
	_, b := write(t, cases()[1])
	found := regexp.MustCompile(`[ ;{]color: #([0-9a-f]{6})`).FindAllStringSubmatch(string(b), -1)
	if len(found) < 4 {
		t.Fatal("the colors were not found")
	}
	for _, m := range found {
		if c := 1.05 / (luminance(t, m[1]) + 0.05); c < 4.5 {
			t.Errorf("#%s on white has contrast %.2f", m[1], c)
		}
	}
	// The words in the shaded boxes.
	if c := (luminance(t, "cfd6c4") + 0.05) / (luminance(t, "1d1d1b") + 0.05); c < 4.5 {
		t.Errorf("the words in shaded boxes have contrast %.2f", c)
	}
}

func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	var v [3]int
	if _, err := fmt.Sscanf(hex, "%02x%02x%02x", &v[0], &v[1], &v[2]); err != nil {
		t.Fatal(err)
	}
	var l [3]float64
	for i, n := range v {
		c := float64(n) / 255
		if c <= 0.04045 {
			l[i] = c / 12.92
		} else {
			l[i] = math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
}

// grade is the Flesch-Kincaid grade level: 0.39 words a sentence + 11.8
// syllables a word - 15.59 (Kincaid et al. 1975, from memory).
func grade(texts []string) (g float64, words, sentences int) {
	syll := 0
	for _, text := range texts {
		for _, s := range regexp.MustCompile(`[.!?:]+(\s|$)`).Split(text, -1) {
			ws := strings.FieldsFunc(s, func(c rune) bool { return !unicode.IsLetter(c) && c != '\'' })
			if len(ws) == 0 {
				continue
			}
			sentences++
			for _, w := range ws {
				words++
				syll += syllables(w)
			}
		}
	}
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(syll)/float64(words) - 15.59, words, sentences
}

func syllables(w string) int {
	w = strings.ToLower(w)
	n, vowel := 0, false
	for _, c := range w {
		v := strings.ContainsRune("aeiouy", c)
		if v && !vowel {
			n++
		}
		vowel = v
	}
	if strings.HasSuffix(w, "e") && !strings.HasSuffix(w, "le") && n > 1 {
		n--
	}
	if strings.HasSuffix(w, "ed") && !strings.HasSuffix(w, "ted") && !strings.HasSuffix(w, "ded") && n > 1 {
		n--
	}
	return max(n, 1)
}

// The fixed phrases, and what each letter says from the rule set, read at
// about the eighth grade.
func TestReadingLevel(t *testing.T) {
	g, words, sentences := grade(letter.FixedPhrases())
	t.Logf("fixed phrases: grade %.1f (%d words, %d sentences)", g, words, sentences)
	if g > 7 {
		t.Errorf("the fixed phrases read at grade %.1f", g)
	}
	rs := ruleSet(t)
	var texts []string
	for _, c := range rs.Cautions {
		texts = append(texts, c.Text)
	}
	for _, p := range rs.PH {
		texts = append(texts, p.Above, p.Below)
	}
	for _, n := range rs.Nutrients {
		texts = append(texts, n.When, n.Note)
		for _, row := range n.Rows {
			texts = append(texts, row.Ask)
		}
	}
	for _, l := range rs.Lead.Tiers {
		texts = append(texts, append(l.Do, l.Refer)...)
	}
	for _, o := range rs.Organic {
		texts = append(texts, o.Advice, o.NotIfHighP)
	}
	g, words, sentences = grade(texts)
	t.Logf("rule set: grade %.1f (%d words, %d sentences)", g, words, sentences)
	if g > 8 {
		t.Errorf("the texts of the rule set read at grade %.1f", g)
	}
	for _, c := range cases() {
		a, _ := write(t, c)
		var said []string
		for _, q := range a.Questions {
			said = append(said, q.Text)
		}
		for _, l := range a.Lines {
			said = append(said, l.What)
		}
		g, words, sentences := grade(said)
		t.Logf("%s: grade %.1f (%d words, %d sentences)", c.name, g, words, sentences)
		if g > 8.5 {
			t.Errorf("%s reads at grade %.1f", c.name, g)
		}
	}
	// The measure itself, on a sentence worked by hand: 10 words, 1 sentence,
	// 13 syllables (read-ing, a-cid, gar-den).
	if g, _, _ := grade([]string{"I am reading that the acid garden soil needs lime."}); math.Abs(g-(0.39*10+11.8*1.3-15.59)) > 0.01 {
		t.Errorf("the measure gives %.2f", g)
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
		h := strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "&#43;", "+", "\u2011", "-").Replace(string(b))
		var want []string
		for _, q := range a.Questions {
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
				for _, f := range l.Product.PerArea {
					want = append(want, thousands(f.Lb)+" lb")
				}
			}
			for _, p := range l.Parts {
				for _, f := range p.PerArea {
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
