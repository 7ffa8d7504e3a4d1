package main

import (
	"crypto/tls"
	"errors"
	"fmt"
	"os"
	"strings"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
)

// An entrance is how people come to the pages of an office. Its zero value is
// that of an office where nobody signs in.
type entrance struct {
	door *access.Door
	log  *access.Log
	tls  *tls.Config // nil for none
	host string
}

// openEntrance opens it as the settings say, or says why it can't be.
func (e *env) openEntrance(cfg *config.Config) (*entrance, error) {
	if rs := cfg.CheckPages(); len(rs) > 0 {
		return nil, asError(rs)
	}
	in := &entrance{host: cfg.SignIn.Host()}
	if cfg.TLS.Used() {
		c, err := access.OpenCertificate(cfg.TLS.Certificate, cfg.TLS.Key)
		if err != nil {
			return nil, err
		}
		in.tls = c.Config()
	}
	if !cfg.SignIn.Used() {
		return in, nil
	}
	proxies, err := cfg.SignIn.ProxyPrefixes()
	if err != nil {
		return nil, err
	}
	opt := access.Options{Users: cfg.SignIn.Users, Idle: cfg.SignIn.Idle, Longest: cfg.SignIn.Longest, Secure: cfg.TLS.Used() || len(proxies) > 0, Proxies: proxies}
	if cfg.OpenID.Used() {
		secret, err := secretIn(cfg.OpenID.SecretFile)
		if err != nil {
			return nil, err
		}
		opt.Provider = &access.ProviderOptions{Issuer: cfg.OpenID.Issuer, Client: cfg.OpenID.Client, Secret: secret, Return: strings.TrimSuffix(cfg.SignIn.Address, "/") + "/sign-in/return", RoleClaim: cfg.OpenID.RoleClaim, OfficeClaim: cfg.OpenID.OfficeClaim}
	}
	if in.door, err = access.NewDoor(opt); err != nil {
		return nil, err
	}
	in.log, err = access.OpenLog(cfg.SignIn.Log, e.now)
	return in, err
}

// secretIn is the secret that a file holds; "" without a file. Its path is
// shown to nobody, as that of other secrets.
func secretIn(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	wrong := func(what, found, next string) error {
		return &ingest.Reason{Code: "openid-secret", Severity: ingest.Fail, Where: ingest.Place{File: config.FileName}, What: what, Found: found, Next: next}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return "", wrong("the file of openid.secret_file can't be read", ingest.Cause(err), "see its path and its rights")
	}
	if fi, err := os.Stat(path); err == nil && fi.Mode().Perm()&0o007 != 0 {
		return "", wrong("every account of this computer may read the file of openid.secret_file", fmt.Sprintf("rights %#o", fi.Mode().Perm()), "give: chmod 600, and the name of the file")
	}
	secret := strings.TrimRight(string(b), "\r\n")
	if secret == "" || len(secret) > 4096 || strings.ContainsAny(secret, "\r\n") {
		return "", wrong("the file of openid.secret_file does not hold one secret on one line", "", "put the client's secret into it, and nothing else")
	}
	return secret, nil
}

// Close brings the log to the disk.
func (in *entrance) Close() error {
	if in == nil {
		return nil
	}
	return errors.Join(in.log.Close())
}
