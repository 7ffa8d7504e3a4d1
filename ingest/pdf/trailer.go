package pdf

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
)

var (
	sizeEntry = regexp.MustCompile(`/Size[ \t\r\n]+(\d{1,9})[ \t]*`)
	startXref = regexp.MustCompile(`startxref[ \t\r\n]+(\d{1,12})[ \t\r\n]+%%EOF\s*$`)
)

// mendSize gives a file whose trailer counts fewer objects than its one table
// of objects lists (7.5.5, Size) with the count of the table. A widely used
// program that joins files writes it so; by the letter of the standard the
// objects beyond the count, among them the list of pages, would not be there,
// but every viewer shows them. Any other file is given back as it is.
func mendSize(b []byte) []byte {
	m := startXref.FindSubmatch(b)
	if m == nil {
		return b
	}
	at, err := strconv.Atoi(string(m[1]))
	if err != nil || at >= len(b) || !bytes.HasPrefix(b[at:], []byte("xref")) {
		return b
	}
	table, trailer, ok := bytes.Cut(b[at:], []byte("trailer"))
	if !ok || bytes.Contains(trailer, []byte("/Prev")) || bytes.Contains(trailer, []byte("/XRefStm")) {
		return b // several tables: which of them counts is not for us to say
	}
	listed := 0
	for line := range bytes.Lines(table) {
		first, n, ok := subsection(line)
		if ok {
			listed = max(listed, first+n)
		}
	}
	found := sizeEntry.FindSubmatchIndex(trailer)
	if found == nil {
		return b
	}
	size, _ := strconv.Atoi(string(trailer[found[2]:found[3]]))
	from := len(b) - len(trailer) + found[2]
	room := found[1] - found[2]
	text := fmt.Sprintf("%-*d", room, listed)
	if size >= listed || len(text) > room {
		return b
	}
	out := bytes.Clone(b)
	copy(out[from:from+room], text)
	return out
}

// subsection reads the line above a part of a table, which has the number of
// its first object and how many there are (7.5.4). It is false for a line of an
// object, of which there are hundreds: those end with a letter.
func subsection(line []byte) (first, n int, ok bool) {
	line = bytes.TrimSpace(line)
	if len(line) == 0 || len(line) > 2*9+8 || line[len(line)-1] < '0' || line[len(line)-1] > '9' {
		return 0, 0, false
	}
	f := bytes.Fields(line)
	if len(f) != 2 {
		return 0, 0, false
	}
	first, e1 := strconv.Atoi(string(f[0]))
	n, e2 := strconv.Atoi(string(f[1]))
	return first, n, e1 == nil && e2 == nil && first >= 0 && n >= 0
}
