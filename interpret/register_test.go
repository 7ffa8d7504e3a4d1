package interpret

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// What the register supplies is used where the report and the person who asks
// say nothing, and is never used without saying so.
func TestAdviceByTheRegister(t *testing.T) {
	rs := loaded(t)
	row := func(confidence, use, area string) *Registered {
		return &Registered{Row: "G0123456789", Confidence: confidence, Why: "same label, date fits", LandUse: use, AreaSqFt: area}
	}
	folder := recordOf("lawn", goodGarden...)
	folder.Sample.DefaultsUsed = []string{"land_use"}
	strange := recordOf("", goodGarden...)
	strange.Sample.LandUseText = "cotton"
	for _, c := range []struct {
		name      string
		rec       *normalize.Record
		ask       Ask
		use, from string // of the advice
		area      string
		took      string
		differs   bool
		said      string // in the disclosure, "" for nothing
	}{
		{"the report says nothing", recordOf("", goodGarden...), Ask{Register: row("exact", "lawn", "900")}, "lawn", "register", "900", "land_use area", false, "row G0123456789: same label, date fits"},
		{"likely", recordOf("", goodGarden...), Ask{Register: row("likely", "lawn", "")}, "lawn", "register", "", "land_use", false, "we are not sure"},
		{"the report says the same", recordOf("lawn", goodGarden...), Ask{Register: row("exact", "lawn", "900")}, "lawn", "report", "900", "area", false, "the size of your area"},
		{"the report says otherwise", garden(goodGarden...), Ask{Register: row("exact", "lawn", "")}, "vegetable garden", "report", "", "", true, "goes by the report"},
		{"the folder says otherwise", folder, Ask{Register: row("exact", "vegetable garden", "")}, "vegetable garden", "register", "", "land_use", false, "what you grow"},
		{"the tables don't know the report's", strange, Ask{Register: row("exact", "lawn", "")}, "lawn", "register", "", "land_use", false, "what you grow"},
		{"the same, and the row is not sure", strange, Ask{Register: row("likely", "lawn", "")}, "cotton", "report", "", "", true, "goes by the report"},
		{"the tables don't know the register's", recordOf("", goodGarden...), Ask{Register: row("exact", "moss", "")}, "moss", "register", "", "land_use", false, "what you grow"},
		{"the same words, which the tables don't know", strange, Ask{Register: row("exact", " Cotton", "")}, "cotton", "report", "", "", false, ""},
		{"asked", recordOf("", goodGarden...), Ask{LandUse: "vegetable garden", AreaSqFt: "50", Register: row("exact", "lawn", "900")}, "vegetable garden", "asked", "50", "", false, ""},
		{"nothing in the row", garden(goodGarden...), Ask{Register: row("likely", "", "")}, "vegetable garden", "report", "", "", false, ""},
	} {
		a := Advise(c.rec, okReport, rs, c.ask)
		text := strings.Join(a.Disclosure, " ")
		if a.LandUse.Said != c.use || a.LandUse.From != c.from || a.AreaSqFt != c.area || a.Register == nil || strings.Join(a.Register.Took, " ") != c.took || (a.Register.Differs != "") != c.differs {
			t.Errorf("%s: %+v, area %q, %+v", c.name, a.LandUse, a.AreaSqFt, a.Register)
		}
		if !strings.Contains(text, c.said) || c.said == "" && strings.Contains(text, "list of samples") {
			t.Errorf("%s: disclosed: %q", c.name, text)
		}
	}
	a := Advise(recordOf("", goodGarden...), okReport, rs, Ask{Register: row("exact", "moss", "")})
	if i := slices.IndexFunc(a.Questions, func(q Question) bool { return q.Code == "land-use-unknown" }); i < 0 || !strings.HasPrefix(a.Questions[i].Text, "Our list of samples says that this ground") {
		t.Errorf("%+v", a.Questions)
	}
	if a := Advise(garden(goodGarden...), okReport, rs, Ask{}); a.Register != nil {
		t.Errorf("no register: %+v", a.Register)
	}
}
