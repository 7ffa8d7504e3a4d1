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
	"example.org/windrow/cmd/internal/web"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
)

// keepWatching works on what is dropped into an office's folders until ctx
// ends, and serves its metrics, and with pages the workbench: to this computer
// only, or where people sign in to those who do. The metrics are served to
// others, too, where the settings name an address for that.
func keepWatching(ctx context.Context, e *env, off *pipeline.Office, t *teller, pages bool) error {
	// The bar is never shown: nobody knows how many files will come.
	t.bar = progress.New(progress.Options{Quiet: true})
	off.Tell = t.aside
	var changed atomic.Bool
	var desk atomic.Pointer[web.Desk] // there once the address is served
	w, err := off.Watcher(off.Config.Folders, func(o pipeline.Outcome) {
		t.outcome(o)
		changed.Store(true)
		if d := desk.Load(); d != nil {
			d.Note(o)
		}
	}, folder.Options{Log: off.Log})
	if err != nil {
		return err
	}
	var d *web.Desk
	var in *entrance
	if pages {
		if in, err = e.openEntrance(off.Config); err != nil {
			return err
		}
		if d, err = newDesk(e, off, in); err != nil {
			return errors.Join(err, in.Close())
		}
		desk.Store(d)
		off.Moved = d.Moved
	}
	srv, open, err := serve(ctx, off, w, d, in)
	if err != nil {
		return errors.Join(err, in.Close())
	}
	scheme, page := "http", "metrics"
	if pages {
		page = ""
		if in.tls != nil {
			scheme = "https"
		}
	}
	if t.log != nil {
		t.log.Info("watching", "folders", len(off.Config.Folders), "address", scheme+"://"+srv.Addr()+"/"+page, "metrics", open.Addr(), "version", version)
	} else {
		e.say("windrow: watching %s; %s://%s/%s; stop with Ctrl-C", folderNames(off.Config), scheme, srv.Addr(), page)
		if in != nil && off.Config.SignIn.Address != "" {
			e.say("windrow: browsers reach the pages at %s", off.Config.SignIn.Address)
		}
		if at := open.Addr(); at != "" {
			e.say("windrow: metrics at http://%s/metrics, for other computers, too", at)
		}
	}
	stop, finished := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(finished)
		if err := off.Reach(ctx); err != nil && ctx.Err() == nil {
			off.Tell(ingest.AsReason(err))
		}
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
	if d != nil {
		d.StopTelling()
	}
	err = errors.Join(err, t.err, srv.Close(last), open.Close(last))
	if d != nil {
		d.Wait() // what it has in hand needs the office
	}
	return errors.Join(err, off.WriteLetterIndex(), in.Close())
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

// newDesk makes the workbench of an office. What fails is logged by its route,
// which has nothing of a report in it.
func newDesk(e *env, off *pipeline.Office, in *entrance) (*web.Desk, error) {
	return web.New(web.Options{Office: off, Version: version, Account: e.accountFor(off), Door: in.door, Access: in.log, Host: in.host, Log: func(method, route string, status int, err error) {
		var attempt *web.Attempt
		r := ingest.AsReason(err)
		switch {
		case errors.As(err, &attempt):
			off.Log.Warn("a sign-in failed", "from", attempt.From, "waits", attempt.Waits)
		case status < http.StatusInternalServerError:
		case strings.HasPrefix(r.Code, "user") || r.Code == "access-log" || r.Code == "openid": // of what we wrote ourselves, no report
			off.Log.Error("a page could not be made", "method", method, "route", route, "status", status, "code", r.Code, "what", r.What, "where", r.Where.String(), "found", r.Found)
		default:
			off.Log.Error("a page could not be made", "method", method, "route", route, "status", status, "code", r.Code)
		}
	}})
}

// serve answers the pages of metrics and health, and with a desk the workbench,
// too; and the former by themselves at the address for others, where one is set.
func serve(ctx context.Context, off *pipeline.Office, w *folder.Watcher, desk *web.Desk, in *entrance) (srv, open *metrics.Server, err error) {
	reg := prometheus.NewRegistry()
	reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	if err := off.Count(reg, version, commit, w); err != nil {
		return nil, nil, err
	}
	health, ready := func() metrics.Health { return off.Health(w.Oldest()) }, func() metrics.Health { return off.Ready(ctx) }
	h := metrics.Handler(reg, health, ready)
	at := off.Config.Listen
	begin := metrics.Start
	switch {
	case desk == nil:
		at = off.Config.ListenHere() // there is nothing for others
	case in.door != nil:
		if err := metrics.SignIns(reg, in.door.Counts); err != nil {
			return nil, nil, err
		}
		fallthrough
	case in.tls != nil: // for this computer alone, as the settings were found to be
		begin = func(addr string, h http.Handler) (*metrics.Server, error) { return metrics.StartTLS(addr, h, in.tls) }
	}
	if desk != nil {
		for _, p := range metrics.Pages {
			desk.Also(p, h)
		}
		h = desk
	}
	if srv, err = begin(at, h); err != nil {
		return nil, nil, notServed("listen", at, err)
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
