package access

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// A Certificate is a certificate with its key, as they stand in their files: a
// renewed one is taken without a new start.
type Certificate struct {
	cert, key string

	mu     sync.Mutex
	now    *tls.Certificate
	looked time.Time
	seen   [2]os.FileInfo
	fault  error // of the latest look; the last good one stays in use
}

// lookAtCertificate is how often the files are looked at, at the most.
const lookAtCertificate = 10 * time.Second

// OpenCertificate reads a certificate and its key, each a PEM file.
func OpenCertificate(cert, key string) (*Certificate, error) {
	c := &Certificate{cert: cert, key: key}
	if err := c.read(); err != nil {
		return nil, err
	}
	return c, nil
}

// read takes what the files hold now.
func (c *Certificate) read() error {
	wrong := func(file, what, found, next string) error {
		return &ingest.Reason{Code: "certificate", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(file)}, What: what, Found: found, Next: next}
	}
	var seen [2]os.FileInfo
	for i, file := range []string{c.cert, c.key} {
		fi, err := os.Stat(file)
		if err != nil {
			return wrong(file, "the certificate of the pages can't be read", ingest.Cause(err), "see tls.certificate and tls.key in windrow.yaml, and the rights of the files")
		}
		seen[i] = fi
	}
	if m := seen[1].Mode().Perm(); m&0o007 != 0 {
		return wrong(c.key, "every account of this computer may use the key of the certificate", fmt.Sprintf("rights %#o", m), "give: chmod 600 "+filepath.Base(c.key))
	}
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil {
		return wrong(c.cert, "the certificate and the key are no pair that can be used", ingest.Cause(err), "see that both are PEM files, the certificate with its chain, and that they belong together")
	}
	if end := pair.Leaf.NotAfter; time.Now().After(end) {
		return wrong(c.cert, "the certificate is no longer valid, and browsers would refuse it", "valid until "+end.UTC().Format(time.DateOnly), "renew it")
	}
	c.now, c.seen = &pair, seen
	return nil
}

// Leaf is the certificate itself, as it was last read.
func (c *Certificate) Leaf() *x509.Certificate {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now.Leaf
}

// Config is how pages are served with the certificate: by TLS 1.2 or 1.3, with
// what crypto/tls holds safe.
func (c *Certificate) Config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.get(time.Now()), nil }}
}

// get is the certificate in force. Files that are being written, or are wrong,
// change nothing.
func (c *Certificate) get(now time.Time) *tls.Certificate {
	c.mu.Lock()
	defer c.mu.Unlock()
	if d := now.Sub(c.looked); d >= 0 && d < lookAtCertificate {
		return c.now
	}
	c.looked = now
	for i, file := range []string{c.cert, c.key} {
		fi, err := os.Stat(file)
		if err != nil {
			break
		}
		if !os.SameFile(fi, c.seen[i]) || !fi.ModTime().Equal(c.seen[i].ModTime()) || fi.Size() != c.seen[i].Size() {
			c.fault = c.read()
			break
		}
	}
	return c.now
}
