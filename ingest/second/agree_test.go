package second

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/pdf"
)

// TestAgreement holds the two engines against each other on every sample that
// has text. PDFium is the reference of the first, and the first of this
// comparison.
func TestAgreement(t *testing.T) {
	c := Over(engine(t).Do)
	sources, firsts := texts(t)
	var words, pages, differ int
	var reading, comparing time.Duration
	for i, src := range sources {
		start := time.Now()
		g, err := c.Glyphs(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Errorf("%s: %v", src.Name, err)
			continue
		}
		reading += time.Since(start)
		start = time.Now()
		all := Compare(firsts[i], g).All()
		comparing += time.Since(start)
		for _, p := range firsts[i].Pages {
			words += len(p.Words)
			pages++
		}
		for _, d := range all {
			// A browser prints small capitals that are small letters in the
			// file; PDFium gives the letters, the first engine the capitals.
			if strings.EqualFold(d.First, d.Second) && !strings.ContainsAny(d.First, "0123456789") {
				differ++
				continue
			}
			t.Errorf("%s: %q and %q at %v", src.Name, d.First, d.Second, d.Place)
		}
	}
	if words < 20000 {
		t.Errorf("only %d words were compared", words)
	}
	t.Logf("%d words on %d pages, %d differ in capitals only, none in what it says; reading %.1f ms a page, comparing %.2f ms a page", words, pages, differ,
		float64(reading.Microseconds())/1000/float64(pages), float64(comparing.Microseconds())/1000/float64(pages))
}

// TestPlanted changes what the first engine read, in one word at a time, and
// wants exactly that word to be found.
func TestPlanted(t *testing.T) {
	c := Over(engine(t).Do)
	sources, firsts := texts(t)
	rng := rand.New(rand.NewPCG(1, 2))
	changes := []struct {
		name string
		make func(string) string
	}{
		{"another figure", func(s string) string {
			i := strings.IndexAny(s, "0123456789")
			return s[:i] + string('0'+(s[i]-'0'+1)%10) + s[i+1:]
		}},
		{"a figure lost", func(s string) string { i := strings.IndexAny(s, "0123456789"); return s[:i] + s[i+1:] }},
		{"a figure more", func(s string) string { return s + "0" }},
		{"a point lost or gained", func(s string) string {
			if strings.Contains(s, ".") {
				return strings.Replace(s, ".", "", 1)
			}
			return s + ".5"
		}},
		{"a limit lost or gained", func(s string) string {
			if strings.HasPrefix(s, "<") {
				return s[1:]
			}
			return "<" + s
		}},
		{"two figures in another order", func(s string) string {
			for i := 0; i+1 < len(s); i++ {
				if s[i] != s[i+1] && s[i] >= '0' && s[i] <= '9' && s[i+1] >= '0' && s[i+1] <= '9' {
					return s[:i] + s[i+1:i+2] + s[i:i+1] + s[i+2:]
				}
			}
			return "7" + s
		}},
	}
	tried := 0
	for i, src := range sources {
		g, err := c.Glyphs(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		type at struct{ page, word int }
		var numbers []at
		for pi, p := range firsts[i].Pages {
			for wi, w := range p.Words {
				if w.Ghost == "" && strings.ContainsAny(w.Text, "0123456789") {
					numbers = append(numbers, at{pi, wi})
				}
			}
		}
		base := len(Compare(firsts[i], g).All())
		for range min(20, len(numbers)) {
			n := numbers[rng.IntN(len(numbers))]
			w := &firsts[i].Pages[n.page].Words[n.word]
			change := changes[rng.IntN(len(changes))]
			was := w.Text
			w.Text = change.make(was)
			cmp := Compare(firsts[i], g)
			b := w.Box
			found := cmp.At(ingest.Place{Page: n.page + 1, Box: &b})
			ok := false
			for _, d := range found {
				ok = ok || d.First == w.Text && plain(d.Second) == plain(was)
			}
			if !ok || len(cmp.All()) != base+1 {
				t.Errorf("%s: %s: %q for %q was not found, or more was: %v", src.Name, change.name, w.Text, was, cmp.All())
			}
			w.Text = was
			tried++
		}
	}
	if tried < 300 {
		t.Errorf("only %d changes were tried", tried)
	}
}

// TestMissed has the first engine miss what stands directly beside a number.
func TestMissed(t *testing.T) {
	src := ingest.NewSource("a.pdf", makePDF("BT /F 12 Tf 72 700 Td (phosphorus) Tj 200 0 Td (12.50) Tj 100 0 Td (ppm) Tj ET", "", ""))
	first, err := pdf.New().Read(t.Context(), src, ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	g, err := Over(engine(t).Do).Glyphs(t.Context(), src, ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	w := &first.Pages[0].Words[1]
	if w.Text != "12.50" {
		t.Fatalf("the sample reads %q", w.Text)
	}
	whole := *w
	digit := whole.Box.Width() / 4.5 // of Helvetica: a point is half as wide
	for _, c := range []struct {
		text   string
		x0, x1 float64
	}{{"2.50", whole.Box.X0 + digit, whole.Box.X1}, {"12.5", whole.Box.X0, whole.Box.X1 - digit}} {
		w.Text, w.Box.X0, w.Box.X1 = c.text, c.x0, c.x1
		d := Agree(first, g, []ingest.Place{{Page: 1, Box: &w.Box}, {Page: 1, Box: &w.Box}})
		if len(d) != 1 || d[0].First != c.text || d[0].Second != "12.50" {
			t.Errorf("%s read for 12.50: found %v", c.text, d)
			continue
		}
		r := d[0].Reason()
		if r.Code != "engines-disagree" || r.Severity != ingest.Flag || r.Where.Box == nil || r.Where.File != "a.pdf" || !strings.Contains(r.Found, c.text) || !strings.Contains(r.Found, "12.50") {
			t.Errorf("the reason is %v", r)
		}
	}
	*w = whole
	if d := Compare(first, g).All(); len(d) != 0 {
		t.Errorf("nothing is changed, and %v was found", d)
	}
	// Nothing of the second engine at all: everything differs.
	g.Pages[0].Words = nil
	if d := Compare(first, g).All(); len(d) != 3 || d[1].Second != "" {
		t.Errorf("against an empty page: %v", d)
	}
	g.Pages = nil
	if d := Compare(first, g).All(); len(d) != 3 {
		t.Errorf("against no page: %v", d)
	}
}

// TestUnseen leaves to the first engine what a person doesn't see.
func TestUnseen(t *testing.T) {
	for name, content := range map[string]string{
		"hidden beside":  "BT /F 12 Tf 72 700 Td (12.5) Tj 3 Tr (9) Tj ET",
		"hidden on top":  "BT /F 12 Tf 72 700 Td (12.5) Tj ET BT 3 Tr /F 12 Tf 72 700 Td (88.8) Tj ET",
		"white on white": "BT /F 12 Tf 72 700 Td (12.5) Tj ET 1 g BT /F 12 Tf 120 700 Td (77) Tj ET",
		"drawn twice":    "BT /F 12 Tf 72 700 Td (12.5) Tj ET BT /F 12 Tf 72.3 700 Td (12.5) Tj ET",
	} {
		src := ingest.NewSource("a.pdf", makePDF(content, "", ""))
		first, err := pdf.New().Read(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		g, err := Over(engine(t).Do).Glyphs(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if d := Compare(first, g).All(); len(d) != 0 {
			t.Errorf("%s: %v", name, d)
		}
	}
}

// TestTurned has the same text on pages that are turned, cropped and have
// another unit: its places must be the same for both engines.
func TestTurned(t *testing.T) {
	content := "BT /F 12 Tf 100 600 Td (pH) Tj 60 0 Td (6.45) Tj 0 -20 Td (<0.5) Tj ET BT 0 1 -1 0 300 300 Tm /F 9 Tf (turned) Tj ET"
	for _, page := range []string{"", "/Rotate 90", "/Rotate 180", "/Rotate 270", "/CropBox[50 100 500 700]", "/CropBox[50 100 500 700]/Rotate 90", "/CropBox[50 100 500 700]/Rotate 270", "/UserUnit 2"} {
		src := ingest.NewSource("a.pdf", makePDF(content, page, ""))
		first, err := pdf.New().Read(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		c := Over(engine(t).Do)
		g, err := c.Glyphs(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if d := Compare(first, g).All(); len(d) != 0 {
			t.Errorf("%q: %v", page, d)
		}
		w, err := c.Read(t.Context(), src, ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		p, q := first.Pages[0], w.Pages[0]
		if len(p.Words) != len(q.Words) {
			t.Errorf("%q: %d and %d words", page, len(p.Words), len(q.Words))
			continue
		}
		if page == "/UserUnit 2" {
			continue // the engine doesn't know it; Compare does
		}
		for i := range p.Words {
			a, b := p.Words[i], q.Words[0]
			for _, w := range q.Words { // they may come in another order
				if w.Text == a.Text {
					b = w
				}
			}
			if a.Text != b.Text || a.Turn != b.Turn || far(a.Base, b.Base) || far(a.Size, b.Size) || far(a.Box.X0, b.Box.X0) || far(a.Box.Y0, b.Box.Y0) || far(a.Box.X1, b.Box.X1) || far(a.Box.Y1, b.Box.Y1) {
				t.Errorf("%q: the first engine has %+v\nand the second %+v", page, a, b)
			}
		}
		if far(p.Width, q.Width) || far(p.Height, q.Height) {
			t.Errorf("%q: the page is %v by %v and %v by %v", page, p.Width, p.Height, q.Width, q.Height)
		}
	}
}

// far is how places may not differ, in points. Engines take the height of a
// font from different parts of it.
func far(a, b float64) bool { return a-b > 1.5 || b-a > 1.5 }

func TestPlain(t *testing.T) {
	for _, c := range [][2]string{{"6\u22128", "6-8"}, {"6\u20138", "6-8"}, {"\ufb01ne", "fine"}, {"\u00b5g", "\u03bcg"}, {"e\u0301", "\u00e9"}, {"1\u00a0000", "1000"}, {"don\u2019t", "don't"}} {
		if plain(c[0]) != plain(c[1]) {
			t.Errorf("%q and %q should be the same to a reader", c[0], c[1])
		}
	}
	for _, c := range [][2]string{{"12.5\u00b2", "12.52"}, {"1,5", "1.5"}, {"O", "0"}, {"l", "1"}, {"\u00bd", "1/2"}, {"<5", "5"}, {"-5", "5"}} {
		if plain(c[0]) == plain(c[1]) {
			t.Errorf("%q and %q must not be the same", c[0], c[1])
		}
	}
}
