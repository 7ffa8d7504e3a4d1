package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

const goodPassword = "copper lantern fig ninety"

// deskPair writes a certificate for this computer into a folder, and gives the
// pool that trusts it.
func deskPair(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "desk.example"}, DNSNames: []string{"desk.example", "localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, x, x, k.Public(), k)
	if err != nil {
		t.Fatal(err)
	}
	b, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	cert := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for name, text := range map[string][]byte{"desk.pem": cert, "desk.key": pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: b})} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(cert)
	return pool
}

// addUser adds a user by the command.
func addUser(t *testing.T, dir string, args ...string) {
	t.Helper()
	cmd := program(t, append([]string{"user", "add", "--office", dir}, args...)...)
	cmd.Stdin = strings.NewReader(goodPassword + "\n")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// TestServeForOthers has the program serve its pages to other computers: not
// before everything is there that this takes, and then by TLS to those alone
// who sign in.
func TestServeForOthers(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	settings, err := os.ReadFile(filepath.Join(dir, "windrow.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	set := func(more string) {
		t.Helper()
		text := strings.Replace(string(settings), "listen: 127.0.0.1:0\n", "listen: 0.0.0.0:0\n"+more, 1)
		if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	const tlsPair = "tls:\n  certificate: desk.pem\n  key: desk.key\n"
	for _, x := range []struct{ more, want string }{
		{"", "nobody would have to sign in"},
		{tlsPair, "nobody would have to sign in"},
		{"sign_in:\n  users: users.yaml\n", "for everybody to read"},
		{"sign_in:\n  users: users.yaml\n" + tlsPair, "by which address browsers reach"},
		{"sign_in:\n  users: users.yaml\n  address: https://desk.example\n" + tlsPair, "certificate of the pages can't be read"},
	} {
		set(x.more)
		if out, errs, code := toldBy(t, "serve", "--office", dir); code != exitFailed || !strings.Contains(errs, x.want) || !strings.Contains(errs, "next ") {
			t.Errorf("with\n%s exit %d\n%s%s", x.more, code, out, errs)
		}
	}
	pool := deskPair(t, dir)
	if out, errs, code := toldBy(t, "serve", "--office", dir); code != exitFailed || !strings.Contains(errs, "windrow user add ACCOUNT") {
		t.Errorf("without users: exit %d\n%s%s", code, out, errs)
	}
	addUser(t, dir, "ilse", "--role", "office", "--called", "Ilse Marrow")
	addUser(t, dir, "ada", "--role", "researcher")
	w := startWatching(t, "serve", dir)
	if !strings.HasPrefix(w.url, "https://") {
		t.Fatalf("served at %s", w.url)
	}
	at, err := url.Parse(w.url)
	if err != nil {
		t.Fatal(err)
	}
	base := "https://localhost:" + at.Port()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	trusting := &tls.Config{RootCAs: pool}
	client := &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: trusting, ForceAttemptHTTP2: true}}
	// ask gives the code, the page, and the path that it is of in the end.
	ask := func(req *http.Request, err error) (code int, page, path string) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		resp, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		if resp.TLS == nil || resp.TLS.Version < tls.VersionTLS12 || resp.ProtoMajor != 2 || resp.StatusCode < http.StatusBadRequest && resp.Header.Get("Strict-Transport-Security") == "" {
			t.Errorf("%s: %v by %s, %v", req.URL, resp.TLS, resp.Proto, resp.Header)
		}
		return resp.StatusCode, string(b), resp.Request.URL.Path
	}
	// Without TLS, and with one that is too old, there is nothing.
	if resp, err := http.Get("http://localhost:" + at.Port() + "/"); err == nil {
		resp.Body.Close()
		if resp.StatusCode != http.StatusBadRequest {
			t.Errorf("by http: %d", resp.StatusCode)
		}
	}
	if conn, err := tls.Dial("tcp", "localhost:"+at.Port(), &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}); err == nil {
		conn.Close()
		t.Error("TLS 1.1 is spoken")
	}
	code, page, path := ask(http.NewRequest(http.MethodGet, base+"/", nil))
	if code != http.StatusOK || path != "/sign-in" {
		t.Fatalf("%d at %s\n%s", code, path, page)
	}
	m := regexp.MustCompile(`name="form" value="([0-9a-f]+)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatal(page)
	}
	in := func(account, password string) (int, string, string) {
		t.Helper()
		req, err := http.NewRequest(http.MethodPost, base+"/sign-in", strings.NewReader(url.Values{"form": {m[1]}, "to": {"/reports"}, "name": {account}, "password": {password}}.Encode()))
		if err == nil {
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			req.Header.Set("Origin", base)
		}
		return ask(req, err)
	}
	if code, page, _ := in("ilse", "not the password at all"); code != http.StatusForbidden {
		t.Errorf("%d %s", code, page)
	}
	if code, page, path := in("ilse", goodPassword); code != http.StatusOK || path != "/reports" || !strings.Contains(page, "Ilse Marrow") {
		t.Fatalf("%d at %s\n%s", code, path, page)
	}
	if code, page, _ := ask(http.NewRequest(http.MethodGet, base+"/metrics", nil)); code != http.StatusOK || !strings.Contains(page, `windrow_sign_ins_total{outcome="failed"} 1`) || !strings.Contains(page, `windrow_sign_ins_total{outcome="ok"} 1`) || strings.Contains(page, "ilse") {
		t.Errorf("metrics: %d", code)
	}
	// Under a borrowed name, and as a user who is disabled meanwhile.
	req, err := http.NewRequest(http.MethodGet, base+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = "elsewhere.example"
	if code, _, _ := ask(req, nil); code != http.StatusForbidden {
		t.Errorf("under a borrowed name: %d", code)
	}
	must(t, exitDone, "user", "disable", "ilse", "--office", dir)
	w.until(t, 10*time.Second, "the user is out", func() bool {
		_, _, path := ask(http.NewRequest(http.MethodGet, base+"/", nil))
		return path == "/sign-in"
	})
	w.stop(t)
	for _, s := range []string{w.out.String(), w.errs.String()} {
		if strings.Contains(s, goodPassword) || strings.Contains(s, "argon2") || strings.Contains(s, "not the password") {
			t.Errorf("a secret was told:\n%s", s)
		}
	}
	if !strings.Contains(w.errs.String(), "a sign-in failed") {
		t.Errorf("a failed sign-in is not in the log:\n%s", w.errs.String())
	}
	out, errs, code := toldBy(t, "access", "verify", "--office", dir)
	if code != exitDone || !strings.Contains(errs, "chained to the one before") {
		t.Errorf("exit %d\n%s%s", code, out, errs)
	}
	kept := strings.TrimSpace(out)
	if out, _, code := toldBy(t, "access", "list", "--office", dir, "--user", "ilse"); code != exitDone || !strings.Contains(out, "signed in") || !strings.Contains(out, "GET /reports") {
		t.Errorf("exit %d\n%s", code, out)
	}
	// A log that somebody wrote anew, head and all, is told by what was kept.
	path = filepath.Join(dir, "access.jsonl")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, bytes.Replace(b, []byte("ilse"), []byte("rolf"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := toldBy(t, "access", "verify", "--office", dir); code != exitFailed || !strings.Contains(errs, "access-log-changed") {
		t.Errorf("exit %d\n%s", code, errs)
	}
	for _, p := range []string{path, path + ".head"} {
		if err := os.Remove(p); err != nil {
			t.Fatal(err)
		}
	}
	w = startWatching(t, "serve", dir)
	w.stop(t)
	if _, errs, code := toldBy(t, "access", "verify", "--office", dir, "--reaches", kept); code != exitFailed || !strings.Contains(errs, "kept elsewhere") {
		t.Errorf("exit %d\n%s", code, errs)
	}
	// A watch, which has no pages, is at this computer alone all the same.
	w = startWatching(t, "watch", dir)
	if !strings.HasPrefix(w.url, "http://127.0.0.1:") {
		t.Errorf("a watch answers at %s", w.url)
	}
	w.stop(t)
}
