package letter

import (
	"fmt"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

func ownArea(sqft, lb string) []interpret.ForArea {
	return []interpret.ForArea{{SqFt: sqft, Lb: lb, Own: true}}
}

// shown is the view of a letter with nothing but lines and a plan.
func shown(lang Language, p *interpret.Plan, lines ...interpret.Line) *view {
	return newView(&Letter{Advice: &interpret.Advice{Outcome: interpret.Advised, Lines: lines, Plan: p}, Record: &normalize.Record{}, Report: &normalize.Report{}, Language: lang})
}

// told is what a value says, with plain spaces.
func told(x any) string { return strings.ReplaceAll(fmt.Sprintf("%+v", x), "\u00a0", " ") }

func nitrogen(change func(*interpret.Line)) interpret.Line {
	l := interpret.Line{ID: "N", When: interpret.Season, How: "Dig it in before planting.",
		Product: &interpret.Amount{Of: "calcium nitrate (15.5-0-0)", Exact: "16", PerArea: ownArea("1200", "19")}}
	if change != nil {
		change(&l)
	}
	return l
}

// What can be bought in place of the single fertilizers stands in a group of
// its own that says that the two are never given together: with the amounts of
// the plan, cups, bags, when, and in how many parts.
func TestBuy(t *testing.T) {
	potash := interpret.Line{ID: "K2O", When: interpret.Season, How: "Give it in early fall.", Product: &interpret.Amount{Of: "sulfate of potash (0-0-50)", Exact: "4", PerArea: ownArea("1200", "4.8")}}
	twice := nitrogen(func(l *interpret.Line) {
		l.How, l.Parts = "Feed in September and October, and once in May if the grass is thin.", []interpret.Part{{PerArea: ownArea("1200", "9.5")}, {PerArea: ownArea("1200", "9.5")}}
	})
	whole := ownArea("1200", "24")
	whole[0].Cups = "48"
	p := &interpret.Plan{Feedings: 2, Short: map[string]string{"K2O": "0.2"}, Products: []interpret.PlanItem{
		{Grade: "10-10-10", Amount: interpret.Amount{Of: "garden fertilizer labeled 10-10-10", Exact: "20", PerArea: whole}, Bags: "1.25", BagLb: "40"},
		{Grade: "0-0-50", Amount: interpret.Amount{Of: "sulfate of potash labeled 0-0-50", Exact: "2", PerArea: ownArea("1200", "2.4")}, Bags: "0.25", BagLb: "50"}}}
	for lang, want := range map[Language]amountGroup{
		English: {"Or these in place of all the fertilizers under “This season”, and never both", []amountRow{
			{"Garden fertilizer labeled 10\u201110\u201110", "At the times told above for nitrogen. Split this amount evenly over 2 times.", "It takes up to 1¼ bags of 40 lb.", []amount{{"24 lb", []string{"about 48 cups"}}}},
			{"Sulfate of potash labeled 0\u20110\u201150", "At the same times. Split this amount evenly over 2 times.", "One bag of 50 lb is enough.", []amount{{"2.4 lb", nil}}}}},
		Spanish: {"O esto en lugar de todos los fertilizantes de “Esta temporada”, nunca las dos cosas", []amountRow{
			{"Fertilizante de huerto con 10\u201110\u201110 en la etiqueta", "Cuando se indica arriba para nitrógeno. Reparta esta cantidad por igual en 2 veces.", "Hacen falta hasta 1¼ bolsas de 40 libras.", []amount{{"24 libras", []string{"como 48 tazas"}}}},
			{"Sulfato de potasio con 0\u20110\u201150 en la etiqueta", "En las mismas fechas. Reparta esta cantidad por igual en 2 veces.", "Basta una bolsa de 50 libras.", []amount{{"2.4 libras", nil}}}}},
	} {
		v := shown(lang, p, twice, potash)
		if len(v.Groups) != 2 || told(v.Groups[1]) != told(want) {
			t.Errorf("%s:\n got  %+v\n want %+v", lang, v.Groups, want)
		}
		if len(v.Notes) != 1 {
			t.Errorf("%s: nothing is said of what is short: %q", lang, v.Notes)
		}
	}
}

// A plan of just the products of the table is not told twice; only the bags
// are new.
func TestBuySameProduct(t *testing.T) {
	p := &interpret.Plan{Feedings: 1, Products: []interpret.PlanItem{{Grade: "15.5-0-0", Amount: interpret.Amount{Of: "calcium nitrate labeled 15.5-0-0", Exact: "16", PerArea: ownArea("1200", "19")}, Bags: "0.5", BagLb: "50"}}}
	v := shown(English, p, nitrogen(nil))
	if len(v.Groups) != 1 || told(v.Groups[0].Rows[0]) != "{What:Calcium nitrate (15.5‑0‑0) How:Dig it in before planting. One bag of 50 lb is enough. Bags: Values:[{Lb:19 lb Helps:[]}]}" {
		t.Errorf("%+v", v.Groups)
	}
	parts := nitrogen(func(l *interpret.Line) {
		l.Parts = []interpret.Part{{PerArea: ownArea("1200", "9.5")}, {PerArea: ownArea("1200", "9.5")}}
	})
	if got, want := told(shown(English, p, parts).Groups[0].Rows[0]), "{What:Calcium nitrate (15.5‑0‑0) How:Dig it in before planting. This much each of 2 times. Bags:One bag of 50 lb is enough. Values:[{Lb:9.5 lb Helps:[]}]}"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if v := shown(English, nil, nitrogen(nil)); len(v.Groups) != 1 || v.Groups[0].Rows[0].Values[0].Helps != nil {
		t.Errorf("without a plan: %+v", v.Groups)
	}
}

// What the law lets nobody spread yet says so in the line, in what is bought in
// its place and in the bottom line, and never "now".
func TestNotBefore(t *testing.T) {
	wait := nitrogen(func(l *interpret.Line) {
		l.NotBefore, l.How = "2027-03-01", "Not now: wait until March 1, 2027. Dig it in before planting."
	})
	p := &interpret.Plan{Feedings: 1, Products: []interpret.PlanItem{{Grade: "10-0-10", Amount: interpret.Amount{Of: "garden fertilizer labeled 10-10-10", Exact: "20", PerArea: ownArea("1200", "24")}}}}
	v := shown(English, p, wait)
	for i, g := range v.Groups {
		if g.Rows[0].How != wait.How {
			t.Errorf("group %d says %q", i, g.Rows[0].How)
		}
	}
	if want := "This season, add nitrogen. But wait until March 1, 2027."; len(v.Groups) != 2 || v.Bottom[1] != want {
		t.Errorf("the bottom line is %q, want %q", v.Bottom, want)
	}
	if got := shown(Spanish, p, wait).Bottom[1]; got != "Esta temporada, ponga nitrógeno. Pero espere hasta el 1 de marzo de 2027." {
		t.Errorf("%q", got)
	}
	both := shown(English, nil, wait, interpret.Line{ID: "K2O", When: interpret.Season, Product: &interpret.Amount{Of: "sulfate of potash (0-0-50)", Exact: "4", PerArea: ownArea("1200", "4.8")}})
	if want := "This season, add nitrogen and potash. Wait until March 1, 2027 with the nitrogen."; both.Bottom[1] != want {
		t.Errorf("the bottom line is %q, want %q", both.Bottom[1], want)
	}
	dated := wait
	dated.Parts = []interpret.Part{{PerArea: ownArea("1200", "9.5")}, {Months: 2, PerArea: ownArea("1200", "9.5")}}
	if got := shown(English, nil, dated).Groups[0].Rows[0].How; got != wait.How {
		t.Errorf("the first part says %q", got)
	}
}

// Other materials stand under what they may replace, each with its note and
// its whole amount.
func TestInsteadIsShown(t *testing.T) {
	l := interpret.Line{ID: "sulfur", When: interpret.First, How: "Only in a bed that is not planted yet: dig it in before planting.",
		Product: &interpret.Amount{Of: "elemental sulfur", Exact: "10", PerArea: ownArea("240", "2.4")},
		Parts:   []interpret.Part{{PerArea: ownArea("240", "1.6")}, {Months: 3, PerArea: ownArea("240", "0.8"), Retest: true}},
		Instead: []interpret.Instead{{Amount: interpret.Amount{Of: "iron sulfate", Exact: "86.7", PerArea: ownArea("240", "20")}, Note: "It works faster than sulfur, and stains paving."}}}
	for lang, want := range map[Language]amountGroup{
		English: {"Or this in place of all the sulfur, and never both", []amountRow{{"Iron sulfate", "It works faster than sulfur, and stains paving. Split this amount in the same way, with the same test between.", "", []amount{{"20 lb", nil}}}}},
		Spanish: {"O esto en lugar de todo el azufre, nunca las dos cosas", []amountRow{{"Sulfato de hierro", "Actúa más rápido que el azufre y mancha el pavimento. Reparta esta cantidad del mismo modo, con la misma prueba en medio.", "", []amount{{"20 libras", nil}}}}},
	} {
		if got := shown(lang, nil, l).Groups; len(got) != 2 || told(got[1]) != told(want) {
			t.Errorf("%s:\n got  %+v\n want %+v", lang, got, want)
		}
	}
}

// Where nothing is to be added, the letter says so and does not leave a blank.
func TestNothingNeeded(t *testing.T) {
	not := interpret.Line{ID: "lime", When: interpret.Not, What: "Add no lime. The pH is right for a lawn."}
	v := shown(English, nil, not)
	if len(v.Also) != 1 || v.Also[0] != "You have nothing to buy and nothing to spread." || len(v.NotAtAll) != 1 {
		t.Errorf("%q, %q", v.Also, v.NotAtAll)
	}
}
