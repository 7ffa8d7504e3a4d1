package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"sync"
	"time"
)

// idSize is how many random bytes the id of a session has.
const idSize = 32

// mostSessions is how many sessions one account has at a time; the oldest ends
// when there would be more.
const mostSessions = 20

// A session is one sign-in. What the browser has is not kept, only its hash.
type session struct {
	account  string
	person   Person // of one whom the provider vouches for and no list has
	listed   bool   // the account is on the list of users, which is asked each time
	password string // the hash that held when it began: another one ends the session
	began    time.Time
	used     time.Time
}

// sessions are those of a running program; they end with it.
type sessions struct {
	idle, longest time.Duration

	mu sync.Mutex
	by map[[sha256.Size]byte]*session
}

// open begins a session and gives its id, which nobody has had before.
func (s *sessions) open(x session, now time.Time) string {
	b := make([]byte, idSize)
	_, _ = rand.Read(b) // never fails
	id := base64.RawURLEncoding.EncodeToString(b)
	x.began, x.used = now, now
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	var oldest [sha256.Size]byte
	var since time.Time
	for k, y := range s.by {
		switch {
		case s.over(y, now):
			delete(s.by, k)
		case y.account == x.account:
			if n++; n == 1 || y.used.Before(since) {
				oldest, since = k, y.used
			}
		}
	}
	if n >= mostSessions {
		delete(s.by, oldest)
	}
	s.by[sha256.Sum256([]byte(id))] = &x
	return id
}

// over reports whether a session has ended by itself. A clock that was set back
// to before the session ends it, too.
func (s *sessions) over(x *session, now time.Time) bool {
	return now.Before(x.began) || now.Sub(x.used) >= s.idle || now.Sub(x.began) >= s.longest
}

// get is the session of an id. With use it is used by that.
func (s *sessions) get(id string, now time.Time, use bool) (session, bool) {
	if len(id) != base64.RawURLEncoding.EncodedLen(idSize) {
		return session{}, false
	}
	k := sha256.Sum256([]byte(id))
	s.mu.Lock()
	defer s.mu.Unlock()
	x, ok := s.by[k]
	if !ok {
		return session{}, false
	}
	if s.over(x, now) {
		delete(s.by, k)
		return session{}, false
	}
	if use {
		x.used = now
	}
	return *x, true
}

// end ends the session of an id.
func (s *sessions) end(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.by, sha256.Sum256([]byte(id)))
}
