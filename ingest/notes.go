package ingest

import "fmt"

// notesOfACode is how many notes of one code are given one by one.
const notesOfACode = 5

// Notes gathers what a reader noticed: the first few of each code, and a
// count of the rest, so that one odd file doesn't bury a clerk. The zero
// value is empty and ready.
type Notes struct {
	order []string
	first map[string][]*Reason
	count map[string]int
}

// Add takes a note.
func (n *Notes) Add(r *Reason) {
	if n.first == nil {
		n.first, n.count = map[string][]*Reason{}, map[string]int{}
	}
	if n.count[r.Code] == 0 {
		n.order = append(n.order, r.Code)
	}
	n.count[r.Code]++
	if len(n.first[r.Code]) < notesOfACode {
		n.first[r.Code] = append(n.first[r.Code], r)
	}
}

// List is what was gathered, by code in the order of their first notes. The
// note that counts the rest of a code has no place.
func (n *Notes) List() []*Reason {
	var out []*Reason
	for _, code := range n.order {
		out = append(out, n.first[code]...)
		if more := n.count[code] - len(n.first[code]); more > 0 {
			last := *n.first[code][len(n.first[code])-1]
			last.Where = Place{}
			last.What = fmt.Sprintf("%d more of the same kind: %s", more, last.What)
			last.Found = ""
			out = append(out, &last)
		}
	}
	return out
}
