package interpret

import (
	"strings"
	"testing"
)

// The summary of the facts that the tables rest on gives one soil with 40 ppm
// phosphorus by Mehlich-3: optimum in New Jersey, medium in Delaware,
// maintenance in the Tri-State region (bounds 36 and 69; 26 and 51; 20 and 40,
// above which nothing is added).
func TestOneSoilThreePublications(t *testing.T) {
	rec := recordOf("field corn", res("pH", "5.5", "ph-water-1-1"), res("buffer_pH", "6.2", "mehlich-buffer"), res("P", "39", "mehlich-3-icp"), res("K", "130", "mehlich-3-icp"))
	var advices []*Advice
	for _, id := range []string{"mehlich-3-home", "delaware-mehlich-3", "tri-state-2020"} {
		advices = append(advices, Advise(rec, okReport, setNamed(t, id), Ask{On: "2026-04-01"}))
	}
	got := map[string]Comparison{}
	for _, c := range Compare(advices) {
		got[strings.Fields(c.Item)[0]] = c
		if len(c.Says) != 3 {
			t.Errorf("%s: %d sayings", c.Item, len(c.Says))
		}
		if c.Differs && len(c.Why) == 0 {
			t.Errorf("%s: they differ, and nothing says why: %+v", c.Item, c.Says)
		}
	}
	for i, want := range []string{"optimum (its word: high)", "medium", "optimum (its word: maintenance)"} {
		if got["P"].Says[i].Says != want || len(got["P"].Says[i].Basis) != 1 {
			t.Errorf("%d: %+v", i, got["P"].Says[i])
		}
	}
	lime := got["lime"]
	// 4 x (6.6 - 6.2) x (6.5 - 5.5) / (6.6 - 5.5) = 1.4545 tons an acre (North
	// Carolina, buffer table 1); the two others have no table that was read.
	if lime.Says[0].Says != "66.78 lb/1000 sq ft" || lime.Says[1].Says != "asks" || lime.Says[2].Says != "asks" || !lime.Differs {
		t.Errorf("%+v", lime)
	}
	if k := got["K"]; !k.Differs || !strings.Contains(k.Says[2].Why, "exchange capacity") {
		t.Errorf("%+v", k)
	}
	same := Compare([]*Advice{advices[0], advices[0]})
	for _, c := range same {
		if c.Differs || len(c.Why) > 0 {
			t.Errorf("one rule set differs from itself: %+v", c)
		}
	}
}
