package main

import (
	"crypto/tls"
	"errors"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/config"
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
	if in.door, err = access.NewDoor(opt); err != nil {
		return nil, err
	}
	in.log, err = access.OpenLog(cfg.SignIn.Log, e.now)
	return in, err
}

// Close brings the log to the disk.
func (in *entrance) Close() error {
	if in == nil {
		return nil
	}
	return errors.Join(in.log.Close())
}
