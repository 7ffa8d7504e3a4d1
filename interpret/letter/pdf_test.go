package letter_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"

	"github.com/ledongthuc/pdf"

	"example.org/windrow/ingest"
	reader "example.org/windrow/ingest/pdf"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
)

func pdfOf(t *testing.T, l *letter.Letter) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := l.PDF(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// tight is a text without its spaces, so that where lines break is no matter.
func tight(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '\u2011' {
			return -1
		}
		return r
	}, s)
}

// wordsOf are the words of a PDF, page by page.
func wordsOf(t *testing.T, name string, b []byte) [][]ingest.Word {
	t.Helper()
	doc, err := reader.New().Read(context.Background(), ingest.NewSource("letter.pdf", b), ingest.DefaultLimits())
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var pages [][]ingest.Word
	for _, p := range doc.Pages {
		pages = append(pages, p.Words)
	}
	return pages
}

// read gives a PDF's objects and the texts of its pages in the order in which
// they stand in the file. Nothing may be hidden, cut off, off the paper's free
// area or over other words.
func read(t *testing.T, name string, b []byte) (*pdf.Reader, []string) {
	t.Helper()
	r, err := pdf.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	var pages []string
	for _, words := range wordsOf(t, name, b) {
		var s strings.Builder
		for i, w := range words {
			s.WriteString(w.Text)
			switch {
			case w.Ghost != "":
				t.Errorf("%s: %q is %s", name, w.Text, w.Ghost)
			case w.Box.X0 < 40 || w.Box.X1 > 612-40 || w.Box.Y0 < 28 || w.Box.Y1 > 792-18:
				t.Errorf("%s: %q stands at %+v, off the free area", name, w.Text, w.Box)
			}
			for _, o := range words[:i] {
				wide := min(w.Box.X1, o.Box.X1) - max(w.Box.X0, o.Box.X0)
				if tall := min(w.Base, o.Base) - max(w.Base-w.Size*0.6, o.Base-o.Size*0.6); wide > 0.6 && tall > 1 {
					t.Errorf("%s: %q and %q lie one over the other", name, o.Text, w.Text)
				}
			}
		}
		pages = append(pages, tight(s.String()))
	}
	return r, pages
}

// The PDF has a title and a language, says what the page says, in its order,
// is one page or a front and a back, and is the same each time.
func TestPDFLetters(t *testing.T) {
	one := 0
	for _, lang := range letter.Languages() {
		for _, c := range cases() {
			l := of(t, c, lang)
			b := pdfOf(t, l)
			if !bytes.Equal(b, pdfOf(t, of(t, c, lang))) {
				t.Errorf("%s %s: twice the same letter gave other bytes", c.name, lang)
			}
			r, pages := read(t, c.name+" "+string(lang), b)
			if len(pages) > 2 {
				t.Errorf("%s %s has %d pages", c.name, lang, len(pages))
			}
			if len(pages) == 1 {
				one++
			} else if !strings.Contains(pages[1], tight("Garden educator")) {
				t.Errorf("%s %s: the second page has nothing but small print", c.name, lang)
			}
			if got := r.Trailer().Key("Root").Key("Lang").Text(); got != string(lang) {
				t.Errorf("%s %s: the language is %q", c.name, lang, got)
			}
			if got := r.Trailer().Key("Info").Key("Title").Text(); !strings.Contains(got, c.rec.Sample.ClientLabel) || got == "" {
				t.Errorf("%s %s: the title is %q", c.name, lang, got)
			}
			all, at := strings.Join(pages, ""), 0
			for _, s := range said(t, writeIn(t, c, lang)) {
				if strings.Contains(all[at:], tight(s)) && len(s) > 30 {
					at += strings.Index(all[at:], tight(s))
				} else if !strings.Contains(all, tight(s)) {
					t.Errorf("%s %s does not say %q", c.name, lang, s)
				} else if len(s) > 30 {
					t.Errorf("%s %s says %q out of its order", c.name, lang, s)
				}
			}
			for _, f := range c.rec.Results {
				if c.rec.Status == normalize.Held {
					break // nothing is told of a held record
				}
				if f.Analyte != "texture" && !strings.Contains(all, tight(f.Printed.Text)) {
					t.Errorf("%s %s does not show %s", c.name, lang, f.Printed.Text)
				}
			}
			if !strings.Contains(all, c.rec.ID) {
				t.Errorf("%s %s: no number of the record", c.name, lang)
			}
		}
	}
	if one < 8 {
		t.Errorf("only %d letters are one page", one)
	}
}

// Long and strange names stay on the page.
func TestPDFStaysOnThePage(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	long := func(n int) string {
		var s strings.Builder
		for range n {
			s.WriteRune([]rune("abcdefgh mnop,'-ñÜß\u0416\u4e16\U0001F331\u202e\x00\ue000 iiiWWW.")[random.IntN(33)])
		}
		return s.String()
	}
	for i := range 12 {
		n := []int{1, 30, 300, 3000}[i%4]
		rec := record("vegetable garden", long(n), long(n), long(n)+", "+long(n), r("pH", "5.5", lab(long(n))), r("P", "50", func(x *normalize.Result) { x.Printed.Text, x.Printed.Unit = long(n), long(20) }))
		rec.Sample.LabID = long(n)
		a := interpret.Advise(rec, report, ruleSet(t), interpret.Ask{On: "2026-04-15", LandUse: []string{"", "lawn", long(n)}[i%3]})
		for range i {
			a.Questions = append(a.Questions, interpret.Question{Text: long(n)})
			a.Cautions = append(a.Cautions, interpret.Said{Text: long(n / 2)})
		}
		l := &letter.Letter{Advice: a, Record: rec, Report: report, Language: letter.Languages()[i%2],
			Office: letter.Office{Name: long(n), Address: long(n), Phone: long(20), Email: long(n), Web: long(n), Signature: long(n) + "\n" + long(n)}}
		read(t, fmt.Sprint(i), pdfOf(t, l))
	}
}

// A character that there is no glyph for leaves a box, and the letter says
// what a box is.
func TestPDFMissingGlyph(t *testing.T) {
	for name, want := range map[string]bool{"Zoë Ångström-Núñez": false, "Łukasz Żółć": false, "山田": true} {
		c := cases()[0]
		c.rec.Client.Name = name
		_, pages := read(t, name, pdfOf(t, of(t, c, letter.English)))
		all := strings.Join(pages, "")
		if got := strings.Contains(all, tight("A box (□) stands for a letter")); got != want || strings.Contains(all, "Dear"+tight(name)) == want {
			t.Errorf("%s: a box is told of: %v", name, got)
		}
	}
}

// Superscripts and the marks of Spanish are in the typeface.
func TestPDFGlyphs(t *testing.T) {
	c := cases()[0]
	const marks = "áéíóúüñÁÉÍÓÚÜÑ¿¡ºª“”·–¹²³½¼"
	c.rec.Sample.ClientLabel = marks
	_, pages := read(t, c.name, pdfOf(t, of(t, c, letter.Spanish)))
	if !strings.Contains(pages[0], marks) {
		t.Error("not all were drawn")
	}
}
