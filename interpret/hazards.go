package interpret

import (
	"slices"

	"example.org/windrow/normalize"
)

// hazards notes what on the report calls for a caution besides lead: arsenic
// and cadmium, apart for a total digestion and for an extract, since a figure
// of the one is never set beside a limit for the other; a pH at which sodium is
// suspected; nitrate. Published figures are told beside a total, and the
// cautions say who decides; no figure is a limit of ours.
func (a *adviser) hazards() {
	if d, ok := ratOf(a.rec.Sample.DepthIn); ok && d.Cmp(deepest) > 0 && a.rec.Sample.DepthTopIn == "" {
		a.events["deep-sample"] = true
	}
	metals := map[string]string{"As": "arsenic-total", "Cd": "cadmium-total"}
	for _, r := range a.rec.Results {
		if r.Missing != "" || r.Value == "" || r.Status == normalize.Held {
			continue
		}
		if total := metals[r.Analyte]; total != "" {
			if slices.Contains(a.rs.Lead.TotalMethods, r.Method) {
				a.events[total] = true
				a.metalCautions(r)
			} else {
				a.events["metal-extract"] = true
			}
		}
		if r.Analyte == "NO3-N" {
			a.events["nitrate"] = true
		}
		if v, ok := ratOf(r.Value); ok && r.Analyte == "pH" && slices.Contains(waterPH, r.Method) && v.Cmp(sodicPH) >= 0 {
			a.events["sodium"] = true
		}
	}
}

// deepest is the depth of sampling in inches to which tables are taken to apply:
// they are made for a plowed or dug layer of 6 to 8 inches (the lime of North
// Carolina for 8, row L018), and laboratories ask for up to 9 (common practice,
// no source).
var deepest = rat(9, 1)

// sodicPH is the pH in water from which sodium is suspected (Colorado State
// University soil laboratory, salts note: above 8.5; read in the source).
var sodicPH = rat(85, 10)
