package main

import (
	"context"
	"errors"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
)

// keepWatching works on what is dropped into an office's folders until ctx
// ends, and serves its metrics, and with letters its letters, read-only and to
// this computer only. The metrics are served to others, too, where the settings
// name an address for that.
func keepWatching(ctx context.Context, e *env, off *pipeline.Office, t *teller, letters bool) error {
	// The bar is never shown: nobody knows how many files will come.
	t.bar = progress.New(progress.Options{Quiet: true})
	off.Tell = t.aside
	var changed atomic.Bool
	w, err := off.Watcher(off.Config.Folders, func(o pipeline.Outcome) {
		t.outcome(o)
		changed.Store(true)
	}, folder.Options{Log: off.Log})
	if err != nil {
		return err
	}
	srv, open, err := serve(ctx, off, w, letters)
	if err != nil {
		return err
	}
	page := "metrics"
	if letters {
		page = ""
	}
	if t.log != nil {
		t.log.Info("watching", "folders", len(off.Config.Folders), "address", "http://"+srv.Addr()+"/"+page, "metrics", open.Addr(), "version", version)
	} else {
		e.say("windrow: watching %s; http://%s/%s; stop with Ctrl-C", folderNames(off.Config), srv.Addr(), page)
		if at := open.Addr(); at != "" {
			e.say("windrow: metrics at http://%s/metrics, for other computers, too", at)
		}
	}
	stop, finished := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(finished)
		listLetters(off, &changed, stop)
	}()
	looked := make(chan struct{})
	go func() {
		defer close(looked)
		lookAtRegister(ctx, off, stop)
	}()
	err = w.Run(ctx)
	close(stop)
	<-finished
	<-looked
	if t.log != nil {
		t.log.Info("stopped")
	} else {
		e.say("windrow: stopped")
	}
	// A scrape that hangs may not keep the office from being closed.
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	return errors.Join(err, t.err, off.WriteLetterIndex(), srv.Close(last), open.Close(last))
}

// lookAtRegister sees in each round whether the register has changed, so that a
// mistake in it is told at once and not when the next report comes.
func lookAtRegister(ctx context.Context, off *pipeline.Office, stop <-chan struct{}) {
	tick := time.NewTicker(off.Config.Watch.Poll)
	defer tick.Stop()
	for {
		off.Register(ctx)
		select {
		case <-stop:
			return
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// serve answers the pages of metrics and health, and with letters the letters,
// too; and the former by themselves at the address for others, where one is set.
func serve(ctx context.Context, off *pipeline.Office, w *folder.Watcher, letters bool) (srv, open *metrics.Server, err error) {
	reg := prometheus.NewRegistry()
	reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	if err := off.Count(reg, version, commit, w); err != nil {
		return nil, nil, err
	}
	health, ready := func() metrics.Health { return off.Health(w.Oldest()) }, func() metrics.Health { return off.Ready(ctx) }
	h := metrics.Handler(reg, health, ready)
	if letters {
		h = withLetters(off, h)
	}
	if srv, err = metrics.Start(off.Config.Listen, h); err != nil {
		return nil, nil, notServed("listen", off.Config.Listen, err)
	}
	if at := off.Config.ListenMetrics; at != "" {
		if open, err = metrics.StartOpen(at, metrics.Open(reg, health, ready)); err != nil {
			return nil, nil, errors.Join(notServed("listen_metrics", at, err), srv.Close(ctx))
		}
	}
	return srv, open, nil
}

// notServed says why an address of the settings can't be used.
func notServed(setting, addr string, err error) error {
	if errors.Is(err, syscall.EADDRINUSE) {
		return &ingest.Reason{Code: "address-not-free", Severity: ingest.Fail, Where: ingest.Place{File: config.FileName}, What: "another program answers at the address that " + setting + " sets, most likely a windrow watch in another office",
			Expected: "an address of its own for each office", Found: addr + ", which is taken", Next: "write another port into " + config.FileName + " of this office, such as " + setting + ": " + nextPort(addr) + ", or give --" + strings.ReplaceAll(setting, "_", "-") + " " + nextPort(addr)}
	}
	return &ingest.Reason{Code: "address-not-free", Severity: ingest.Fail, Where: ingest.Place{File: config.FileName}, What: "the address that " + setting + " sets can't be used", Expected: "a free address of this computer", Found: addr + ": " + ingest.Cause(err),
		Next: "see what uses it, or set " + setting + " to another port"}
}

// nextPort is an address with the port after its own.
func nextPort(addr string) string {
	host, port, err := net.SplitHostPort(addr)
	n, nerr := strconv.Atoi(port)
	if err != nil || nerr != nil || n >= 65535 {
		return "127.0.0.1:8471"
	}
	return net.JoinHostPort(host, strconv.Itoa(n+1))
}

// withLetters serves the letters beside what rest serves.
func withLetters(off *pipeline.Office, rest http.Handler) http.Handler {
	mux := http.NewServeMux()
	for _, p := range metrics.Pages {
		mux.Handle("GET "+p, rest)
	}
	mux.Handle("GET /{$}", http.RedirectHandler("/letters/", http.StatusFound))
	mux.HandleFunc("GET /letters/{$}", func(w http.ResponseWriter, r *http.Request) {
		b, err := off.ListPage(r.Context())
		if err != nil {
			http.Error(w, "the list of letters can't be made: "+ingest.AsReason(err).What, http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(b) // the one who asked has gone: there is nobody to tell
	})
	files := http.StripPrefix("/letters/", http.FileServerFS(onlyLetters{off.Config.Letters}))
	mux.Handle("GET /letters/", files)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			host = r.Host
		}
		// A page in someone's browser cannot reach this by a borrowed name.
		if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
			http.Error(w, "this address answers to this computer only", http.StatusForbidden)
			return
		}
		for k, v := range map[string]string{"X-Content-Type-Options": "nosniff", "Cache-Control": "no-store", "X-Frame-Options": "DENY", "Referrer-Policy": "no-referrer",
			"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; frame-ancestors 'none'"} {
			w.Header().Set(k, v)
		}
		mux.ServeHTTP(w, r)
	})
}
