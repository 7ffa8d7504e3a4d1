package letter

import (
	"math"
	"testing"
)

// contrast is the contrast ratio of two colors (WCAG 2.1, definitions of
// contrast ratio and relative luminance; from memory).
func contrast(a, b color) float64 {
	l := func(c color) float64 {
		var v [3]float64
		for i, n := range c {
			if x := float64(n) / 255; x <= 0.04045 {
				v[i] = x / 12.92
			} else {
				v[i] = math.Pow((x+0.055)/1.055, 2.4)
			}
		}
		return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
	}
	x, y := l(a), l(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// All text of the PDF can be told from its ground: 4.5 to 1 at least (WCAG
// 2.1, success criterion 1.4.3). The shade of the right box is no matter of
// color: it is told from white in print without color, too, and the box has a
// thicker line.
func TestInkIsDarkEnough(t *testing.T) {
	white := color{255, 255, 255}
	if c := contrast(color{0, 0, 0}, white); math.Abs(c-21) > 0.01 {
		t.Fatalf("black on white has %.2f, and by definition 21", c)
	}
	for _, x := range []struct {
		name         string
		text, ground color
	}{{"text", ink, white}, {"small print", soft, white}, {"headings", green, white}, {"words in the right box", ink, shade}} {
		if c := contrast(x.text, x.ground); c < 4.5 {
			t.Errorf("%s have contrast %.1f", x.name, c)
		}
	}
	if c := contrast(shade, white); c < 1.3 {
		t.Errorf("the shade can hardly be seen: %.2f", c)
	}
}
