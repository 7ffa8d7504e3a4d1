package letter_test

import (
	"bytes"
	"flag"
	"strings"
	"sync"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/interpret/rules"
	"example.org/windrow/normalize"
)

var update = flag.Bool("update", false, "write the golden letters anew")

var office = letter.Office{
	Name:    "Calder Land and Garden Office, Alderbrook County",
	Address: "2 Assize Row\nMillrace, CX 00417",
	Phone:   "(555) 010-0120", Email: "soil@alderbrook.example", Web: "alderbrook.example/soil",
	Signature: "Marigold Fenwick-Ashe\nGarden educator",
}

var loaded = sync.OnceValues(func() ([]*interpret.RuleSet, error) {
	sets, faults := interpret.LoadRules(rules.FS)
	if len(faults) > 0 {
		return nil, faults[0]
	}
	return sets, nil
})

// ruleSet is the rule set that the letters of the cases are written by.
func ruleSet(t *testing.T) *interpret.RuleSet { return ruleSetOf(t, "") }

// ruleSetOf is the rule set of a case; "" for the usual one.
func ruleSetOf(t *testing.T, id string) *interpret.RuleSet {
	t.Helper()
	if id == "" {
		id = "mehlich-3-home"
	}
	sets, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		if s.ID == id {
			return s
		}
	}
	t.Fatalf("the rule set %s is gone", id)
	return nil
}

// r is one result as printed, by the usual method and in its own unit.
func r(analyte, printed string, change ...func(*normalize.Result)) *normalize.Result {
	x := &normalize.Result{Analyte: analyte, Status: normalize.OK, Value: normalize.Decimal(strings.TrimPrefix(printed, "<")), Basis: analyte,
		Printed: normalize.Printed{Text: printed, Number: normalize.Decimal(strings.TrimPrefix(printed, "<")), Unit: "ppm"}, Unit: "mg/kg", Method: "mehlich-3-icp", MethodName: "Mehlich-3 (ICP)"}
	switch analyte {
	case "pH":
		x.Method, x.MethodName, x.Unit, x.Printed.Unit = "ph-water-1-1", "1:1 soil:water", "pH", ""
	case "buffer_pH":
		x.Method, x.MethodName, x.Unit, x.Printed.Unit = "mehlich-buffer", "Mehlich buffer", "pH", ""
	case "acidity":
		x.Method, x.MethodName, x.Unit, x.Printed.Unit = "mehlich-buffer", "Mehlich buffer", "cmol(+)/kg", "meq/100g"
	case "OM":
		x.Method, x.MethodName, x.Unit, x.Printed.Unit = "loi", "Loss on ignition", "%", "%"
	}
	if strings.HasPrefix(printed, "<") {
		x.Censored = "<"
	}
	for _, c := range change {
		c(x)
	}
	return x
}

// lab is the laboratory's own word, with the class of the record that its
// legend gives to it, if any.
func lab(word string, class ...string) func(*normalize.Result) {
	return func(x *normalize.Result) {
		x.Printed.Rating = word
		for _, c := range class {
			x.Printed.Class = c
		}
	}
}

func by(id, name string) func(*normalize.Result) {
	return func(x *normalize.Result) { x.Method, x.MethodName = id, name }
}

func lbAcre(value string) func(*normalize.Result) {
	return func(x *normalize.Result) { x.Printed.Unit, x.Value = "lb/acre", normalize.Decimal(value) }
}

func record(use, label, name, address string, results ...*normalize.Result) *normalize.Record {
	return &normalize.Record{ID: "R0123456789abcdef-1", Status: normalize.OK, Results: results,
		Sample: normalize.Sample{LabID: "TG-26-01180", ClientLabel: label, County: "Alderbrook", Sampled: "2026-03-21", Received: "2026-03-26", Reported: "2026-03-30", LandUse: use},
		Client: &normalize.Client{Name: name, Address: address}}
}

var report = &normalize.Report{ID: "R0123456789abcdef", Status: normalize.OK, Lab: normalize.Lab{ID: "thrushgate", Name: "Thrushgate Garden Soil Desk"}}

type letterCase struct {
	name string
	rec  *normalize.Record
	ask  interpret.Ask
	// rules is the id of the rule set, "" for the usual one.
	rules string
}

func textureClass(name string) *normalize.Result {
	return r("texture", name, func(x *normalize.Result) {
		x.Value, x.Class, x.Unit, x.Printed.Unit, x.Printed.Number = "", name, "class", "", ""
	})
}

func cases() []letterCase {
	on := "2026-04-15"
	held := record("vegetable garden", "North plot", "Ambrose Tidewell-Knapp", "3 Cooper Row, Slatehope, CX", r("pH", "5.9"))
	held.Status = normalize.Held
	doubt := r("P", "40")
	doubt.Status = normalize.Flagged
	doubt.Findings = []normalize.Finding{{Check: "rating-scale", Severity: ingest.Flag, What: "the printed rating does not fit the laboratory's own scale", Source: "definition"}}
	return []letterCase{
		{name: "garden-plenty", rec: record("vegetable garden", "Back veg plot", "Winifred Plumtree", "14 Thimble Lane, Millrace, CX",
			r("pH", "6.4", lab("Optimum")), r("buffer_pH", "6.38"), r("OM", "5.6", lab("Optimum")), r("P", "102", lab("Above Optimum")), r("K", "91", lab("Optimum")),
			r("Ca", "1,102", func(x *normalize.Result) { x.Value, x.Printed.Number = "1102", "1102" }, lab("Optimum")), r("Mg", "144", lab("Optimum")), r("Zn", "6.3"), r("Cu", "2.5"),
			r("Pb", "22", by("mehlich-3-screen", "Mehlich-3 screen"), lab("Low"))), ask: interpret.Ask{On: on, AreaSqFt: "400"}},
		{name: "garden-acid", rec: record("raised bed", "Bed 2", "Hester Marrowby", "8 Orchard Rise, Vesper, CX",
			r("pH", "5.4", lab("Too Acid")), r("buffer_pH", "6.20"), r("OM", "2.4"), r("P", "40", lbAcre("20"), lab("Medium")), r("K", "70", lbAcre("35")),
			r("Mg", "40"), r("Ca", "520")), ask: interpret.Ask{On: on, AreaSqFt: "128"}},
		{name: "lawn-acid", rec: record("lawn", "Front lawn", "Odo Castellan", "1 Quarry Bank, Finch, CX",
			r("pH", "5.5", lab("Too Acid")), r("acidity", "6.5"), r("OM", "3.1"), r("P", "12.4"), r("K", "60"), r("Mg", "90"), r("Ca", "800")), ask: interpret.Ask{On: on, AreaSqFt: "2400"}},
		{name: "native-bed", rec: record("native bed", "Native bed N side", "Tobias Quillfeather", "Tamarack Road, Wren, CX",
			r("pH", "5.3"), r("OM", "0.4"), r("P", "9"), r("K", "55"), r("Mg", "66"), r("Ca", "400")), ask: interpret.Ask{On: on}},
		{name: "buffer-missing", rec: record("community garden", "Plot 17", "Jasper Threnody", "Allotment Yard, Millrace, CX",
			r("pH", "5.1"), r("P", "75"), r("K", "150"), r("Mg", "30"), r("Ca", "300")), ask: interpret.Ask{On: on, AreaSqFt: "300"}},
		{name: "other-method", rec: record("vegetable garden", "Kitchen bed", "Clementine Osk", "5 Bellrope Street, Quarry, CX",
			r("pH", "6.3", by("ph-cacl2", "0.01 M CaCl2")), r("P", "30", by("olsen", "Olsen"))), ask: interpret.Ask{On: on}},
		{name: "lead-450", rec: record("vegetable garden", "By the shed", "Philippa Underbough", "22 Mason Hill, Millrace, CX",
			r("pH", "6.5"), r("OM", "5.2"), r("P", "50"), r("K", "100"), r("Pb", "450", by("total-digestion", "Total (EPA 3050-type digestion)"))), ask: interpret.Ask{On: on, AreaSqFt: "200"}},
		{name: "held", rec: held, ask: interpret.Ask{On: on}},
		{name: "old", rec: record("lawn", "Back lawn", "Euphemia Tollivant", "", r("pH", "6.2"), r("P", "30")), ask: interpret.Ask{On: "2029-06-01"}},
		{name: "blueberry-sulfur", rec: record("blueberry", "Berry row", "Leopold Fairweather-Nock", "9 Tannery Walk, Slatehope, CX",
			r("pH", "7.3"), textureClass("silt loam"), r("OM", "2.1"), r("P", "75"), r("K", "60"), r("Mg", "80"), r("Ca", "900")), ask: interpret.Ask{On: on, AreaSqFt: "240"}},
		{name: "field-acid", rec: record("field corn", "Lower forty", "Gosling Bottom Farm", "Rural Route 3, Tamarack, CX",
			r("pH", "5.3"), r("buffer_pH", "6.00"), r("P", "28"), r("K", "150"), r("Mg", "35"), r("Ca", "500")), ask: interpret.Ask{On: on}},
		{name: "flower-acid", rec: record("flower bed", "Front border", "Isolde Penhaligon-Moss", "17 Chandler Lane, Vesper, CX",
			r("pH", "5.1"), r("buffer_pH", "6.10"), r("P", "20"), r("K", "100"), r("Mg", "90"), r("Ca", "500")), ask: interpret.Ask{On: on, AreaSqFt: "150"}},
		{name: "doubtful-result", rec: record("vegetable garden", "Long bed", "Rosalind Applegarth-Vane", "", r("pH", "6.6"), doubt, r("K", "38")), ask: interpret.Ask{On: on}},
		{name: "warm-lawn", rec: record("St. Augustine lawn", "Lawn, sunny side", "Cornelius Threlfall-Ames", "41 Palmetto Walk, Finch, CX",
			r("pH", "6.0"), r("P", "18", by("mehlich-1", "Mehlich-1")), r("K", "40", by("mehlich-1", "Mehlich-1")), r("Mg", "35", by("mehlich-1", "Mehlich-1"))), ask: interpret.Ask{On: on, AreaSqFt: "3500"}, rules: "georgia-coastal-plain"},
		{name: "pasture", rec: record("pasture", "East pasture", "Gosling Bottom Farm", "Rural Route 3, Tamarack, CX",
			r("pH", "5.6"), r("buffer_pH", "6.20"), r("P", "22"), r("K", "90"), r("Mg", "60"), r("Ca", "700")), ask: interpret.Ask{On: on}},
		{name: "orchard", rec: record("apple orchard", "Old orchard", "Peregrine Latchford", "Windfall Lane, Vesper, CX",
			r("pH", "6.3"), r("P", "60"), r("K", "120"), r("Mg", "110"), r("Ca", "1200"), r("As", "14", by("total-digestion", "Total (EPA 3050-type digestion)"))), ask: interpret.Ask{On: on, AreaSqFt: "5000"}},
		{name: "carbonate", rec: record("blueberry", "Patio berries", "Septimus Holloway", "6 Chalk Row, Quarry, CX",
			r("pH", "8.2", lab("High", "high")), textureClass("clay loam"), r("OM", "1.8"), r("P", "20", lab("Low", "low")), r("K", "140", lab("Optimum", "optimum")), r("Mg", "160"), r("Ca", "3800")), ask: interpret.Ask{On: on, AreaSqFt: "60"}},
		{name: "garden-carbonate", rec: record("vegetable garden", "Gravel side", "Ottoline Brakespeare", "30 Chalk Row, Quarry, CX",
			r("pH", "8.2"), r("OM", "1.8"), r("P", "20"), r("K", "140"), r("Mg", "160"), r("Ca", "3800")), ask: interpret.Ask{On: on, AreaSqFt: "300"}},
		{name: "lawn-winter", rec: record("lawn", "Verge", "Benedict Oxenholme", "2 Frost Street, Wren, CX",
			r("pH", "6.5", lab("Optimum", "optimum")), r("P", "12.4", lab("High", "high")), r("K", "60", lab("Medium", "medium")), r("Mg", "90"), r("Ca", "800")), ask: interpret.Ask{On: "2026-12-02", AreaSqFt: "1800", Region: "NJ"}},
		{name: "garden-nothing", rec: record("native bed", "Shade bed", "Araminta Fell", "",
			r("pH", "6.2"), r("P", "60"), r("K", "120"), r("Mg", "110"), r("Ca", "1100")), ask: interpret.Ask{On: on}},
	}
}

// of is the letter of a case.
func of(t *testing.T, c letterCase, lang letter.Language) *letter.Letter {
	t.Helper()
	return &letter.Letter{Advice: interpret.Advise(c.rec, report, ruleSetOf(t, c.rules), c.ask), Record: c.rec, Report: report, Office: office, Language: lang}
}

func writeIn(t *testing.T, c letterCase, lang letter.Language) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := of(t, c, lang).HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func write(t *testing.T, c letterCase) (*interpret.Advice, []byte) {
	t.Helper()
	return of(t, c, letter.English).Advice, writeIn(t, c, letter.English)
}
