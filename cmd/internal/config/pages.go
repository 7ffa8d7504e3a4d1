package config

import (
	"net"
	"net/netip"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// SignIn says who may use the pages. Without a list of users nobody signs in,
// and the pages are for this computer alone.
type SignIn struct {
	Users   string        `mapstructure:"users"`   // the list of users, "" for none
	Address string        `mapstructure:"address"` // by which browsers reach the pages, with https://
	Proxies string        `mapstructure:"proxies"` // addresses of proxies in front, parted by commas
	Idle    time.Duration `mapstructure:"idle"`    // after which an unused session ends
	Longest time.Duration `mapstructure:"longest"` // after which every session ends
	Log     string        `mapstructure:"log"`     // who saw and changed what
}

// Used reports whether people sign in.
func (s SignIn) Used() bool { return s.Users != "" }

// Host is the host of the address by which browsers reach the pages, with its
// port where it has one; "" where no address is set.
func (s SignIn) Host() string {
	u, err := url.Parse(s.Address)
	if err != nil {
		return ""
	}
	return u.Host
}

// ProxyPrefixes are the addresses of the proxies in front.
func (s SignIn) ProxyPrefixes() ([]netip.Prefix, error) {
	var out []netip.Prefix
	for _, x := range strings.Split(s.Proxies, ",") {
		if x = strings.TrimSpace(x); x == "" {
			continue
		}
		p, err := netip.ParsePrefix(x)
		if err != nil {
			a, aerr := netip.ParseAddr(x)
			if aerr != nil {
				return nil, aerr
			}
			p = netip.PrefixFrom(a, a.BitLen())
		}
		out = append(out, p.Masked())
	}
	return out, nil
}

// TLS is the certificate with which the pages are served.
type TLS struct {
	Certificate string `mapstructure:"certificate"` // PEM file, the chain in order
	Key         string `mapstructure:"key"`         // PEM file
}

// Used reports whether the pages are served by TLS.
func (t TLS) Used() bool { return t.Certificate != "" && t.Key != "" }

// OpenID is a provider that vouches for people.
type OpenID struct {
	Issuer      string `mapstructure:"issuer"`       // its address, "" for none
	Client      string `mapstructure:"client"`       // what it knows this desk by
	SecretFile  string `mapstructure:"secret_file"`  // file of the secret of that, "" for none
	RoleClaim   string `mapstructure:"role_claim"`   // claim that holds the role, "" where the list of users has it
	OfficeClaim string `mapstructure:"office_claim"` // claim that holds the office, for the role office
}

// Used reports whether there is a provider.
func (o OpenID) Used() bool { return o.Issuer != "" }

// validateListen refuses every address that another computer could reach,
// unless people sign in there and nobody on the way can read along.
func (c *Config) validateListen() []complaint {
	s := c.Listen
	host, port, bad := splitListen(s)
	if bad {
		return []complaint{{"listen", "setting-wrong", "this is not an address to listen on", "an address such as 127.0.0.1:8470", quoted(s), "write the address, a colon and the number of the port"}}
	}
	if isLoopback(host) {
		return nil
	}
	wrong := func(code, what, expected, next string) []complaint {
		return []complaint{{"listen", code, what, expected, quoted(s), next + "; or write 127.0.0.1:" + port + " for this computer alone"}}
	}
	switch {
	case !c.SignIn.Used():
		return wrong("listen-not-loopback", "other computers could reach this address, and nobody would have to sign in to see clients' names", "127.0.0.1, ::1 or localhost, with a port; or people who sign in",
			"name a list of users (sign_in.users: users.yaml), fill it with windrow user add, and give a certificate (tls.certificate, tls.key)")
	case !c.TLS.Used() && strings.TrimSpace(c.SignIn.Proxies) == "":
		return wrong("listen-without-tls", "passwords and clients' names would go over the network for everybody to read", "a certificate and its key (tls.certificate and tls.key), or the address of a proxy that has them (sign_in.proxies)", "give one of these")
	case c.SignIn.Address == "":
		return wrong("listen-without-address", "it is not said by which address browsers reach the pages, so that a request under a borrowed name could not be told from another", "an address such as https://soil.office.example:8470", "set sign_in.address")
	}
	return nil
}

func splitListen(s string) (host, port string, bad bool) {
	host, port, err := net.SplitHostPort(s)
	n, ok := wholeNumber(port)
	return host, port, err != nil || !ok || n > 65535
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// validate checks each of the settings by itself.
func (s SignIn) validate() []complaint {
	var out []complaint
	if s.Address != "" {
		u, err := url.Parse(s.Address)
		switch {
		case err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" || u.User != nil || u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "":
			out = append(out, complaint{"sign_in.address", "setting-wrong", "this is not the address of a desk", "a scheme, a name and perhaps a port, such as https://soil.office.example:8470", quoted(s.Address), "write it without anything behind"})
		case u.Scheme == "http" && !isLoopback(u.Hostname()):
			out = append(out, complaint{"sign_in.address", "setting-wrong", "browsers of other computers must come by https", "an address with https://", quoted(s.Address), "write https:// in front"})
		}
	}
	if _, err := s.ProxyPrefixes(); err != nil {
		out = append(out, complaint{"sign_in.proxies", "setting-wrong", "this is not a list of addresses of proxies", "addresses or networks, parted by commas, such as 10.0.0.5, 10.1.0.0/16", quoted(s.Proxies), "write addresses in numbers"})
	}
	if s.Idle > s.Longest {
		out = append(out, complaint{"sign_in.idle", "setting-wrong", "a session would end before it could be idle for so long", "at most sign_in.longest, " + short(s.Longest), short(s.Idle), "make it shorter, or sign_in.longest longer"})
	}
	return out
}

func (o OpenID) validate() []complaint {
	if o.Issuer == "" {
		return nil
	}
	u, err := url.Parse(o.Issuer)
	if err != nil || u.Host == "" || u.User != nil || u.Scheme != "https" && (u.Scheme != "http" || !isLoopback(u.Hostname())) {
		return []complaint{{"openid.issuer", "setting-wrong", "this is not the address of an OpenID provider", "an address such as https://login.office.example", quoted(o.Issuer), "write the issuer as the provider states it"}}
	}
	return nil
}

// CheckPages says what is wrong with the settings of the pages beside each
// other: it matters to what serves the pages, and to nothing else.
func (c *Config) CheckPages() []*ingest.Reason {
	var out []*ingest.Reason
	add := func(key, what, expected, next string) {
		where := c.from[key].place()
		if where.IsZero() {
			where = ingest.Place{File: filepath.Base(c.File())}
		}
		out = append(out, &ingest.Reason{Code: "settings-apart", Severity: ingest.Fail, Where: where, What: what, Expected: expected, Next: next})
	}
	if (c.TLS.Certificate == "") != (c.TLS.Key == "") {
		key, other := "tls.certificate", "tls.key"
		if c.TLS.Certificate == "" {
			key, other = other, key
		}
		add(key, "a certificate and its key go together, and there is only one of them", "tls.certificate and tls.key", "set "+other+", too")
	}
	if !c.SignIn.Used() {
		if c.Engine.Used() {
			add("engine.database", "the archive of the central engine has the records of other offices too, and nobody would have to sign in to see them on the pages", "a list of users under sign_in.users", "set sign_in.users, and add who works here: windrow user add ACCOUNT --role office")
		}
		for _, x := range []struct {
			key string
			set bool
		}{{"sign_in.address", c.SignIn.Address != ""}, {"sign_in.proxies", c.SignIn.Proxies != ""}, {"openid.issuer", c.OpenID.Used()}} {
			if x.set {
				add(x.key, x.key+" is set, and nobody signs in", "a list of users under sign_in.users, which may be one without passwords", "set sign_in.users, or take the line out")
			}
		}
		return out
	}
	if c.OpenID.Used() {
		switch {
		case c.SignIn.Address == "":
			add("openid.issuer", "the provider must be told where to send people back to, and no address of the desk is set", "an address under sign_in.address", "set sign_in.address")
		case c.OpenID.Client == "":
			add("openid.issuer", "the provider must be told which desk asks, and openid.client is not set", "the client id that the provider gave", "set openid.client")
		}
	}
	if u, err := url.Parse(c.SignIn.Address); err == nil && u.Scheme == "http" && (c.TLS.Used() || c.SignIn.Proxies != "") {
		add("sign_in.address", "the pages are reached by TLS, and their address begins with http://", "an address with https://", "write https:// in front")
	} else if err == nil && u.Scheme == "https" && !c.TLS.Used() && c.SignIn.Proxies == "" {
		add("sign_in.address", "the address of the pages begins with https://, and there is neither a certificate nor a proxy", "tls.certificate and tls.key, or sign_in.proxies", "give one of these")
	}
	return out
}

// ListenHere is the address of listen on this computer alone: where it is one
// that others may reach, the same port on the loopback.
func (c *Config) ListenHere() string {
	host, port, bad := splitListen(c.Listen)
	if bad || isLoopback(host) {
		return c.Listen
	}
	return net.JoinHostPort("127.0.0.1", port)
}
