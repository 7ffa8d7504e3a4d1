package sheet

import (
	"strings"

	"example.org/windrow/ingest"
)

// moveFormula rewrites a formula for a cell that lies down rows and across
// columns away from the cell that it was written for: relative references
// move, those with a dollar sign stay (ECMA-376 part 1, 18.3.1.40). Text in
// quotes and names of sheets are left alone. The result is only shown to
// people; nothing is computed from it.
func moveFormula(f string, down, across int) string {
	var out strings.Builder
	for i := 0; i < len(f); {
		switch c := f[i]; {
		case c == '"' || c == '\'':
			j := i + 1
			for j < len(f) && f[j] != c {
				j++
			}
			j = min(j+1, len(f))
			out.WriteString(f[i:j])
			i = j
		case wordByte(c):
			j := i
			for j < len(f) && wordByte(f[j]) {
				j++
			}
			word := f[i:j]
			// A word before ( is a function and one before ! a sheet.
			if j < len(f) && (f[j] == '(' || f[j] == '!') {
				out.WriteString(word)
			} else {
				out.WriteString(moveReference(word, down, across))
			}
			i = j
		default:
			out.WriteByte(c)
			i++
		}
	}
	return out.String()
}

func wordByte(c byte) bool {
	return c == '$' || c == '_' || c == '.' || c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= 0x80
}

// moveReference moves a word if it is a cell, such as B$7, and gives back
// anything else as it is.
func moveReference(word string, down, across int) string {
	rest := word
	fixedCol := strings.HasPrefix(rest, "$")
	rest = strings.TrimPrefix(rest, "$")
	n := 0
	for n < len(rest) && (rest[n] >= 'A' && rest[n] <= 'Z' || rest[n] >= 'a' && rest[n] <= 'z') {
		n++
	}
	letters, rest := rest[:n], rest[n:]
	fixedRow := strings.HasPrefix(rest, "$")
	rest = strings.TrimPrefix(rest, "$")
	row, col, ok := parseCellName(letters + rest)
	if !ok {
		return word
	}
	if !fixedRow {
		row += down
	}
	if !fixedCol {
		col += across
	}
	if row < 1 || col < 1 || row > lastRow || col > lastCol {
		return "#REF!"
	}
	name := ingest.CellName(row, col)
	n = strings.IndexFunc(name, func(r rune) bool { return r <= '9' })
	var out strings.Builder
	if fixedCol {
		out.WriteByte('$')
	}
	out.WriteString(name[:n])
	if fixedRow {
		out.WriteByte('$')
	}
	out.WriteString(name[n:])
	return out.String()
}
