package ingest

import "testing"

func TestEndsLeader(t *testing.T) {
	for _, x := range []struct {
		before string
		next   rune
		want   bool
	}{
		{"Phosphorus.....", '3', true}, {"Phosphorus.....", '<', true}, {"Phosphorus.....", '.', false}, {"pH____", '6', true}, {"pH––––", '6', true}, {"pH····", '6', true},
		{"pH...", '6', false}, {"6.4", '5', false}, {"", '6', false}, {"....", '6', true}, {"...-", '6', false}, {"1999-", '2', false}, {"aaaa", 'b', false},
	} {
		if got := EndsLeader([]byte(x.before), x.next); got != x.want {
			t.Errorf("%q then %q: %v", x.before, x.next, got)
		}
	}
}
