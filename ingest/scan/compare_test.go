package scan

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

func tok(s string, x, y float64) token {
	return token{text: s, box: ingest.Box{X0: x, Y0: y, X1: x + 6*float64(len(s)), Y1: y + 8}, confidence: 90, line: int(y)}
}

func always(token) bool { return true }

func find(words []ingest.Word, s string) *ingest.Word {
	for i := range words {
		if words[i].Text == s {
			return &words[i]
		}
	}
	return nil
}

// TestNoRepair has two readings differ in all the ways that recognisers get
// figures wrong. None is mended, and none agrees.
func TestNoRepair(t *testing.T) {
	for _, c := range [][2]string{{"12.5", "125"}, {"12.5", "12,5"}, {"S012", "$012"}, {"10", "1O"}, {"1O", "10"}, {"11", "l1"}, {"5", "S"}, {"8", "B"}, {"6.0", "6.o"}, {"361", "361.45"}, {"<5", "5"}, {"7.", "7"}, {"-3", "3"}, {"2", ""}} {
		var second []token
		if c[1] != "" {
			second = []token{tok(c[1], 100, 100)}
		}
		words := words([]token{tok(c[0], 100, 100)}, second, always)
		if len(words) != 1 || words[0].Text != c[0] || words[0].OCR.Second != c[1] || words[0].OCR.Agree || words[0].OCR.Confidence != 90 {
			t.Errorf("%q and %q make %+v %+v", c[0], c[1], words, words[0].OCR)
		}
	}
	for _, c := range [][2]string{{"12.5", "12.5"}, {"6\u20138", "6-8"}, {"pH", "pH"}, {"don\u2019t", "don't"}} {
		if w := words([]token{tok(c[0], 100, 100)}, []token{tok(c[1], 101, 100)}, always); !w[0].OCR.Agree || w[0].Text != c[0] {
			t.Errorf("%q and %q don't agree", c[0], c[1])
		}
	}
	if w := words([]token{tok("75", 100, 100)}, []token{tok("75", 100, 100)}, func(token) bool { return false }); w[0].OCR.Agree {
		t.Error("two readings agree against the picture")
	}
}

// TestNothingLost keeps what only one reading has, and what one has as one
// word and the other as two.
func TestNothingLost(t *testing.T) {
	first := []token{tok("Phosphorus", 50, 100), tok("12", 200, 100), tok("ppm", 230, 100)}
	second := []token{tok("Phosphorus", 50, 100), tok("12", 200, 100), tok("ppm", 230, 100), tok("7", 300, 100), tok("900", 50, 700)}
	w := words(first, second, always)
	if len(w) != 5 {
		t.Fatalf("%d words", len(w))
	}
	for _, s := range []string{"7", "900"} {
		if x := find(w, s); x == nil || x.OCR.Agree || x.OCR.Second != s {
			t.Errorf("%s, which only the second has: %+v", s, x)
		}
	}
	w = words([]token{tok("12ppm", 200, 100)}, []token{tok("12", 200, 100), tok("pm", 214, 100)}, always)
	if len(w) != 1 || w[0].OCR.Second != "12 pm" || w[0].OCR.Agree {
		t.Errorf("parted otherwise: %+v %+v", w, w[0].OCR)
	}
}

// TestStanding gives each word the line that it stands on.
func TestStanding(t *testing.T) {
	line := []token{
		{text: "Zn", line: 1, box: ingest.Box{X0: 50, Y0: 100, X1: 62, Y1: 107}},
		{text: "(ppm)", line: 1, box: ingest.Box{X0: 66, Y0: 100, X1: 90, Y1: 109}},
		{text: "-", line: 1, box: ingest.Box{X0: 120, Y0: 103, X1: 124, Y1: 104}},
		{text: "7.5", line: 1, box: ingest.Box{X0: 150, Y0: 100, X1: 165, Y1: 107}},
	}
	for _, w := range words(line, nil, always) {
		if w.Base != 107 || w.Size != 10 || w.Box.Y0 > 100 || w.Box.Y1 < 107 {
			t.Errorf("%s stands on %v with size %v in %v", w.Text, w.Base, w.Size, w.Box)
		}
	}
	if w := words([]token{{text: "-", box: ingest.Box{X0: 1, Y0: 1, X1: 5, Y1: 2}}}, nil, always); w[0].Size != 10 {
		t.Errorf("a dash by itself has size %v", w[0].Size)
	}
}

func TestParse(t *testing.T) {
	got, ok := parse(table("pH", "6.45", "|", "~", "-", "<0.5", "."), 144)
	var texts []string
	for _, g := range got {
		texts = append(texts, g.text)
	}
	if !ok || !slices.Equal(texts, []string{"pH", "6.45", "-", "<0.5"}) {
		t.Fatalf("got %v %v", texts, ok)
	}
	if b := got[1].box; b != (ingest.Box{X0: 150, Y0: 180, X1: 190, Y1: 195}) || got[1].confidence != 91 {
		t.Errorf("6.45 is at %v with %d", b, got[1].confidence)
	}
	for _, bad := range []string{"5\t1", "5\t1\t1\t1\t1\t1\tx\t0\t0\t0\t90\ta", "5\t1\t1\t1\t1\t1\t-5\t0\t0\t0\t90\ta", "5\t1\t1\t1\t1\t1\t5\t0\t0\t0\tNaN\ta", "5\t1\t1\t1\t1\t1\t5\t0\t0\t0\t90\ta\tb"} {
		if _, ok := parse([]byte("head\n"+bad), 300); ok {
			t.Errorf("%q was taken for a word", bad)
		}
	}
	if got, ok := parse(nil, 300); !ok || got != nil {
		t.Error("nothing is not an empty page")
	}
}

func FuzzParse(f *testing.F) {
	f.Add(table("pH", "6.45"))
	f.Add([]byte("head\n5\t1\t1\t1\t1\t1\t5\t0\t0\t0\t90\t\xff\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		tokens, ok := parse(b, 300)
		if !ok && tokens != nil {
			t.Fatal("words beside a refusal")
		}
		lines := strings.Count(string(b), "\n")
		if len(tokens) > lines {
			t.Fatalf("%d words of %d lines", len(tokens), lines)
		}
		for _, w := range words(tokens, tokens[:len(tokens)/2], always) {
			if w.OCR == nil || w.Text == "" || w.OCR.Agree && plain(w.Text) != plain(w.OCR.Second) {
				t.Fatalf("%+v %+v", w, w.OCR)
			}
		}
	})
}

func TestIsNumber(t *testing.T) {
	for _, s := range []string{"7", "7.5", "<0.5", "12%", "1,000", "6.8*", "(3)", "7.", "-3"} {
		if !isNumber(s) {
			t.Errorf("%q is a number", s)
		}
	}
	for _, s := range []string{"", "pH", "DH-0461", "6-8", "1b", "c4", ".", "%", "25-FEB-2026"} {
		if isNumber(s) {
			t.Errorf("%q is no number", s)
		}
	}
}
