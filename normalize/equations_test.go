package normalize

import "testing"

// The tables load against our own methods, analytes and bibliography, and
// each active row leads to a source that was read or computed from.
func TestEquationsLoad(t *testing.T) {
	active := 0
	for _, r := range Equations().Rows {
		if !r.Active {
			continue
		}
		active++
		for _, k := range r.Sources {
			if p := bibliography()[k].Provenance; p == "from memory" || p == "common practice" {
				t.Errorf("%s is active and its source %s is %s", r.ID, k, p)
			}
		}
	}
	t.Logf("%d rows, %d of them active; %d scales", len(Equations().Rows), active, len(Equations().Scales))
	if active < 80 {
		t.Errorf("only %d active rows", active)
	}
}
