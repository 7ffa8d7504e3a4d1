package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
)

// The states of what the doctor looked at, from best to worst.
const (
	well      = "ok"
	attention = "attention" // the work goes on, and something should be seen to
	wrong     = "wrong"     // the work can't be done, or what was kept is in danger
)

// A symptom is what the doctor found of one thing.
type symptom struct {
	Check string `json:"check"`
	State string `json:"state"` // ok, attention or wrong
	Says  string `json:"says"`
	Do    string `json:"do,omitempty"` // what to do; empty when all is well
}

func newDoctor(e *env) *cobra.Command {
	asJSON := false
	probe := ""
	c := &cobra.Command{
		Use:   "doctor",
		Short: "look whether an office can do its work, and say what to do where it can't",
		Long: `Looks at the settings, the folders and their rights, the disk, the clock, the
mappings and rule sets, the archive, the index, when the archive was last checked
and copied, the users, the certificate and the access log of the pages, the program that reads scans and the cache of the second PDF engine,
and leads a report of the demonstration through every stage up to its letter. It
prints a line for each: ok, attention or wrong, and what to do. It changes nothing,
and may run while reports are being worked on.

Exit codes: 0 all is well, 3 something should be seen to, 1 something is wrong.

With --probe it asks a running watch instead, at the address of one of its pages,
and ends with 0 where that says it is well, else with 1. By https it takes, on
this computer, the certificate that the office's settings name and no other.`,
		Example: "  windrow doctor --office /srv/soil-desk\n  windrow doctor --json | jq '.findings[] | select(.state != \"ok\")'\n  windrow doctor --probe http://127.0.0.1:8470/readyz",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			if probe != "" {
				cfg, isOffice, err := e.settings(c.Flags(), false)
				if err != nil || !isOffice {
					cfg = nil // an address can be asked without an office
				}
				return e.probe(c.Context(), cfg, probe)
			}
			all := e.examine(c)
			worst := well
			for _, s := range all {
				if s.State == wrong || worst == well {
					worst = s.State
				}
			}
			if asJSON {
				if err := writeJSON(e.stdout, struct {
					State    string    `json:"state"`
					Findings []symptom `json:"findings"`
				}{worst, all}); err != nil {
					return err
				}
			} else {
				for _, s := range all {
					if s.State != well || !e.global.quiet {
						putln(e.stdout, s.line())
					}
				}
			}
			switch worst {
			case wrong:
				return errTold
			case attention:
				return errHeld
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().StringVar(&probe, "probe", "", "ask a running watch at this `address` instead, such as http://127.0.0.1:8470/readyz")
	return c
}

// line is a symptom on one line.
func (s symptom) line() string {
	text := fmt.Sprintf("%-9s  %-9s  %s", s.State, s.Check, s.Says)
	if s.Do != "" {
		text += "; to do: " + s.Do
	}
	return ingest.Shown(text)
}

// examine looks at everything, each after what it needs.
func (e *env) examine(c *cobra.Command) []symptom {
	d := &doctor{e: e, now: e.now()}
	var list reasonsError
	cfg, _, err := e.settings(c.Flags(), true)
	if err == nil {
		err = asError(cfg.CheckLandUses(landUses()))
	}
	switch {
	case errors.As(err, &list):
		for _, r := range list {
			d.reason("settings", wrong, r)
		}
	case err != nil:
		d.reason("settings", wrong, ingest.AsReason(err))
	}
	if err != nil {
		return d.found // all else depends on them
	}
	d.cfg = cfg
	for _, look := range []func(context.Context){d.settings, d.folders, d.disk, d.archive, d.index, d.jobs, d.clock, d.scans, d.cache, d.stages, d.pages, d.watch} {
		if c.Context().Err() != nil {
			d.say("doctor", attention, "it was stopped before the end", "run it again")
			break
		}
		look(c.Context())
	}
	return d.found
}

// probe asks a page of a running watch.
func (e *env) probe(ctx context.Context, cfg *config.Config, at string) error {
	u, err := url.Parse(at)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" {
		return &usageError{fmt.Sprintf("%q is no address of a page", at), "write it as http://127.0.0.1:8470/readyz"}
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	code, text, err := pageOf(ctx, clientFor(cfg, u.Host), at)
	if err != nil {
		return &ingest.Reason{Code: "no-answer", Severity: ingest.Fail, Where: ingest.Place{File: u.Host}, What: "no watch answers at this address", Found: ingest.Cause(err), Next: "see whether it runs, and at which address (listen, listen_metrics)"}
	}
	putln(e.stdout, strings.TrimSpace(text))
	if code != http.StatusOK {
		return errTold
	}
	return nil
}

// pageOf gets a page, of which it keeps the beginning.
func pageOf(ctx context.Context, client *http.Client, at string) (code int, text string, err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, at, nil)
	if err != nil {
		return 0, "", err
	}
	resp, err := client.Do(req)
	if err != nil {
		return 0, "", err
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(io.LimitReader(resp.Body, 4096))
	return resp.StatusCode, string(b), err
}

// watch tells whether a watch is at work; an office may also be worked by hand.
func (d *doctor) watch(ctx context.Context) {
	at := d.cfg.Listen
	if _, port, err := net.SplitHostPort(at); err == nil && port == "0" {
		d.say("watch", well, "its address is chosen when it starts, so that it was not asked", "")
		return
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	code, text, err := 0, "", errors.New("not asked")
	if d.cfg.TLS.Used() { // by a serve; a watch beside it has no certificate
		_, port, _ := net.SplitHostPort(at) // it was split above
		here := net.JoinHostPort("127.0.0.1", port)
		code, text, err = pageOf(ctx, clientFor(d.cfg, here), "https://"+here+"/healthz")
	}
	if err != nil {
		at = d.cfg.ListenHere()
		code, text, err = pageOf(ctx, http.DefaultClient, "http://"+at+"/healthz")
	}
	if err != nil {
		d.say("watch", well, "none answers at "+at+", so that reports are worked on when windrow run is", "")
		return
	}
	var h struct {
		Healthy bool     `json:"healthy"`
		Reasons []string `json:"reasons"`
	}
	switch err := json.Unmarshal([]byte(text), &h); {
	case err != nil:
		d.say("watch", attention, "another program answers at "+at, "set listen to another port before a watch is started")
	case code != http.StatusOK:
		d.say("watch", wrong, "it answers at "+at+" that "+strings.Join(h.Reasons, ", and "), "see its log")
	default:
		d.say("watch", well, "it answers at "+at+" that all is well", "")
	}
}
