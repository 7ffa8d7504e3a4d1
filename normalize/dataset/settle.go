package dataset

import "slices"

// A share is some samples of a cohort, with the clients that they are of.
type share struct {
	members []member
	people  map[int]int // samples of each client
	unknown bool        // has samples whose client is not known any more
}

func (s *share) clients() int {
	if s.unknown {
		return len(s.people) + 1 // at least one, and no more is known
	}
	return len(s.people)
}

func (a *appender) person(code shortCode) (int, bool) {
	seat, ok := a.c.census.seats[code]
	if !ok {
		return 0, false
	}
	return a.people[seat.client], true
}

func (a *appender) add(s *share, m member) {
	s.members = append(s.members, m)
	if s.people == nil {
		s.people = map[int]int{}
	}
	n, known := a.person(m.code)
	if !known {
		s.unknown = true
		return
	}
	s.people[n]++
}

// pour puts all of one share into another.
func (a *appender) pour(to, from *share) {
	for _, m := range from.members {
		a.add(to, m)
	}
	*from = share{}
}

// settle decides what becomes of the samples of a cohort. Whoever has the
// edition before sees which of them stay as they are, which have other rows,
// which are told in other words, and which go: each of these shares is of at
// least k clients, or empty.
func (a *appender) settle(co *cohort) {
	var same, changed, moved, going share
	for _, m := range co.members {
		_, here := a.c.census.seats[m.code]
		now := a.marks[m.code]
		switch {
		case !here || !a.misfits[m.code] && now == mark{}:
			a.add(&going, m)
		case a.misfits[m.code]:
			a.add(&moved, m)
		case now == m.mark:
			a.add(&same, m)
		default:
			a.add(&changed, m)
		}
	}
	k := a.opt.MinGroup
	if len(same.members) == len(co.members) && same.clients() >= k {
		co.kept = true
		return
	}
	unchanged := len(same.members)
	anew := a.move(&moved, &going)
	if len(anew) == 0 {
		a.pour(&going, &moved)
	}
	for {
		a.dissolve(&same, &going)
		a.dissolve(&changed, &going)
		if len(going.members) == 0 || going.clients() >= k {
			break
		}
		donor := &same
		if changed.clients() > same.clients() {
			donor = &changed
		}
		if len(donor.members) == 0 {
			// Nobody is left to go with them but those who were to be told
			// in other words.
			a.pour(&going, &moved)
			anew = nil
			break
		}
		a.companion(donor, &going)
	}
	for _, m := range co.members {
		a.touched[m.part] = true
	}
	for _, m := range going.members {
		a.gone[a.goneMark(m.code)] = true
		delete(a.where, m.code)
	}
	a.told.Withdrawn += len(going.members)
	a.told.Companions += unchanged - len(same.members)
	a.told.Replaced += len(changed.members) + len(moved.members)
	// From now on the shares are cohorts of their own, so that what changes
	// later is never the crossing of two shares.
	co.members = same.members
	if len(changed.members) > 0 {
		anew = append(anew, &cohort{class: co.class, members: changed.members})
	}
	a.cohorts = append(a.cohorts, anew...)
}

// dissolve lets a share of too few clients go.
func (a *appender) dissolve(s, going *share) {
	if len(s.members) > 0 && s.clients() < a.opt.MinGroup {
		a.pour(going, s)
	}
}

// companion takes a sample of a client who is not among those that go, so that
// nobody can tell why it went. Which one, the key decides.
func (a *appender) companion(donor, going *share) {
	best, by := -1, ""
	for i, m := range donor.members {
		n, _ := a.person(m.code)
		if _, there := going.people[n]; there {
			continue
		}
		if h := a.goneMark(m.code); best < 0 || h < by {
			best, by = i, h
		}
	}
	if best < 0 {
		a.pour(going, donor) // all of it is of clients of whom some goes
		return
	}
	m := donor.members[best]
	donor.members = slices.Delete(donor.members, best, best+1)
	n, _ := a.person(m.code)
	if donor.people[n]--; donor.people[n] == 0 {
		delete(donor.people, n)
	}
	a.add(going, m)
}

// move makes new cohorts of samples of one cohort that can't be told as it any
// more; those that are too few for one go.
func (a *appender) move(moved, going *share) []*cohort {
	if len(moved.members) == 0 || moved.clients() < a.opt.MinGroup {
		return nil
	}
	in := map[shortCode]bool{}
	for _, m := range moved.members {
		in[m.code] = true
	}
	out, left := a.plan(func(code shortCode) bool { return in[code] })
	drop := map[shortCode]bool{}
	for _, code := range left {
		drop[code] = true
	}
	var stay share
	for _, m := range moved.members {
		if drop[m.code] {
			a.add(going, m)
		} else {
			a.add(&stay, m)
		}
	}
	*moved = stay
	return out
}
