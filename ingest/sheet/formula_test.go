package sheet

import "testing"

func TestMoveFormula(t *testing.T) {
	for in, want := range map[string]string{
		"A1+B2":             "B3+C4",
		"$A1+B$2+$C$3":      "$A3+C$2+$C$3",
		`SUM(A1:A9)&"A1"`:   `SUM(B3:B11)&"A1"`,
		"'A1 b'!C1+Data!D1": "'A1 b'!D3+Data!E3",
		"LOG10(A1)":         "LOG10(B3)",
		"TRUE+A1B+1E5":      "TRUE+A1B+1E5",
		"XFD1":              "#REF!",
	} {
		if got := moveFormula(in, 2, 1); got != want {
			t.Errorf("%s: got %s, want %s", in, got, want)
		}
	}
}
