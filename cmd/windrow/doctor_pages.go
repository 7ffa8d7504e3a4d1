package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
)

// pages looks at what the pages for other computers take. An office that has
// none of it has nothing to look at.
func (d *doctor) pages(context.Context) {
	d.found = append(d.found, pagesOf(d.cfg, d.now)...)
}

// pagesOf is what there is to say about the list of users, the certificate and
// the log of who saw and changed what, of those that the settings name.
func pagesOf(cfg *config.Config, now time.Time) []symptom {
	if !cfg.SignIn.Used() && !cfg.TLS.Used() {
		return nil
	}
	d := &doctor{cfg: cfg, now: now}
	for _, r := range cfg.CheckPages() {
		d.reason("pages", wrong, r)
	}
	if cfg.TLS.Certificate != "" && cfg.TLS.Key != "" {
		d.certificate()
	}
	if cfg.SignIn.Used() {
		d.users()
		d.accessLog()
	}
	return d.found
}

// soon is how long before its end a certificate should be renewed. Common
// practice, no source: those who renew by themselves do it about then.
const soon = 30 * 24 * time.Hour

func (d *doctor) certificate() {
	c, err := access.OpenCertificate(d.cfg.TLS.Certificate, d.cfg.TLS.Key)
	if err != nil {
		d.reason("certificate", wrong, ingest.AsReason(err))
		return
	}
	leaf := c.Leaf()
	until := leaf.NotAfter.UTC().Format(time.DateOnly)
	host := d.cfg.SignIn.Host()
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	switch {
	case d.now.Before(leaf.NotBefore):
		d.say("certificate", wrong, "it is valid from "+leaf.NotBefore.UTC().Format(time.DateOnly)+" on, and browsers refuse it before", "see the clock, or wait until then")
	case host != "" && leaf.VerifyHostname(host) != nil:
		d.say("certificate", wrong, "it is not for "+host+", by which browsers reach the pages (sign_in.address), and they would refuse it", "get one for that name, or correct sign_in.address")
	case leaf.NotAfter.Sub(d.now) < soon:
		d.say("certificate", attention, "it is valid until "+until+" only", "renew it; a serve that runs takes the new one by itself")
	default:
		d.say("certificate", well, "it fits its key and is valid until "+until, "")
	}
}

func (d *doctor) users() {
	at := d.cfg.SignIn.Users
	l, missing, rs := access.ReadList(at)
	if len(rs) > 0 {
		for _, r := range rs {
			d.reason("users", wrong, r)
		}
		return
	}
	in := 0
	if !missing {
		for _, u := range l.Users() {
			if !u.Disabled && (u.Password != "" || d.cfg.OpenID.Used() && (u.Email != "" || u.Subject != "")) {
				in++
			}
		}
	}
	fi, err := os.Stat(at)
	switch {
	case missing:
		d.say("users", wrong, "there is no list of users "+filepath.Base(at)+", so that nobody can sign in", "windrow user add ACCOUNT --role office")
	case in == 0 && d.cfg.OpenID.RoleClaim == "":
		d.say("users", wrong, "none of the "+plural(len(l.Users()), "user")+" can sign in", "windrow user add, user password or user enable")
	case err == nil && fi.Mode().Perm()&0o007 != 0:
		d.say("users", attention, fmt.Sprintf("every account of this computer may read the hashes of passwords in it (rights %#o)", fi.Mode().Perm()), "chmod 600 "+at)
	default:
		d.say("users", well, plural(in, "user")+" may sign in", "")
	}
}

func (d *doctor) accessLog() {
	at := d.cfg.SignIn.Log
	x, faults, err := access.Verify(at, nil)
	switch fi, serr := os.Stat(at); {
	case len(faults) > 0:
		for _, r := range faults {
			d.reason("access log", wrong, r)
		}
		return
	case errors.Is(serr, fs.ErrNotExist):
		// It is begun when there is something to keep.
	case err != nil:
		d.reason("access log", wrong, ingest.AsReason(err))
		return
	case serr == nil && !fi.Mode().IsRegular():
		d.say("access log", wrong, "it is no file: "+at, "set sign_in.log to the path of a file")
		return
	default:
		f, err := os.OpenFile(at, os.O_WRONLY|os.O_APPEND, 0) // nothing is written
		if err == nil {
			err = f.Close()
		}
		if err != nil {
			d.say("access log", wrong, "it can't be written to, so that no page would be shown: "+ingest.Cause(err), "see the rights of "+at+"; the account that serves must be able to write to it")
			return
		}
	}
	if err := pipeline.Writable(filepath.Dir(at)); err != nil {
		d.say("access log", wrong, "its folder can't be written to, so that no page would be shown: "+ingest.Cause(err), "see the rights of "+filepath.Dir(at))
		return
	}
	if x.Lines == 0 {
		d.say("access log", well, "it has no line yet", "")
		return
	}
	d.say("access log", well, plural(int(x.Lines), "line")+", each chained to the one before", "")
}

// tellPages tells what is amiss with what the pages take, of the settings that
// were checked.
func (e *env) tellPages(cfg *config.Config) error {
	bad := false
	for _, s := range pagesOf(cfg, e.now()) {
		switch s.State {
		case wrong:
			bad = true
			e.complain(s.Check+": "+s.Says, s.Do)
		case attention:
			e.say("windrow: %s: %s; to do: %s", s.Check, s.Says, s.Do)
		}
	}
	if bad {
		return errTold
	}
	return nil
}

// clientFor is what asks a page at a host. Of this computer's own pages it takes
// the certificate that the settings name, which is for another name than that
// by which they are asked here, and no other; for all else what this computer
// trusts.
func clientFor(cfg *config.Config, host string) *http.Client {
	h, _, err := net.SplitHostPort(host)
	if err != nil {
		h = host
	}
	ip := net.ParseIP(h)
	if cfg == nil || !cfg.TLS.Used() || h != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return http.DefaultClient
	}
	b, err := os.ReadFile(cfg.TLS.Certificate)
	if err != nil {
		return http.DefaultClient // the check of the certificate says it
	}
	block, _ := pem.Decode(b)
	if block == nil {
		return http.DefaultClient
	}
	leaf, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return http.DefaultClient
	}
	trust := &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: x509.NewCertPool(), ServerName: h}
	trust.RootCAs.AddCert(leaf)
	switch {
	case len(leaf.DNSNames) > 0:
		trust.ServerName = leaf.DNSNames[0]
	case len(leaf.IPAddresses) > 0:
		trust.ServerName = leaf.IPAddresses[0].String()
	}
	return &http.Client{Transport: &http.Transport{TLSClientConfig: trust, ForceAttemptHTTP2: true}}
}
