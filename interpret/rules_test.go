package interpret_test

import (
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/rules"
)

func builtIn(t *testing.T) *interpret.RuleSet {
	t.Helper()
	sets, faults := interpret.LoadRules(rules.FS)
	for _, f := range faults {
		t.Error(f)
	}
	if len(sets) == 0 {
		t.Fatal("no rule set was loaded")
	}
	return sets[0]
}

func TestBuiltInRulesLoad(t *testing.T) {
	rs := builtIn(t)
	t.Log(rs.ID, rs.Rows)
}
