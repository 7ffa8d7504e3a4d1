package ingest

import "unicode/utf8"

// leaderRun is how many signs of one kind make a leader.
const leaderRun = 4

// EndsLeader reports whether a sign begins a word of its own since a leader
// runs up to it: the dots, strokes or lines that lead the eye from a label to
// its value, printed without a space before the value. Without this the value
// would be the end of the label.
func EndsLeader(before []byte, next rune) bool {
	n := 0
	var kind rune
	for len(before) > 0 && n < leaderRun {
		r, size := utf8.DecodeLastRune(before)
		if n == 0 {
			kind = r
		}
		if r != kind || !leads(r) {
			return false
		}
		before = before[:len(before)-size]
		n++
	}
	return n == leaderRun && next != kind
}

func leads(r rune) bool {
	switch r {
	case '.', '·', '…', '_', '-', '–', '=':
		return true
	}
	return false
}
