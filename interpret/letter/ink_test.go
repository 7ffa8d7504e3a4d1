package letter

import (
	"math"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
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

// What can be bought in place of the table stands in one sentence that says
// that the two are never given together, and only where it is something else.
func TestBuy(t *testing.T) {
	own := func(sqft, lb string) []interpret.ForArea { return []interpret.ForArea{{SqFt: sqft, Lb: lb, Own: true}} }
	lines := []interpret.Line{{ID: "N", When: interpret.Season, Product: &interpret.Amount{Of: "calcium nitrate (15.5-0-0)", Exact: "16", PerArea: own("100", "1.6")}}}
	item := interpret.PlanItem{Amount: interpret.Amount{Of: "garden fertilizer labeled 10-10-10", Exact: "20", PerArea: own("1200", "24")}, Bags: "1.25", BagLb: "40"}
	show := func(lang Language, p *interpret.Plan) string {
		l := &Letter{Advice: &interpret.Advice{Outcome: interpret.Advised, Lines: lines, Plan: p}, Record: &normalize.Record{}, Report: &normalize.Report{}, Language: lang}
		return newView(l).Buy
	}
	same := item
	same.Exact = "16"
	if got := show(English, &interpret.Plan{Products: []interpret.PlanItem{same}}) + show(English, nil); got != "" {
		t.Errorf("the same product is told twice: %q", got)
	}
	p := &interpret.Plan{Products: []interpret.PlanItem{item}, Short: map[string]string{"K2O": "0.2"}, Note: "Give it in 2 equal parts over the season."}
	for lang, want := range map[Language]string{
		English: "For your 1,200 sq ft, you may give these in place of all the single fertilizers in the table, and never both: 24 lb of garden fertilizer labeled 10-10-10 (1¼ bags of 40 lb). They give a little less potash than the table. Give it in 2 equal parts over the season.",
		Spanish: "Para sus 1,200 pies cuadrados puede poner esto en lugar de todos los fertilizantes sueltos de la tabla, y nunca las dos cosas: 24 libras de fertilizante de huerto con 10-10-10 en la etiqueta (1¼ bolsas de 40 libras). Dan un poco menos de potasa que la tabla. Póngalo en 2 partes iguales a lo largo de la temporada.",
	} {
		if got := strings.ReplaceAll(show(lang, p), "\u00a0", " "); got != want {
			t.Errorf("%s: %q", lang, got)
		}
	}
}
