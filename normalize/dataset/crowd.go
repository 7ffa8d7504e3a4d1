package dataset

import "slices"

// A crowd is a set of clients by their numbers. There are as many crowds as
// cells and groups, and in all of them together nearly as many clients as
// samples: so one takes some bytes for each, which a map does not.
type crowd struct {
	list   []int32
	sorted int // so many of the list are in order, each once
}

// add puts a client into the set.
func (c *crowd) add(n int) {
	if last := len(c.list) - 1; last >= 0 && c.list[last] == int32(n) {
		return
	}
	c.list = append(c.list, int32(n))
	c.grown()
}

// grown puts the list in order when it has doubled since it was.
func (c *crowd) grown() {
	if len(c.list) >= 2*c.sorted+16 {
		c.tidy()
	}
}

func (c *crowd) tidy() {
	if c.sorted == len(c.list) {
		return
	}
	slices.Sort(c.list)
	c.list = slices.Compact(c.list)
	c.sorted = len(c.list)
}

// join puts all of another set into this one.
func (c *crowd) join(o *crowd) {
	c.list = append(c.list, o.numbers()...)
	c.grown()
}

// numbers are the clients, in order. The list is the set's own.
func (c *crowd) numbers() []int32 {
	c.tidy()
	return c.list
}

// size is how many clients there are.
func (c *crowd) size() int { return len(c.numbers()) }
