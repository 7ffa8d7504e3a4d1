package interpret

import (
	"slices"

	"example.org/windrow/normalize"
)

// find is the one result of an analyte, preferring one that the methods
// given include; nil when there is none.
func (a *adviser) find(analyte string, methods ...string) *normalize.Result {
	var first *normalize.Result
	for _, r := range a.rec.Results {
		if r.Analyte != analyte {
			continue
		}
		if slices.Contains(methods, r.Method) && usable(r) {
			return r
		}
		if first == nil {
			first = r
		}
	}
	return first
}

func (a *adviser) texture() string {
	if r := a.find("texture"); r != nil && r.Status == normalize.OK {
		if r.Class != "" {
			return r.Class
		}
		return string(r.Value)
	}
	return ""
}

// soil is what the record tells of the soil that tables may depend on.
func (a *adviser) soil() ground {
	g := ground{texture: a.texture()}
	if r := a.find("CEC"); usable(r) && r.Unit == unitOfAnalyte["CEC"] && r.Censored == "" {
		if v, ok := ratOf(r.Value); ok {
			g.cec = v
		}
	}
	if r := a.find("pH", waterPH...); usable(r) && slices.Contains(waterPH, r.Method) && r.Censored == "" {
		if v, ok := ratOf(r.Value); ok {
			g.ph = v
		}
	}
	return g
}

// waterPH are the methods of a pH in water.
var waterPH = []string{"ph-water-1-1", "ph-water-1-2", "ph-water"}
