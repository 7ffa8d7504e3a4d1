package pdf

import (
	"math"
	"strings"
	"testing"
)

func TestWords(t *testing.T) {
	for name, c := range map[string]struct{ content, want string }{
		"spaces":         {"BT /F1 10 Tf 20 200 Td (Lab No) Tj ET", "Lab | No"},
		"kerning":        {"BT /F1 10 Tf 20 200 Td [(L) 30 (ab) -250 (N) 20 (o)] TJ ET", "Lab | No"},
		"a formula":      {"BT /F1 10 Tf 20 200 Td (P) Tj /F1 7 Tf -2 Ts (2) Tj /F1 10 Tf 0 Ts (O) Tj /F1 7 Tf -2 Ts (5) Tj ET", "P2O5"},
		"small capitals": {"BT /F2 12 Tf 20 200 Td (C) Tj /F2 9 Tf (ALDER) Tj /F2 12 Tf ( P) Tj /F2 9 Tf (LAINS) Tj ET", "CALDER | PLAINS"},
		"figures last": {"BT /F1 10 Tf 1 0 0 1 20 200 Tm (P) Tj 1 0 0 1 30.56 200 Tm (O) Tj /F1 7 Tf 1 0 0 1 26.67 198 Tm (2) Tj" +
			" 1 0 0 1 38.34 198 Tm (5) Tj ET", "P2O5"},
		"an exponent of a unit": {"BT /F1 10 Tf 20 200 Td (kg) Tj /F1 7 Tf 4 Ts (-1) Tj ET", "kg-1"},
		"charges":               {"BT /F1 10 Tf 20 200 Td (SO) Tj /F1 7 Tf -2 Ts (4) Tj 4 Ts (2-) Tj ET", "SO42-"},
		// A raised figure behind a number is a mark: 12.5 is not 12.52.
		"a footnote mark":             {"BT /F1 10 Tf 20 200 Td (12.5) Tj /F1 6 Tf 4 Ts (2) Tj ET", "12.5 | 2"},
		"a mark in front":             {"BT /F1 6 Tf 4 Ts 20 200 Td (1) Tj /F1 10 Tf 0 Ts (12.5) Tj ET", "1 | 12.5"},
		"a power":                     {"BT /F1 10 Tf 20 200 Td (10) Tj /F1 6 Tf 4 Ts (-3) Tj ET", "10 | -3"},
		"a fraction":                  {"BT /F1 10 Tf 20 200 Td (6) Tj /F1 6 Tf 4 Ts (2) Tj 0 Ts (/) Tj (3) Tj ET", "6 | 2/3"},
		"a letter mark":               {"BT /F1 10 Tf 20 200 Td (12.5) Tj /F1 6 Tf 4 Ts (a) Tj ET", "12.5a"},
		"two cells":                   {"BT /F1 10 Tf 1 0 0 1 20 200 Tm (12) Tj 1 0 0 1 33 200 Tm (34) Tj ET", "12 | 34"},
		"letter-spaced":               {"BT /F1 10 Tf 2 Tc 20 200 Td (SOIL TEST) Tj ET", "SOIL | TEST"},
		"word-spaced":                 {"BT /F1 10 Tf 8 Tw 20 200 Td (pH 6.5) Tj ET", "pH | 6.5"},
		"bold by drawing twice":       {"BT /F1 10 Tf 1 0 0 1 20 200 Tm (pH 6.11) Tj 1 0 0 1 20.3 200 Tm (pH 6.11) Tj ET", "pH | 6.11"},
		"next line":                   {"BT /F1 10 Tf 12 TL 20 200 Td (one) Tj (two) ' 1 1 (th ree) \" T* (four) Tj ET", "one | two | th | ree | four"},
		"ligature and odd spaces":     {"BT /F1 10 Tf 20 200 Td (a\\240b \\255) Tj ET", "a | b | -"},
		"unbalanced states":           {"Q Q q BT /F1 10 Tf 20 200 Td (a) Tj ET Q Q Q BT /F1 10 Tf 20 180 Td (b) Tj ET q q", "a | b"},
		"escapes":                     {"BT /F1 10 Tf 20 200 Td (\\(a\\)\\\\ \\101\\7) Tj <4142 4> Tj ET", "(a)\\ | A\uFFFDAB@"},
		"an unknown operator":         {"BT /F1 10 Tf 20 200 Td 1 2 foo (a) Tj ET", "a"},
		"numbers no one should write": {"BT /F1 10 Tf --20 200 Td 40 0 Td (a) Tj ET", "a"},
		"backwards on the line":       {"BT /F1 10 Tf 1 0 0 1 80 200 Tm (two) Tj 1 0 0 1 20 200 Tm (one) Tj ET", "two | one"},
	} {
		t.Run(name, func(t *testing.T) { expect(t, onePage(c.content), c.want) })
	}
}

func TestGhosts(t *testing.T) {
	at := func(y string) string { return " BT /F1 10 Tf 20 " + y + " Td " }
	for name, c := range map[string]struct{ content, want string }{
		"render mode 3":             {at("200") + "3 Tr (hidden) Tj 0 Tr ( seen) Tj ET", "hidden (invisible) | seen"},
		"clipped away":              {"q 0 0 10 10 re W n" + at("200") + "(hidden) Tj ET Q" + at("180") + "(seen) Tj ET", "hidden (clipped) | seen"},
		"in the clip":               {"q 0 150 400 100 re W n" + at("200") + "(seen) Tj ET Q", "seen"},
		"a number cut off":          {"q 0 0 40 300 re W n" + at("200") + "(123456) Tj ET Q", "123456"},
		"white on paper":            {"1 g" + at("200") + "(hidden) Tj ET 0 g" + at("180") + "(seen) Tj ET", "hidden (white) | seen"},
		"white RGB":                 {"1 0.99 1 rg" + at("200") + "(hidden) Tj ET", "hidden (white) | x"},
		"no ink":                    {"0 0 0 0 k" + at("200") + "(hidden) Tj ET", "hidden (white) | x"},
		"white on a dark heading":   {"0.2 0.3 0.5 rg 0 190 400 30 re f 1 g" + at("200") + "(seen) Tj ET", "seen"},
		"white on white on dark":    {"0 g 0 190 400 30 re f 1 g 0 190 400 30 re f" + at("200") + "(hidden) Tj ET", "hidden (white) | x"},
		"painted over":              {at("200") + "(5.9) Tj ET 1 g 15 195 60 15 re f 0 g" + at("200") + "(6.2) Tj ET", "5.9 (covered) | 6.2"},
		"highlighted":               {at("200") + "(5.9) Tj ET /Marker gs 1 1 0 rg 15 195 60 15 re f", "5.9"},
		"hatched":                   {at("200") + "(5.9) Tj ET /Pattern cs /P1 scn 15 195 60 15 re f", "5.9"},
		"painted over after a mark": {at("200") + "(5.9) Tj ET /Marker gs /Plain gs 1 1 0 rg 15 195 60 15 re f 0 g" + at("180") + "(x) Tj ET", "5.9 (covered) | x"},
		"transparent":               {"/Clear gs" + at("200") + "(hidden) Tj ET /Plain gs" + at("180") + "(seen) Tj ET", "hidden (invisible) | seen"},
		"underlined":                {at("200") + "(5.9) Tj ET 0 g 15 198 60 1 re f", "5.9"},
		"off the page":              {" BT /F1 10 Tf 500 200 Td (hidden) Tj ET" + at("180") + "(seen) Tj ET", "hidden (off the page) | seen"},
		"far off":                   {" BT /F1 10 Tf 1e9 999999999999 Td (hidden) Tj ET" + at("180") + "(seen) Tj ET", "hidden (off the page) | seen"},
		"no size":                   {" BT /F1 0 Tf 20 200 Td (hidden) Tj ET" + at("180") + "(seen) Tj ET", "hidden (invisible) | seen"},
		"a hidden digit at the end": {at("200") + "(5.2) Tj 3 Tr (9) Tj ET", "5.2 | 9 (invisible)"},
	} {
		t.Run(name, func(t *testing.T) {
			want := c.want
			content := c.content
			if want[len(want)-1] == 'x' && !strings.Contains(content, "(x)") { // something must be seen, or there is no document
				content += " 0 g" + at("50") + "0 Tr (x) Tj ET"
			}
			b := newBuilder()
			b.page(content, "/Resources << "+standardResources+" /ExtGState << /Marker << /ca 0.4 /BM /Multiply >> /Plain << /ca 1 /BM /Normal /SMask /None >> /Clear << /ca 0 >> >> >>")
			expect(t, b.bytes(), want)
		})
	}
	doc := mustRead(t, onePage("q 0 0 40 300 re W n"+at("200")+"(123456) Tj ET Q"))
	if len(doc.Notes) != 1 || doc.Notes[0].Code != "cut-off" || doc.Notes[0].Found != "123456" {
		t.Errorf("a number that is cut off must be noted: %v", doc.Notes)
	}
}

// TestPlaces has positions worked out by hand from Adobe's widths: in
// Helvetica "pH" is 556+722 and "6.5" 556+278+556 thousandths of an em.
func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		name, content, extra string
		text                 string
		x0, x1, base         float64
		turn                 int
		size                 float64
	}{
		{"plain", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "", "pH", 20, 32.78, 100, 0, 10},
		{"scaled space", "2 0 0 2 10 0 cm BT /F1 10 Tf 20 100 Td (pH) Tj ET", "", "pH", 50, 75.56, 100, 0, 20},
		{"stretched", "BT /F1 10 Tf 50 Tz 20 200 Td (pH) Tj ET", "", "pH", 20, 26.39, 100, 0, 10},
		{"spaced and stretched", "BT /F1 10 Tf 200 Tz 1 Tc 20 200 Td (pH) Tj ET", "", "pH", 20, 47.56, 100, 0, 10},
		{"raised", "BT /F1 10 Tf 3 Ts 20 200 Td (pH) Tj ET", "", "pH", 20, 32.78, 97, 0, 10},
		{"moved back", "BT /F1 10 Tf 20 200 Td [1000 (pH)] TJ ET", "", "pH", 10, 22.78, 100, 0, 10},
		{"cropped", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/CropBox [10 50 390 250]", "pH", 10, 22.78, 50, 0, 10},
		{"page turned right", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/Rotate 90", "pH", 200 - 0.207*10, 200 + 0.718*10, 200, 270, 10},
		{"page upside down", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/Rotate 180", "pH", 367.22, 380, 200, 180, 10},
		{"page turned left", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/Rotate -90", "pH", 100 - 0.718*10, 100 + 0.207*10, 100, 90, 10},
		{"turned and turned back", "BT /F1 10 Tf 0 1 -1 0 200 100 Tm (pH) Tj ET", "/Rotate 90", "pH", 100, 112.78, 200, 0, 10},
		{"upwards", "BT /F1 10 Tf 0 1 -1 0 100 50 Tm (pH) Tj ET", "", "pH", 92.82, 102.07, 100, 90, 10},
		{"larger unit", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/UserUnit 2", "pH", 40, 65.56, 200, 0, 20},
		{"from the left edge", "BT /F1 10 Tf 20 200 Td (pH) Tj ET", "/MediaBox [400 300 -10 -10]", "pH", 30, 42.78, 100, 0, 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBuilder()
			b.page(c.content, c.extra)
			w := mustRead(t, b.bytes()).Pages[0].Words[0]
			off := func(a, b float64) bool { return math.Abs(a-b) > 0.01 }
			if w.Text != c.text || off(w.Box.X0, c.x0) || off(w.Box.X1, c.x1) || off(w.Base, c.base) || w.Turn != c.turn || off(w.Size, c.size) || w.Ghost != "" {
				t.Errorf("got %+v, want %+v", w, c)
			}
		})
	}
	b := newBuilder()
	b.page("BT /F1 10 Tf 0 1 -1 0 100 50 Tm (Org. Mat.) Tj ET", "")
	p := mustRead(t, b.bytes()).Pages[0]
	if len(p.Words) != 2 || p.Words[0].Text != "Org." || p.Words[1].Text != "Mat." || p.Words[1].Turn != 90 || p.Words[1].Box.Y1 >= p.Words[0].Box.Y0 {
		t.Errorf("upward text must be cut at spaces, the second word above the first: %+v", p.Words)
	}
}
