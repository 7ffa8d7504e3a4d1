package metrics

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// A Health tells whether the program does its work. Reasons are sentences
// without names of clients or files.
type Health struct {
	Healthy bool     `json:"healthy"`
	Reasons []string `json:"reasons"` // empty when healthy
}

// Pages are the paths that [Handler] and [Open] answer.
var Pages = []string{"/metrics", "/healthz", "/readyz", "/livez"}

// Handler answers what [Open] answers, to this computer only: requests that
// name another host are refused, so that a page in someone's browser cannot
// reach it by a borrowed name.
func Handler(g prometheus.Gatherer, health, ready func() Health) http.Handler {
	open := Open(g, health, ready)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		if !loopback(host) {
			http.Error(w, "this address answers to this computer only", http.StatusForbidden)
			return
		}
		open.ServeHTTP(w, r)
	})
}

// Open answers /metrics from g, and as JSON with 200 or 503: /healthz, whether
// the work goes on as it should, for who is called at night; /readyz, whether
// files can be taken now, for who starts and replaces programs; and /livez,
// which is always well while the program answers at all, since nothing that
// /healthz finds is mended by a restart. A nil function is always well. No
// answer holds a name of a client or a file, so that other computers may see
// it.
func Open(g prometheus.Gatherer, health, ready func() Health) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(g, promhttp.HandlerOpts{
		MaxRequestsInFlight: 4, Timeout: 10 * time.Second}))
	mux.Handle("GET /healthz", answer(health))
	mux.Handle("GET /readyz", answer(ready))
	mux.Handle("GET /livez", answer(nil))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		mux.ServeHTTP(w, r)
	})
}

// answer says as JSON what a function says; nil always is well.
func answer(health func() Health) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		h := Health{Healthy: true}
		if health != nil {
			h = health()
		}
		// Ill without a word why would help nobody at night.
		if !h.Healthy && len(h.Reasons) == 0 {
			h.Reasons = []string{"no reason was given"}
		}
		if h.Reasons == nil {
			h.Reasons = []string{}
		}
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Cache-Control", "no-store")
		if !h.Healthy {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		e := json.NewEncoder(w)
		e.SetEscapeHTML(false)
		_ = e.Encode(h) // the one who asked has gone: there is nobody to tell
	})
}

func loopback(host string) bool {
	if n := len(host); n > 2 && host[0] == '[' && host[n-1] == ']' {
		host = host[1 : n-1]
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// A Server serves a handler on an address of this computer.
type Server struct {
	srv  *http.Server
	ln   net.Listener
	done chan error
}

// Start listens on addr and serves h in the background. It returns once the
// address is taken, so that an address in use is an error here and now, and
// ErrNotLoopback for an address that another computer could reach. Port 0
// takes a free one; see Addr.
func Start(addr string, h http.Handler) (*Server, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, err
	}
	if !loopback(host) {
		return nil, ErrNotLoopback
	}
	ln, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, err
	}
	// A name such as localhost is what the computer says it is.
	if a, ok := ln.Addr().(*net.TCPAddr); !ok || !a.IP.IsLoopback() {
		return nil, errors.Join(ErrNotLoopback, ln.Close())
	}
	return serve(ln, h), nil
}

// StartOpen is Start for an address that other computers may reach: h must be
// one that anybody may see, such as that of [Open].
func StartOpen(addr string, h http.Handler) (*Server, error) {
	ln, err := net.Listen("tcp", addr)
	return plainly(ln, h, err)
}

// StartTLS is Start for an address that other computers may reach, with a
// certificate: h must be one that lets nobody in unasked. Without one, nil, the
// address must be reached by a proxy that has it.
func StartTLS(addr string, h http.Handler, how *tls.Config) (*Server, error) {
	ln, err := net.Listen("tcp", addr)
	if err != nil || how == nil {
		return plainly(ln, h, err)
	}
	how = how.Clone()
	how.NextProtos = []string{"h2", "http/1.1"}
	return serve(tls.NewListener(ln, how), h), nil
}

func plainly(ln net.Listener, h http.Handler, err error) (*Server, error) {
	if err != nil {
		return nil, err
	}
	return serve(ln, h), nil
}

func serve(ln net.Listener, h http.Handler) *Server {
	s := &Server{ln: ln, done: make(chan error, 1), srv: &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       60 * time.Second,
		MaxHeaderBytes:    16 << 10,
	}}
	go func() { s.done <- s.srv.Serve(ln) }()
	return s
}

// Addr is the address that is served, with its true port; "" of a nil *Server.
func (s *Server) Addr() string {
	if s == nil {
		return ""
	}
	return s.ln.Addr().String()
}

// Close lets the requests in hand finish for as long as ctx lasts, then ends
// the server. A nil *Server has nothing to close.
func (s *Server) Close(ctx context.Context) error {
	if s == nil {
		return nil
	}
	err := s.srv.Shutdown(ctx)
	if err != nil {
		err = errors.Join(err, s.srv.Close())
	}
	if e := <-s.done; !errors.Is(e, http.ErrServerClosed) {
		err = errors.Join(err, e)
	}
	return err
}
