package method

import "testing"

func TestLoad(t *testing.T) {
	tb := Standard()
	for _, s := range []string{"Mehlich-3 (ICP), volume basis", "Mehlich-1 (double acid), ICP", "0.01 M CaCl2 1:2", "BaCl2-TEA pH 8.2"} {
		if _, ok := tb.Method(s); !ok {
			t.Error(s)
		}
	}
}
