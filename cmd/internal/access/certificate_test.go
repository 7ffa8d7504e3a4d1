package access

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// makePair writes a certificate for desk.example and its key.
func makePair(t *testing.T, dir string, serial int64, until time.Time) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := &x509.Certificate{SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: "desk.example"}, DNSNames: []string{"desk.example"}, NotBefore: time.Now().Add(-48 * time.Hour), NotAfter: until}
	der, err := x509.CreateCertificate(rand.Reader, x, x, k.Public(), k)
	if err != nil {
		t.Fatal(err)
	}
	b, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(dir, "desk.pem"), filepath.Join(dir, "desk.key")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: b}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

func TestCertificateIsRenewed(t *testing.T) {
	dir := t.TempDir()
	cert, key := makePair(t, dir, 1, time.Now().Add(time.Hour))
	c, err := OpenCertificate(cert, key)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Now()
	serial := func() int64 { at = at.Add(lookAtCertificate); return c.get(at).Leaf.SerialNumber.Int64() }
	if got := serial(); got != 1 {
		t.Errorf("serial %d", got)
	}
	if err := os.WriteFile(cert, []byte("half a cert"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := serial(); got != 1 || c.fault == nil {
		t.Errorf("serial %d, fault %v", got, c.fault)
	}
	makePair(t, dir, 2, time.Now().Add(time.Hour))
	if got := serial(); got != 2 {
		t.Errorf("serial %d", got)
	}
	if c.Config().MinVersion != 0x0303 {
		t.Error("TLS below 1.2")
	}
}

func TestCertificatesThatAreNone(t *testing.T) {
	for name, x := range map[string]struct {
		spoil func(t *testing.T, dir, cert, key string)
		want  string
	}{
		"open key": {func(t *testing.T, _, _, key string) { _ = os.Chmod(key, 0o644) }, "chmod 600 desk.key"},
		"no key":   {func(t *testing.T, _, _, key string) { _ = os.Remove(key) }, "can't be read"},
		"another key": {func(t *testing.T, _, _, key string) {
			_, k := makePair(t, t.TempDir(), 3, time.Now().Add(time.Hour))
			if err := os.Rename(k, key); err != nil {
				t.Fatal(err)
			}
		}, "no pair"},
		"too old": {func(t *testing.T, dir, _, _ string) { makePair(t, dir, 4, time.Now().Add(-time.Hour)) }, "no longer valid"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			cert, key := makePair(t, dir, 1, time.Now().Add(time.Hour))
			x.spoil(t, dir, cert, key)
			if _, err := OpenCertificate(cert, key); err == nil || !strings.Contains(err.Error(), x.want) {
				t.Errorf("got %v", err)
			}
		})
	}
}
