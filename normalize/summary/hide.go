package summary

import (
	"cmp"
	"slices"
)

// A Pile is how many samples a group has, and of which clients. The zero value
// has none.
type Pile struct {
	N       int
	clients map[int32]bool
}

// Add counts a sample of a client. Those of whom nothing is known are to have
// one number, so that they count as one.
func (p *Pile) Add(client int32) {
	if p.clients == nil {
		p.clients = map[int32]bool{}
	}
	p.N++
	p.clients[client] = true
}

// Join counts all of another group.
func (p *Pile) Join(o *Pile) {
	if p.clients == nil {
		p.clients = map[int32]bool{}
	}
	p.N += o.N
	for c := range o.clients {
		p.clients[c] = true
	}
}

// Clients is how many clients the samples are of.
func (p *Pile) Clients() int { return len(p.clients) }

// Enough reports whether a group is of at least k samples and clients, so that
// nobody stands out of it.
func (p *Pile) Enough(k int) bool { return p.N >= k && len(p.clients) >= k }

// Tellable gives the parts of a group that may be told beside the group itself.
// What is left, which is the group less those parts, must be nothing or large
// enough, too: otherwise the smallest of the others are left out with it, in the
// given order where they are of one size.
func Tellable[K comparable](parts map[K]*Pile, k int, order func(a, b K) int) map[K]bool {
	shown := map[K]bool{}
	var keys []K
	rest := &Pile{}
	for key, p := range parts {
		if p.Enough(k) {
			shown[key] = true
			keys = append(keys, key)
		} else {
			rest.Join(p)
		}
	}
	slices.SortFunc(keys, func(a, b K) int { return cmp.Or(cmp.Compare(parts[a].N, parts[b].N), order(a, b)) })
	for _, key := range keys {
		if rest.N == 0 || rest.Enough(k) {
			break
		}
		rest.Join(parts[key])
		delete(shown, key)
	}
	return shown
}
