package access

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func mustHash(t *testing.T, password string) string {
	t.Helper()
	s, err := quick.Hash(password)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestListComesBack(t *testing.T) {
	path := filepath.Join(t.TempDir(), "users.yaml")
	l, missing, rs := ReadList(path)
	if !missing || len(rs) > 0 || len(l.Users()) != 0 {
		t.Fatalf("a file that is not there: %v %v", missing, rs)
	}
	want := []User{
		{Account: "ilse", Called: "Ilse \"the\" Marrow: <yes> & no", Role: Office, Office: "Alderbrook County: Soil # Desk", Email: "ilse@office.example", Password: mustHash(t, "x")},
		{Account: "no", Role: Steward, Subject: "248289761001", Disabled: true},
		{Account: "yes.2", Called: "José Ñandú", Role: Researcher},
	}
	for _, u := range want {
		if rs := l.Add(u); len(rs) > 0 {
			t.Fatal(rs)
		}
	}
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	if fi, err := os.Stat(path); err != nil || fi.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", fi, err)
	}
	back, _, rs := ReadList(path)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	for _, w := range want {
		got := back.User(w.Account)
		if got == nil {
			t.Fatalf("%s has gone", w.Account)
		}
		g := *got
		g.Spot = w.Spot
		if g.Account != w.Account || g.Called != w.Called || g.Role != w.Role || g.Office != w.Office || g.Email != w.Email || g.Subject != w.Subject || g.Password != w.Password || g.Disabled != w.Disabled {
			t.Errorf("got %+v, want %+v", g, w)
		}
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

func TestListThatAnotherOneChanged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "users.yaml")
	one, _, _ := ReadList(path)
	two, _, _ := ReadList(path)
	for _, l := range []*List{one, two} {
		if rs := l.Add(User{Account: "ilse", Role: Steward}); len(rs) > 0 {
			t.Fatal(rs)
		}
	}
	if err := one.Write(); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(path)
	if err := two.Write(); err == nil || !strings.Contains(err.Error(), "users-changed") {
		t.Errorf("got %v", err)
	}
	if after, _ := os.ReadFile(path); string(after) != string(before) {
		t.Error("the list was replaced all the same")
	}
}

func TestFaultyLists(t *testing.T) {
	hash := mustHash(t, "x")
	for _, x := range []struct{ text, want string }{
		{"", "users.yaml:1"},
		{"users:\n  - account: ilse\n    role: boss\n", "users.yaml:3:11"},
		{"users:\n  - account: Ilse Marrow\n    role: steward\n", "small letters"},
		{"users:\n  - account: ilse\n", "lacks the key \"role\""},
		{"users:\n  - role: steward\n", "lacks the key \"account\""},
		{"users:\n  - account: ilse\n    role: office\n", "needs the name of the office"},
		{"users:\n  - account: ilse\n    role: steward\n    office: A\n", "only a person of an office has one"},
		{"users:\n  - account: ilse\n    role: steward\n    password: hunter2\n", "users.yaml:4:15"},
		{"users:\n  - account: ilse\n    role: steward\n    passwort: \"" + hash + "\"\n", "did you mean"},
		{"users:\n  - account: ilse\n    role: steward\n    email: nobody\n", "not an e-mail address"},
		{"users:\n  - account: ilse\n    role: steward\n  - account: ilse\n    role: researcher\n", "users.yaml:4:14"},
		{"users:\n  - account: a\n    role: steward\n    email: x@y.example\n  - account: b\n    role: researcher\n    email: X@y.example\n", "the same email"},
		{"users:\n  - account: a\n    role: steward\n    subject: s\n  - account: b\n    role: researcher\n    subject: s\n", "the same subject"},
		{"users:\n  - &a\n    account: a\n    role: steward\n  - *a\n", "users.yaml"},
		{"users:\n  - account: a\n    role: steward\n    disabled: maybe\n", "users.yaml:4"},
		{"users:\n  - account: a\n    role: steward\n    called: \"two\\nlines\"\n", "one line"},
		{"users: []\nadmins: []\n", "users.yaml:2"},
	} {
		l, rs := ParseList("users.yaml", []byte(x.text))
		if l != nil || len(rs) == 0 {
			t.Errorf("taken:\n%s", x.text)
			continue
		}
		all := ""
		for _, r := range rs {
			all += r.Error() + "\n"
			if r.Next == "" || r.Where.IsZero() {
				t.Errorf("without a place or what to do: %v", r)
			}
		}
		if !strings.Contains(all, x.want) {
			t.Errorf("got\n%swant %q of\n%s", all, x.want, x.text)
		}
		if strings.Contains(all, "hunter2") {
			t.Errorf("a password is shown:\n%s", all)
		}
	}
}
