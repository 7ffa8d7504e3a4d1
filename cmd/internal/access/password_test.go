package access

import (
	"strings"
	"testing"
)

// quick is a cost for tests: the least that Argon2 allows.
var quick = Cost{Time: 1, Memory: 8, Threads: 1}

// The hashes of the reference implementation of Argon2: lines of Argon2id in
// its src/test.c, version 20190702, from memory; they were computed by another
// program than ours, so that agreement by chance is out of the question.
func TestHashOfTheReference(t *testing.T) {
	for _, x := range []struct{ password, salt, want string }{
		{"password", "somesalt", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"},
		{"password", "somesalt", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"},
		{"password", "somesalt", "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc"},
	} {
		h, err := parseHash(x.want)
		if err != nil {
			t.Fatalf("%s: %v", x.want, err)
		}
		h.tag = h.of(x.password, len(h.tag))
		if got := h.String(); got != x.want {
			t.Errorf("got %s, want %s", got, x.want)
		}
		if !Matches(x.want, x.password) || Matches(x.want, x.password+" ") {
			t.Errorf("%s matches another password than its own", x.want)
		}
	}
}

// RFC 9106, section 4: the second recommended choice, with a salt of 128 bits
// and a tag of 256.
func TestStandardCost(t *testing.T) {
	if Standard != (Cost{Time: 3, Memory: 65536, Threads: 4}) {
		t.Errorf("got %+v", Standard)
	}
	s, err := Standard.Hash("four unlike words here")
	if err != nil {
		t.Fatal(err)
	}
	h, err := parseHash(s)
	if err != nil || len(h.salt) != 16 || len(h.tag) != 32 || !strings.HasPrefix(s, "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Errorf("%s: %v", s, err)
	}
	again, err := Standard.Hash("four unlike words here")
	if err != nil || again == s {
		t.Errorf("two hashes of one password are alike (%v)", err)
	}
	if !Matches(s, "four unlike words here") || Matches(s, "Four unlike words here") {
		t.Error("matches another password than its own")
	}
}

// One letter is the same letter, whether a keyboard makes it of one character
// or of two.
func TestPasswordInNFC(t *testing.T) {
	s, err := quick.Hash("cafe\u0301 del sen\u0303or")
	if err != nil || !Matches(s, "café del señor") {
		t.Errorf("not the same (%v)", err)
	}
}

func TestHashesThatAreNone(t *testing.T) {
	good, err := quick.Hash("x")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseHash(good); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"", "secret", "$2y$10$abcdefghijklmnopqrstuv", strings.Replace(good, "argon2id", "argon2i", 1), strings.Replace(good, "v=19", "v=16", 1),
		strings.Replace(good, "m=8", "m=7", 1), strings.Replace(good, "m=8", "m=08", 1), strings.Replace(good, "m=8", "m=2097152", 1), strings.Replace(good, "t=1", "t=0", 1), strings.Replace(good, "t=1", "t=99999", 1),
		strings.Replace(good, "p=1", "p=0", 1), strings.Replace(good, ",p=1", "", 1), good + "=", good + "$", good[:len(good)-40], good[1:]} {
		if _, err := parseHash(s); err == nil {
			t.Errorf("taken: %s", s)
		}
		if Matches(s, "x") {
			t.Errorf("matches: %s", s)
		}
	}
}

func TestWeakPasswords(t *testing.T) {
	words := []string{"ilse.marrow", "Ilse Marrow", "Alderbrook County Soil Desk"}
	for _, s := range []string{"", "tiny", "fourteen chars", "aaaaaaaaaaaaaaaaaaaa", "abababababababababab", "passwordpassword", "Passw0rdPassw0rd!", "qwertyuiopasdfghjkl", "1234567890123456",
		"abcdefghijklmnopq", "ilse.marrow.2026", "Ilse-Marrow-Ilse-Marrow", "alderbrook county soil desk", "windrow windrow windrow", "correct horse battery staple", "P@ssword1234567890",
		"zebra7zebra7zebra7zebra7", strings.Repeat("x y z w v u ", 30), "tab\tin the middle of it", "\xff\xfe not text at all here"} {
		if r := Weak(s, words...); r == nil {
			t.Errorf("taken: %q", s)
		} else if r.What == "" || r.Next == "" || s != "" && strings.Contains(r.Error(), s) {
			t.Errorf("%q: not said why, or shown: %v", s, r)
		}
	}
	for _, s := range []string{"copper lantern fig ninety", "vt7%Kq!mzR2wLp0", "ein Löffel voll Teer am Abend", "plough the marsh at dusk", "三毛猫は朝の海辺で静かに本を読んでいる"} {
		if r := Weak(s, words...); r != nil {
			t.Errorf("%q: refused: %v", s, r)
		}
	}
}
