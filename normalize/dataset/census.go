package dataset

import (
	"cmp"
	"encoding/hex"

	"example.org/windrow/normalize"
)

// A census counts, before a row is written, which samples and clients there
// are by their quasi-identifiers. It holds no more of a sample than the number
// of its cell and of its client.
type census struct {
	seats   map[shortCode]seat // by the code of the sample
	cells   []cellKey
	numbers map[cellKey]int32
	full    panelTable
	bare    panelTable
	clients []string                  // names, "" for those of whom none is known; nil when all are counted
	known   map[string]int32          // numbers of clients, likewise
	nobody  int32                     // the number of those of whom no name is known; -1 where there are none
	twice   [][2]int32                // clients of one sample
	again   map[shortCode][]shortCode // reports of a sample that has several
	limits  limits
}

// A seat is where a sample stands.
type seat struct {
	cell, client int32
	report       shortCode // the first that was seen
}

// A shortCode is a pseudonym as bytes.
type shortCode [10]byte

// A cellKey is what the samples of a cell have in common.
type cellKey struct {
	quasi
	full, bare int
}

func newCensus() *census {
	return &census{seats: map[shortCode]seat{}, numbers: map[cellKey]int32{}, known: map[string]int32{}, again: map[shortCode][]shortCode{}, limits: limits{}}
}

func codeBytes(code string) (out shortCode) {
	b, _ := hex.DecodeString(code) // made by pseudonym
	copy(out[:], b)
	return out
}

func (c *census) cell(k cellKey) int32 {
	n, ok := c.numbers[k]
	if !ok {
		n = int32(len(c.cells))
		c.numbers[k], c.cells = n, append(c.cells, k)
	}
	return n
}

// client numbers the client of a record by what the report tells of him: his
// name, or else how he is reached. All that tell nothing are one client, since
// nothing says that they are two.
func (c *census) client(rec *normalize.Record) int32 {
	who := ""
	if rec.Client != nil {
		who = cmp.Or(rec.Client.Name, rec.Client.Email, rec.Client.Phone, rec.Client.Address)
	}
	n, ok := c.known[who]
	if !ok {
		n = int32(len(c.clients))
		c.known[who], c.clients = n, append(c.clients, who)
	}
	return n
}

// take counts a sample. One that is reported again has the quasi-identifiers
// on which its reports agree, and the tests of all of them: both are published
// under one code, and neither may tell what the other withholds.
func (c *census) take(code, report string, rep *normalize.Report, rec *normalize.Record) {
	results := outgoing(rec)
	if len(results) == 0 {
		return
	}
	p := panelsOf(results, rec, rep)
	k := cellKey{quasiOf(rep, rec), c.full.number(p.full), c.bare.number(p.bare)}
	at, client, first := codeBytes(code), c.client(rec), codeBytes(report)
	if old, ok := c.seats[at]; ok {
		was := c.cells[old.cell]
		for i := range k.quasi {
			if k.quasi[i] != was.quasi[i] {
				k.quasi[i] = ""
			}
		}
		k.full, k.bare = c.full.number(c.full.list[was.full].with(p.full)), c.bare.number(c.bare.list[was.bare].with(p.bare))
		switch {
		case c.clients[client] == "":
			client = old.client
		case c.clients[old.client] != "" && client != old.client:
			c.twice = append(c.twice, [2]int32{client, old.client})
			client = min(client, old.client)
		}
		if len(c.again[at]) == 0 {
			c.again[at] = []shortCode{old.report}
		}
		c.again[at] = append(c.again[at], first)
		first = old.report
	}
	c.seats[at] = seat{c.cell(k), client, first}
	c.limits.note(k.quasi[qLab], results)
}

// people gives every client a number that those have in common who may be one,
// and forgets their names.
func (c *census) people() []int {
	names := c.clients
	numbers := normalize.ClientGroups(names)
	for changed := true; changed; {
		changed = false
		for _, t := range c.twice {
			a, b := numbers[t[0]], numbers[t[1]]
			if a == b {
				continue
			}
			changed = true
			for i, n := range numbers {
				if n == max(a, b) {
					numbers[i] = min(a, b)
				}
			}
		}
	}
	c.nobody = -1
	if n, there := c.known[""]; there {
		c.nobody = n
	}
	c.clients, c.known = nil, nil
	return numbers
}

// A cell is the samples that the census found alike.
type cell struct {
	cellKey
	samples int
	people  crowd
}

// count puts the samples into their cells; those that in names, where it is
// set, and no others.
func (c *census) count(people []int, in func(shortCode) bool) []*cell {
	out := make([]*cell, len(c.cells))
	for i, k := range c.cells {
		out[i] = &cell{cellKey: k}
	}
	for code, s := range c.seats {
		if in != nil && !in(code) {
			continue
		}
		out[s.cell].samples++
		out[s.cell].people.add(people[s.client])
	}
	return out
}

// ordinal is the place of a report among those of a sample, from 1, by their
// codes.
func (c *census) ordinal(sample, report string) int {
	n, r := 1, codeBytes(report)
	for _, o := range c.again[codeBytes(sample)] {
		if string(o[:]) < string(r[:]) {
			n++
		}
	}
	return n
}

// unnamed is the number of samples of which no report says whose they are.
func (c *census) unnamed() int {
	n := 0
	for _, s := range c.seats {
		if s.client == c.nobody {
			n++
		}
	}
	return n
}
