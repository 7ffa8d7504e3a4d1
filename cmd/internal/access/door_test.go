package access

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"
)

const good = "copper lantern fig ninety"

// A clock that a test sets.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.t
}

func (c *clock) on(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(d)
}

var here = netip.MustParseAddr("192.0.2.7")

// aDoor is a door with ilse of an office, rolf who is a steward, and ada, who
// has no password.
func aDoor(t *testing.T, secure bool, proxies ...netip.Prefix) (*Door, *clock, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "users.yaml")
	l, _, _ := ReadList(path)
	for _, u := range []User{
		{Account: "ilse", Called: "Ilse Marrow", Role: Office, Office: "Alderbrook", Password: mustHash(t, good)},
		{Account: "rolf", Role: Steward, Password: mustHash(t, good+" rolf")},
		{Account: "ada", Role: Researcher},
		{Account: "gone", Role: Steward, Password: mustHash(t, good), Disabled: true},
	} {
		if rs := l.Add(u); len(rs) > 0 {
			t.Fatal(rs)
		}
	}
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	c := &clock{t: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)}
	d, err := NewDoor(Options{Users: path, Idle: 30 * time.Minute, Longest: 10 * time.Hour, Secure: secure, Proxies: proxies, Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	d.unknown = mustHash(t, "nobody") // as quick as those of the test
	return d, c, path
}

// with is a request that bears the id of a session.
func with(d *Door, id string) *http.Request {
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.AddCookie(d.cookie(d.cookieName(), id))
	return r
}

func TestSignIn(t *testing.T) {
	d, _, _ := aDoor(t, false)
	id, p, err := d.SignIn(context.Background(), " Ilse ", good, here)
	if err != nil || p.Account != "ilse" || p.Role != Office || p.Office != "Alderbrook" || p.Title() != "Ilse Marrow" {
		t.Fatalf("%+v %v", p, err)
	}
	if got, ok, fault := d.Who(with(d, id), false); !ok || fault != nil || got != p {
		t.Errorf("got %+v %v %v", got, ok, fault)
	}
	for _, x := range []string{"", "x", id[:len(id)-1], id + "A", "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"} {
		if _, ok, _ := d.Who(with(d, x), false); ok {
			t.Errorf("%q is a session", x)
		}
	}
	for _, x := range []struct{ name, password string }{{"ilse", good + "x"}, {"ilse", ""}, {"nobody", good}, {"ada", ""}, {"ada", "nobody"}, {"gone", good}, {"", ""}} {
		_, _, err := d.SignIn(context.Background(), x.name, x.password, here)
		var refusal *Refusal
		if !errors.As(err, &refusal) || *refusal != (Refusal{}) || refusal.Error() != "the name or the password is wrong" {
			t.Errorf("%+v: %v", x, err)
		}
	}
	if ok, failed, delayed := d.Counts(); ok != 1 || failed != 7 || delayed != 0 {
		t.Errorf("counted %d %d %d", ok, failed, delayed)
	}
}

// A session ends when it is not used, after a day's work, when it is signed out,
// and at once when the user may no longer be here.
func TestSessionsEnd(t *testing.T) {
	d, c, path := aDoor(t, false)
	in := func() string {
		t.Helper()
		id, _, err := d.SignIn(context.Background(), "ilse", good, here)
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	is := func(id string, want bool, why string) {
		t.Helper()
		if _, ok, _ := d.Who(with(d, id), false); ok != want {
			t.Errorf("%s: %v", why, ok)
		}
	}
	id := in()
	c.on(29 * time.Minute)
	is(id, true, "used before the half hour")
	c.on(29 * time.Minute)
	is(id, true, "used again")
	c.on(31 * time.Minute)
	is(id, false, "not used")
	id = in()
	for range 19 {
		c.on(29 * time.Minute)
		is(id, true, "used all day")
	}
	c.on(50 * time.Minute)
	is(id, false, "ten hours")
	id = in()
	for range 2 { // a page that lies open asks again by itself
		c.on(16 * time.Minute)
		r := with(d, id)
		r.Header.Set("Sec-Fetch-Dest", "empty")
		_, _, _ = d.Who(r, false)
	}
	is(id, false, "used by nobody")
	id = in()
	for range 2 { // and a browser does not say that it does
		c.on(16 * time.Minute)
		_, _, _ = d.Who(with(d, id), true)
	}
	is(id, false, "asked for by itself")
	id = in()
	c.on(-time.Hour)
	is(id, false, "a clock set back")
	id = in()
	w := httptest.NewRecorder()
	d.SignOut(w, with(d, id))
	is(id, false, "signed out")
	if got := w.Result().Cookies(); len(got) != 1 || got[0].MaxAge >= 0 || got[0].Value != "" {
		t.Errorf("the browser keeps %v", got)
	}
	change := func(f func(u *User)) {
		t.Helper()
		c.on(2 * time.Second)
		l, _, rs := ReadList(path)
		if len(rs) > 0 {
			t.Fatal(rs)
		}
		f(l.User("ilse"))
		if err := l.Write(); err != nil {
			t.Fatal(err)
		}
	}
	id = in()
	change(func(u *User) { u.Role, u.Office = Researcher, "" })
	if p, ok, _ := d.Who(with(d, id), false); !ok || p.Role != Researcher {
		t.Errorf("a new role comes late: %+v %v", p, ok)
	}
	change(func(u *User) { u.Password = mustHash(t, good) })
	is(id, false, "another password")
	id = in()
	change(func(u *User) { u.Disabled = true })
	is(id, false, "disabled")
	change(func(u *User) { u.Disabled = false })
	is(id, false, "what has ended does not come back")
	id = in()
	c.on(2 * time.Second)
	if err := os.WriteFile(path, []byte("users: oops"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, ok, fault := d.Who(with(d, id), false); ok || fault == nil {
		t.Errorf("a faulty list lets in: %v %v", ok, fault)
	}
	var refusal *Refusal
	if _, _, err := d.SignIn(context.Background(), "ilse", good, here); !errors.As(err, &refusal) || refusal.Reason == nil {
		t.Errorf("got %v", err)
	}
}

func TestSessionsAreBounded(t *testing.T) {
	d, c, _ := aDoor(t, false)
	var ids []string
	for range mostSessions + 1 {
		c.on(time.Second)
		id, _, err := d.SignIn(context.Background(), "ilse", good, here)
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	for i, id := range ids {
		if _, ok, _ := d.Who(with(d, id), false); ok != (i > 0) {
			t.Errorf("session %d: %v", i, ok)
		}
	}
}

// The id changes at each sign-in, whatever the browser brought.
func TestIDChangesAtSignIn(t *testing.T) {
	d, _, _ := aDoor(t, true)
	first, _, err := d.SignIn(context.Background(), "ilse", good, here)
	if err != nil {
		t.Fatal(err)
	}
	second, _, err := d.SignIn(context.Background(), "ilse", good, here)
	if err != nil || first == second {
		t.Fatal(err, first)
	}
	w := httptest.NewRecorder()
	d.SetSession(w, with(d, first), second)
	if _, ok, _ := d.Who(with(d, first), false); ok {
		t.Error("the session before still holds")
	}
	c := w.Result().Cookies()[0]
	if c.Name != "__Host-windrow-session" || !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || len(c.Value) != 43 || c.MaxAge != 0 {
		t.Errorf("cookie %+v", c)
	}
}

func TestWaitsGrow(t *testing.T) {
	d, c, _ := aDoor(t, false)
	try := func(name, password string) time.Duration {
		_, _, err := d.SignIn(context.Background(), name, password, here)
		var refusal *Refusal
		if errors.As(err, &refusal) {
			return refusal.Wait
		}
		return -1
	}
	for _, name := range []string{"ilse", "nobody"} { // whether there is such an account or not
		for range freeTries + 1 {
			if w := try(name, "wrong"); w != 0 {
				t.Errorf("%s waits %v", name, w)
			}
		}
		if w := try(name, good); w != firstWait {
			t.Errorf("%s waits %v, with the right password too", name, w)
		}
		c.on(firstWait)
		if w := try(name, "wrong"); w != 0 {
			t.Errorf("%s still waits %v", name, w)
		}
		if w := try(name, "wrong"); w != 2*firstWait {
			t.Errorf("%s waits %v, want twice as long", name, w)
		}
	}
	if w := try("rolf", good+" rolf"); w != -1 {
		t.Errorf("another account waits %v", w)
	}
	c.on(2 * firstWait)
	if w := try("ilse", good); w != -1 {
		t.Errorf("after the wait: %v", w)
	}
	if w := try("ilse", "wrong"); w != 0 {
		t.Errorf("success did not take the failures back: %v", w)
	}
	c.on(time.Hour)
	longest := time.Duration(0)
	for i := range 60 { // from one address, each time another name
		longest = max(longest, try("name"+strconv.Itoa(i), "wrong"))
	}
	if longest < firstWait {
		t.Error("one address may try name after name")
	}
	c.on(mostWaitHere)
	if w := try("ilse", good); w != -1 {
		t.Errorf("nobody at the address can ever sign in again: %v", w)
	}
}

// Attempts that are made at once count one by one.
func TestManyAtOnce(t *testing.T) {
	d, _, _ := aDoor(t, false)
	var wg sync.WaitGroup
	for range 40 {
		wg.Go(func() { _, _, _ = d.SignIn(context.Background(), "ilse", "wrong", here) })
	}
	wg.Wait()
	if _, failed, delayed := d.Counts(); failed != freeTries+1 || delayed != 40-failed {
		t.Errorf("%d passwords were tried, %d were not", failed, delayed)
	}
}

// Successes leave no wait behind, also of many people at one address.
func TestManyPeopleAtOneAddress(t *testing.T) {
	d, _, _ := aDoor(t, false)
	for i := range 3 * freePlace {
		if _, _, err := d.SignIn(context.Background(), "ilse", good, here); err != nil {
			t.Fatalf("sign-in %d: %v", i, err)
		}
	}
}

func TestDelayForgets(t *testing.T) {
	d := newDelay(1, time.Second, time.Minute)
	now := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	for range 12 {
		now = now.Add(d.begin("a", now))
		d.begin("a", now)
	}
	if w := d.begin("a", now); w != time.Minute {
		t.Errorf("waits %v", w)
	}
	if w := d.begin("a", now.Add(-time.Hour)); w > time.Minute {
		t.Errorf("a clock set back makes it wait %v", w)
	}
	now = now.Add(forgetAfter + time.Second)
	if w := d.begin("a", now); w != 0 {
		t.Errorf("waits %v", w)
	}
	if w := d.begin("a", now); w != 0 {
		t.Errorf("did not forget: %v", w)
	}
	for i := range mostTriers + 10 {
		d.begin(strconv.Itoa(i), now)
	}
	if len(d.by) != mostTriers || d.order.Len() != mostTriers {
		t.Errorf("remembers %d", len(d.by))
	}
}

// An unknown account, one without a password and a disabled one take as long as
// a known one: for each, one hash is worked out, at the cost that windrow user
// writes. (A clock would tell it no better, and on a busy machine worse.)
func TestEqualTime(t *testing.T) {
	_, _, path := aDoor(t, false)
	l, _, _ := ReadList(path)
	var err error
	if l.User("ilse").Password, err = Standard.Hash(good); err != nil {
		t.Fatal(err)
	}
	l.User("gone").Password = l.User("ilse").Password
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	d, err := NewDoor(Options{Users: path, Idle: time.Hour, Longest: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"ilse", "nobody", "ada", "gone", "", "ilse\x00"} {
		var tried []Cost
		d.matches = func(hash, password string) bool {
			h, err := parseHash(hash)
			if err != nil || password != "wrong" {
				t.Errorf("%q: %q is tried with %q (%v)", name, hash, password, err)
			}
			tried = append(tried, h.cost)
			return Matches(hash, password)
		}
		var refusal *Refusal
		if _, _, err := d.SignIn(context.Background(), name, "wrong", here); !errors.As(err, &refusal) || *refusal != (Refusal{}) {
			t.Errorf("%q: %v", name, err)
		}
		if len(tried) != 1 || tried[0] != Standard {
			t.Errorf("%q: worked out %v, want one of %v", name, tried, Standard)
		}
	}
}

func TestWhereARequestComesFrom(t *testing.T) {
	d, _, _ := aDoor(t, false, netip.MustParsePrefix("10.0.0.0/24"), netip.MustParsePrefix("127.0.0.1/32"))
	for _, x := range []struct {
		remote, forwarded, want string
		proxied                 bool
	}{
		{"192.0.2.7:1", "", "192.0.2.7", false},
		{"192.0.2.7:1", "198.51.100.1", "192.0.2.7", false}, // a stranger's word
		{"10.0.0.5:1", "198.51.100.1", "198.51.100.1", true},
		{"10.0.0.5:1", "203.0.113.9, 198.51.100.1", "198.51.100.1", true},
		{"10.0.0.5:1", "198.51.100.1, 10.0.0.6", "198.51.100.1", true},
		{"10.0.0.5:1", "oops", "10.0.0.5", true},
		{"10.0.0.5:1", "198.51.100.1, oops, 10.0.0.6", "10.0.0.6", true},
		{"[::ffff:10.0.0.5]:1", "2001:db8::1", "2001:db8::1", true},
		{"oops", "", "invalid IP", false},
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = x.remote
		if x.forwarded != "" {
			r.Header.Set("X-Forwarded-For", x.forwarded)
		}
		if got, proxied := d.From(r); got.String() != x.want || proxied != x.proxied {
			t.Errorf("%+v: %v %v", x, got, proxied)
		}
	}
	if a, b := neighbours(netip.MustParseAddr("2001:db8::1")), neighbours(netip.MustParseAddr("2001:db8::ffff:2")); a != b {
		t.Errorf("%s and %s", a, b)
	}
	if a, b := neighbours(netip.MustParseAddr("::ffff:192.0.2.7")), neighbours(here); a != b {
		t.Errorf("%s and %s", a, b)
	}
}

func TestDoorWithoutUsers(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"missing": "", "empty": "users: []\n", "faulty": "users: 7\n"} {
		path := filepath.Join(dir, name)
		if text != "" {
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := NewDoor(Options{Users: path}); err == nil {
			t.Errorf("%s: opened", name)
		}
	}
}
