package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// pairFor writes a certificate for a name, valid for a while, and a key.
func pairFor(t *testing.T, dir, name string, from, until time.Time) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, DNSNames: []string{name}, NotBefore: from, NotAfter: until}
	der, err := x509.CreateCertificate(rand.Reader, x, x, k.Public(), k)
	if err != nil {
		t.Fatal(err)
	}
	b, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	for file, p := range map[string]*pem.Block{"desk.pem": {Type: "CERTIFICATE", Bytes: der}, "desk.key": {Type: "PRIVATE KEY", Bytes: b}} {
		if err := os.WriteFile(filepath.Join(dir, file), pem.EncodeToMemory(p), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// TestDoctorLooksAtThePages plants each fault in what the pages for other
// computers take; without it the doctor says that all is well.
func TestDoctorLooksAtThePages(t *testing.T) {
	now := time.Now()
	day := 24 * time.Hour
	from := fixedNow().Add(-day) // the clock of the program here
	if now.Before(fixedNow()) {
		from = now.Add(-day)
	}
	file := func(name, text string, mode os.FileMode) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			at := filepath.Join(dir, name)
			_ = os.Remove(at) // there is one in a well office
			if err := os.WriteFile(at, []byte(text), mode); err != nil {
				t.Fatal(err)
			}
			if err := os.Chmod(at, mode); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, x := range map[string]struct {
		spoil              func(*testing.T, string)
		check, state, says string
	}{
		"well":             {nil, "", "", ""},
		"ends soon":        {func(t *testing.T, dir string) { pairFor(t, dir, "desk.example", from, now.Add(20*day)) }, "certificate", attention, "only"},
		"has ended":        {func(t *testing.T, dir string) { pairFor(t, dir, "desk.example", from.Add(-day), from.Add(day/2)) }, "certificate", wrong, "no longer valid"},
		"not yet":          {func(t *testing.T, dir string) { pairFor(t, dir, "desk.example", now.Add(day), now.Add(99*day)) }, "certificate", wrong, "valid from"},
		"for another name": {func(t *testing.T, dir string) { pairFor(t, dir, "else.example", from, now.Add(99*day)) }, "certificate", wrong, "it is not for desk.example"},
		"another key": {func(t *testing.T, dir string) {
			other := t.TempDir()
			pairFor(t, other, "desk.example", now, now.Add(day))
			copyFile(t, filepath.Join(other, "desk.key"), filepath.Join(dir, "desk.key"))
		}, "certificate", wrong, "no pair"},
		"no certificate":       {func(t *testing.T, dir string) { _ = os.Remove(filepath.Join(dir, "desk.pem")) }, "certificate", wrong, "can't be read"},
		"key for all":          {func(t *testing.T, dir string) { _ = os.Chmod(filepath.Join(dir, "desk.key"), 0o644) }, "certificate", wrong, "may use the key"},
		"no users":             {func(t *testing.T, dir string) { _ = os.Remove(filepath.Join(dir, "users.yaml")) }, "users", wrong, "nobody can sign in"},
		"users with a mistake": {file("users.yaml", "users:\n  - account: ilse\n    role: boss\n", 0o600), "users", wrong, "there is no such role"},
		"all disabled":         {func(t *testing.T, dir string) { must(t, exitDone, "user", "disable", "ilse", "--office", dir) }, "users", wrong, "none of the 1 user can sign in"},
		"users for all":        {func(t *testing.T, dir string) { _ = os.Chmod(filepath.Join(dir, "users.yaml"), 0o644) }, "users", attention, "may read the hashes"},
		"log changed": {func(t *testing.T, dir string) {
			at := filepath.Join(dir, "access.jsonl")
			b, err := os.ReadFile(at)
			if err != nil || !strings.Contains(string(b), "versions") {
				t.Fatalf("%v %s", err, b)
			}
			file("access.jsonl", strings.Replace(string(b), "versions", "verzions", 1), 0o600)(t, dir)
		}, "access log", wrong, "changed"},
		"log taken away": {func(t *testing.T, dir string) { _ = os.Remove(filepath.Join(dir, "access.jsonl")) }, "access log", wrong, "taken away"},
		"log a folder": {func(t *testing.T, dir string) {
			for _, p := range []string{"access.jsonl", "access.jsonl.head"} {
				_ = os.Remove(filepath.Join(dir, p))
			}
			_ = os.Mkdir(filepath.Join(dir, "access.jsonl"), 0o750)
		}, "access log", wrong, "can't be read"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			text := "office:\n  name: \"Finch County Soil Desk\"\nlisten: 0.0.0.0:0\nsign_in:\n  users: users.yaml\n  address: https://desk.example\ntls:\n  certificate: desk.pem\n  key: desk.key\n"
			if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			pairFor(t, dir, "desk.example", from, now.Add(99*day))
			addUser(t, dir, "ilse", "--role", "office")
			toldBy(t, "versions", "R0123456789abcdef", "--office", dir) // which is kept in the log
			if x.spoil != nil {
				x.spoil(t, dir)
			}
			d := doctorOf(t, dir)
			d.now = time.Now()
			d.pages(t.Context())
			found := false
			for _, s := range d.found {
				switch {
				case s.State == well && s.Do == "":
				case s.Check == x.check && s.State == x.state && strings.Contains(s.Says, x.says) && s.Do != "":
					found = true
				default:
					t.Errorf("told besides: %+v", s)
				}
			}
			if x.check != "" && !found || x.check == "" && len(d.found) != 3 {
				t.Errorf("not told: %+v", d.found)
			}
			// The check of the settings tells the same.
			want := exitDone
			if x.state == wrong {
				want = exitFailed
			}
			if _, errs, exit := toldBy(t, "config", "check", "--office", dir); exit != want || want == exitFailed && !strings.Contains(errs, x.says) {
				t.Errorf("config check: exit %d\n%s", exit, errs)
			}
		})
	}
}

// TestProbeByHTTPS asks a serve that has a certificate how it is: by the
// certificate that the settings name, and no other.
func TestProbeByHTTPS(t *testing.T) {
	dir := t.TempDir()
	text := "office:\n  name: \"Finch County Soil Desk\"\nlisten: 0.0.0.0:0\nsign_in:\n  users: users.yaml\n  address: https://desk.example\ntls:\n  certificate: desk.pem\n  key: desk.key\n"
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	pairFor(t, dir, "desk.example", time.Now().Add(-time.Hour), time.Now().Add(99*24*time.Hour))
	addUser(t, dir, "ilse", "--role", "office")
	w := startWatching(t, "serve", dir)
	at, err := url.Parse(w.url)
	if err != nil {
		t.Fatal(err)
	}
	here := "https://127.0.0.1:" + at.Port() + "/readyz"
	if out := must(t, exitDone, "doctor", "--office", dir, "--probe", here); !strings.Contains(out, "healthy") {
		t.Error(out)
	}
	t.Setenv("WINDROW_LISTEN", "0.0.0.0:"+at.Port())
	if out, _, _ := toldBy(t, "doctor", "--office", dir); !strings.Contains(out, "it answers at 0.0.0.0:"+at.Port()+" that all is well") {
		t.Errorf("doctor says\n%s", out)
	}
	// Who answers with another certificate is not ours.
	other := t.TempDir()
	pairFor(t, other, "desk.example", time.Now().Add(-time.Hour), time.Now().Add(99*24*time.Hour))
	if err := os.WriteFile(filepath.Join(other, "windrow.yaml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, errs, exit := toldBy(t, "doctor", "--office", other, "--probe", here); exit != exitFailed || !strings.Contains(errs, "certificate") {
		t.Errorf("another certificate: %d %s", exit, errs)
	}
	w.stop(t)
	if _, errs, exit := toldBy(t, "doctor", "--office", dir, "--probe", here); exit != exitFailed || !strings.Contains(errs, "no watch answers") {
		t.Errorf("nobody answers: %d %s", exit, errs)
	}
}
