package letter

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var placeName = regexp.MustCompile(`\{=?[a-z]+\}`)

func placesOf(s string) []string {
	p := placeName.FindAllString(s, -1)
	slices.Sort(p)
	return slices.Compact(p)
}

// Every language has the same phrases with the same places, and nothing in
// the program asks for a phrase that there is none of.
func TestLanguagesMatch(t *testing.T) {
	en := tongueOf(English)
	if len(en.own) < 100 {
		t.Fatalf("only %d phrases", len(en.own))
	}
	for _, lang := range Languages() {
		x := tongueOf(lang)
		if x.lang != lang {
			t.Fatalf("no words of %s", lang)
		}
		for key, s := range en.own {
			to, ok := x.own[key]
			if !ok {
				t.Errorf("%s has no %q", lang, key)
			} else if !slices.Equal(placesOf(s), placesOf(to)) {
				t.Errorf("%s: %q has the places %v, and English %v", lang, key, placesOf(to), placesOf(s))
			} else if to == "" && key != "untranslated_note" {
				t.Errorf("%s: %q is empty", lang, key)
			}
		}
		for key := range x.own {
			if _, ok := en.own[key]; !ok {
				t.Errorf("%s has %q, which English has not", lang, key)
			}
		}
		if n := len(strings.Fields(x.say("months"))); n != 12 {
			t.Errorf("%s has %d months", lang, n)
		}
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	asked := map[string]bool{}
	for _, f := range append(files, "letter.html.tmpl") {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(?:\bsay\(|\bSay |\badd\(|open :?= |\bt\.say\()"([a-z_0-9]+)"`).FindAllStringSubmatch(string(b), -1) {
			if !strings.HasSuffix(f, "_test.go") {
				asked[m[1]] = true
			}
		}
		for _, m := range regexp.MustCompile(`join\([a-z]+, "([a-z]+)"\)`).FindAllStringSubmatch(string(b), -1) {
			asked[m[1]] = true
		}
	}
	for key := range asked {
		if !en.has(key) {
			t.Errorf("the program asks for the phrase %q, and there is none", key)
		}
	}
	for key := range en.own {
		family := slices.Contains([]string{"class", "organic", "trace", "harm", "salts", "box", "years", "name"}, strings.SplitN(key, ".", 2)[0])
		if !asked[key] && !family && key != "language_name" {
			t.Errorf("nothing says %q", key)
		}
	}
}

// What stands in the memory keeps its places, so that no amount and no date
// is lost on the way to another language.
func TestMemoryKeepsPlaces(t *testing.T) {
	m := tongueOf(Spanish).memory
	if len(m.whole) < 150 || len(m.patterns) < 20 {
		t.Fatalf("%d sentences and %d patterns", len(m.whole), len(m.patterns))
	}
	number := regexp.MustCompile(`\d+(?:\.\d+)?`)
	for from, to := range m.whole {
		if to == "" {
			t.Errorf("%q has no translation", from)
		}
		for _, n := range number.FindAllString(from, -1) {
			if !strings.Contains(to, n) && !(n == "1" && strings.Contains(to, "una")) {
				t.Errorf("%q holds %s, and its translation doesn't: %q", from, n, to)
			}
		}
		if strings.Contains(to, "{") {
			t.Errorf("%q: a place in %q", from, to)
		}
	}
	for _, p := range m.patterns {
		var want []string
		for _, x := range p.places {
			if x.as {
				want = append(want, "{="+x.name+"}")
			} else {
				want = append(want, "{"+x.name+"}")
			}
		}
		slices.Sort(want)
		if got := placesOf(p.to); !slices.Equal(slices.Compact(want), got) {
			t.Errorf("%q has the places %v, want %v", p.to, got, want)
		}
	}
}

// A text is translated sentence by sentence; what has no translation stays,
// marked, and is never dropped.
func TestTranslation(t *testing.T) {
	es := tongueOf(Spanish)
	mark := func(s string) string { return string(foreignFrom) + "[en inglés: " + s + "]" + string(foreignTo) }
	for _, x := range [][2]string{
		{"", ""},
		{"Add no phosphate. Your soil has enough phosphorus.", "No ponga fosfato. Su suelo ya tiene suficiente fósforo."},
		{"The pH is right for a lawn.", "El pH está bien para un césped."},
		{"We cannot advise on phosphorus and potassium yet. The report does not say how it was measured.", "Todavía no podemos aconsejarle sobre fósforo y potasio. El informe no dice cómo se midió."},
		{"The soil was sampled on March 21, 2026. That is more than 3 years ago, and soil changes.", "La muestra se tomó el 21 de marzo de 2026. Hace más de 3 años, y el suelo cambia."},
		{"The laboratory used the Woodruff buffer.", "El laboratorio usó este tampón (buffer), Woodruff buffer."},
		{"Add no gold. Your soil has enough phosphorus.", mark("Add no gold.") + " Su suelo ya tiene suficiente fósforo."},
		{"Sing to it every day.", mark("Sing to it every day.")},
		{"Sing\uE001<b>\uE000 to it.", mark("Sing<b> to it.")},
		{"Spread ground limestone in 3 parts, 6 months apart. Dig it in 6 to 8 inches deep.", "Esparza piedra caliza molida (cal agrícola) en 3 partes, con 6 meses entre una y otra. Mezcle con la tierra a una profundidad de 6 a 8 pulgadas."},
		{"2001: 400 mg/kg, federal hazard level for bare soil where children play (still in force when last checked)", "2001: 400 mg/kg, nivel federal de peligro para suelo desnudo donde juegan niños (vigente cuando se revisó)"},
	} {
		if got := es.tr(x[0]); got != x[1] {
			t.Errorf("%q\n gives %q\n want  %q", x[0], got, x[1])
		}
		if got := tongueOf(English).tr(x[0]); got != x[0] {
			t.Errorf("English changes %q into %q", x[0], got)
		}
	}
	if got := textHTML(es.tr("Sing <i> to it.")); got != `<span lang="en">[en inglés: Sing &lt;i&gt; to it.]</span>` {
		t.Errorf("on the page: %s", got)
	}
}
