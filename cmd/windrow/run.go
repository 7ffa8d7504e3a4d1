package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
)

type runCmd struct {
	json            bool
	county, landUse string
}

func newRun(e *env) *cobra.Command {
	o := &runCmd{}
	c := &cobra.Command{
		Use:   "run [PATH…]",
		Short: "work on reports once: read, archive, advise, write letters",
		Long: `Works once on files, and on folders with all that is below them, in an office.
Each original is archived first; then it is read, its record and advice are
archived, and a letter is written for each sample.

Files stay where they are, except those in a watched folder of the office:
they are filed in done or held, as "windrow watch" does it. Without a PATH
the watched folders are worked on. Bytes that the archive holds already are
told and not archived again; of held ones it is seen whether they can be read
now. With --log-format json, or --log-level, it writes the log lines of a watch,
which name neither people nor files.`,
		Example: `  windrow run                       the watched folders of this office
  windrow run --office /srv/soil april/*.pdf
  windrow run --json april | jq .status`,
		Args: args(0, -1, ""),
		RunE: func(c *cobra.Command, args []string) error { return o.run(c.Context(), e, c, args) },
	}
	c.Flags().BoolVar(&o.json, "json", false, "one JSON object a file")
	c.Flags().StringVar(&o.county, "county", "", "`county` of samples whose report names none")
	c.Flags().StringVar(&o.landUse, "land-use", "", "`use` of the land where a report names none")
	config.AddFlags(c.Flags(), "workers", "log.level", "log.format")
	return c
}

func (o *runCmd) run(ctx context.Context, e *env, c *cobra.Command, args []string) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	use, err := landUse(o.landUse, nil)
	if err != nil {
		return err
	}
	o.landUse = use
	watched, others := watchedFirst(cfg, args)
	paths, left, err := e.gather(others)
	if err != nil {
		return err
	}
	off, err := e.openSending(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	t := &teller{e: e, json: o.json, amiss: len(off.Stages.Amiss) > 0, left: left, bar: progress.New(progress.Options{Out: e.stderr, Total: len(paths), Quiet: e.global.quiet, Terminal: e.terminal})}
	off.Tell = t.aside
	if cfg.Log.Format == "json" || c.Flags().Changed("log-level") || c.Flags().Changed("log-format") {
		// As a watch does it; a person who was not asked for lines is told in words.
		off.Log = logger(e, cfg)
		t.bar = progress.New(progress.Options{Quiet: true})
		if cfg.Log.Format == "json" {
			t.log = off.Log
		}
	}
	off.Register(ctx) // told of even when there is no report to work on
	err = o.files(ctx, off, paths, t)
	if err == nil && len(watched) > 0 {
		err = passOnce(ctx, off, watched, t.outcome)
	}
	t.bar.End()
	err = errors.Join(err, t.err, off.WriteLetterIndex(), off.Close())
	if err != nil {
		return err
	}
	t.summary(cfg)
	return t.end()
}

// inHand is how many files a run has in hand for each that it reads: what is
// kept has to reach the disk, and meanwhile the processors read others.
const inHand = 4

// files works on files that stay where they are.
func (o *runCmd) files(ctx context.Context, off *pipeline.Office, paths []string, t *teller) error {
	return inOrder(ctx, len(paths), inHand*off.Config.WorkerCount(), func(i int) (pipeline.Outcome, error) {
		src, err := source(paths[i], off.Stages.Limits.Bytes)
		if err != nil {
			return pipeline.Outcome{}, err
		}
		fi, err := os.Stat(paths[i])
		if err != nil {
			return pipeline.Outcome{}, notThere(paths[i], err)
		}
		// A file that was begun is finished, even when the run is to stop.
		return off.Process(context.WithoutCancel(ctx), pipeline.Arrival{Source: src, Channel: "command", Time: fi.ModTime(),
			Defaults: pipeline.Defaults{Office: off.Config.Office.Name, County: o.county, LandUse: o.landUse}}), nil
	}, func(i int, out pipeline.Outcome, err error) error {
		if err != nil {
			r := ingest.AsReason(err)
			st := pipeline.Failed
			if r.Severity == ingest.Hold {
				st = pipeline.Held // too large to be taken at all
			}
			out = pipeline.Outcome{Name: filepath.Base(paths[i]), Status: st, Reasons: []*ingest.Reason{r}}
		}
		t.outcome(out)
		return nil
	})
}

// watchedFirst parts the arguments into watched folders of the office and
// other paths. No argument means all watched folders.
func watchedFirst(cfg *config.Config, args []string) (watched []config.Folder, others []string) {
	if len(args) == 0 {
		return cfg.Folders, nil
	}
	for _, a := range args {
		is := false
		if abs, err := filepath.Abs(a); err == nil {
			for _, f := range cfg.Folders {
				if f.Path == abs {
					watched, is = append(watched, f), true
				}
			}
		}
		if !is {
			others = append(others, a)
		}
	}
	return watched, others
}

// open opens an office for work, with its stages; one of a central engine for
// what is done to the archive there.
func (e *env) open(ctx context.Context, cfg *config.Config) (*pipeline.Office, error) {
	st, err := e.loadStages(cfg)
	if err != nil {
		return nil, err
	}
	if cfg.Engine.Used() {
		off, err := pipeline.OpenCentral(ctx, cfg, st)
		if err != nil {
			return nil, errors.Join(err, st.Close())
		}
		off.Today = e.now
		return off, nil
	}
	off, err := pipeline.OpenOffice(ctx, cfg, st)
	if err != nil {
		return nil, errors.Join(err, st.Close())
	}
	off.Today = e.now
	older, err := off.ReadWithOlder(ctx)
	if err != nil {
		e.reason(ingest.AsReason(err)) // what is in the index can be made again, and the work goes on
	} else if text := pipeline.OlderWords(older); text != "" {
		e.say("windrow: %s", text)
	}
	return off, nil
}

// hint tells what an office should set and has not.
func (e *env) hint(cfg *config.Config) {
	for _, s := range cfg.Unsaid() {
		e.say("windrow: %s", s)
	}
}

// passOnce works once on watched folders. Empty files have to wait longer than
// others, and are waited for: a run that came and went each time before their
// time would leave them for ever. What is left because it is still being
// written is told.
func passOnce(ctx context.Context, off *pipeline.Office, folders []config.Folder, tell func(pipeline.Outcome)) error {
	w, err := off.Watcher(folders, tell, folder.Options{PollOnly: true})
	if err != nil {
		return err
	}
	p, err := w.Once(ctx)
	if wait, some := w.Empty(); err == nil && some && p.Again == 0 {
		select {
		case <-ctx.Done():
		case <-time.After(wait):
			p, err = w.Once(ctx)
		}
	}
	if n := p.Waiting - p.Again; n > 0 && ctx.Err() == nil {
		off.Tell(&ingest.Reason{Code: "files-wait", Severity: ingest.Note, What: "what lies in the watched folders is not all written to its end yet, and was not touched", Found: plural(n, "file") + " that changed a moment ago",
			Next: "run it again in a minute, or leave it to \"windrow watch\""})
	}
	if ingest.AsReason(err) != nil && ingest.AsReason(err).Code == folder.CodeGone {
		return errTold // by the watcher, when it looked
	}
	if err == nil {
		err = ctx.Err()
	}
	return err
}

// A teller tells of outcomes: a line of each on stdout, reasons on stderr.
type teller struct {
	e    *env
	json bool
	bar  *progress.Progress
	log  *slog.Logger // takes the place of words on stderr and of lines on stdout; nil for a person who watches

	mu    sync.Mutex
	count map[pipeline.Status]int
	files int
	err   error // of stdout
	amiss bool  // a mapping file or the register has a mistake
	left  bool  // something that is no file lies among the reports
	shut  int   // files that can't be opened, or not moved on
}

func (t *teller) outcome(o pipeline.Outcome) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.count == nil {
		t.count = map[pipeline.Status]int{}
	}
	t.count[o.Status]++
	t.files++
	if t.log != nil && !t.json {
		return // the office has logged it
	}
	text := outcomeLine(&o)
	if t.json {
		var b strings.Builder
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(o); err != nil && t.err == nil {
			t.err = err
		}
		text = b.String()
	}
	t.bar.Step(o.Name)
	if err := t.bar.Print(t.e.stdout, text); err != nil && t.err == nil {
		t.err = err
	}
	for _, r := range o.Reasons {
		if r.Severity != ingest.Note && t.log == nil {
			_ = t.bar.Print(t.e.stderr, r.Error()+"\n") // a stderr that is gone stops no work
		}
	}
}

// aside tells of something that is not about one file.
func (t *teller) aside(r *ingest.Reason) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.left = t.left || r.Code == folder.CodeNotTaken
	if r.Code == folder.CodeNotOpened {
		t.shut++
	}
	t.amiss = t.amiss || r.Code == pipeline.CodeRegister
	if t.log != nil {
		// Where it is and what was found there may be a client's.
		t.log.Warn("amiss", "code", r.Code, "severity", string(r.Severity), "what", r.What, "next", r.Next)
		t.log.Debug("amiss", "code", r.Code, "where", r.Where.String(), "expected", r.Expected, "found", r.Found)
		return
	}
	_ = t.bar.Print(t.e.stderr, r.Error()+"\n") // a stderr that is gone stops no work
}

func (t *teller) summary(cfg *config.Config) {
	if t.log != nil {
		t.log.Info("done", "files", t.files, "ok", t.count[pipeline.OK], "flagged", t.count[pipeline.Flagged], "held", t.count[pipeline.Held], "again", t.count[pipeline.Duplicate], "failed", t.count[pipeline.Failed], "not_opened", t.shut)
		return
	}
	if t.shut > 0 {
		t.e.say("windrow: %s could not be opened, as is told above, and lies where it lay", plural(t.shut, "file"))
	}
	switch {
	case t.files == 0 && t.shut > 0:
		return
	case t.files == 0 && t.left:
		t.e.say("windrow: no file to work on; what lies there and is no file is named above")
		return
	case t.files == 0:
		t.e.say("windrow: no file to work on")
		return
	}
	var parts []string
	for _, s := range []pipeline.Status{pipeline.OK, pipeline.Flagged, pipeline.Held, pipeline.Duplicate, pipeline.Failed} {
		if n := t.count[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, statusWord(s)))
		}
	}
	t.e.say("windrow: %s: %s", plural(t.files, "file"), strings.Join(parts, ", "))
	if t.count[pipeline.OK]+t.count[pipeline.Flagged] > 0 {
		t.e.say("windrow: letters: %s", filepath.Join(cfg.Letters, "index.html"))
	}
}

func (t *teller) end() error {
	switch {
	case t.count[pipeline.Failed] > 0 || t.shut > 0:
		return errTold
	case t.count[pipeline.Held] > 0 || t.amiss || t.left:
		return errHeld
	}
	return nil
}

func statusWord(s pipeline.Status) string {
	if s == pipeline.Duplicate {
		return "known already"
	}
	return string(s)
}

// outcomeLine is one line for a person about a file.
func outcomeLine(o *pipeline.Outcome) string {
	what := ""
	switch o.Status {
	case pipeline.OK, pipeline.Flagged:
		what = strings.Join(o.Labs(), ", ") + ": " + plural(o.Samples(), "sample") + ", " + plural(o.Results(), "result")
	case pipeline.Duplicate:
		what = "these bytes are in the archive already"
		if o.First != "" && o.First != o.Name {
			what += ", as " + o.First
		}
	default:
		if len(o.Reasons) > 0 {
			what = o.Reasons[0].What
		}
		if n := len(o.Used()); n > 0 {
			what += "; " + plural(n, "other report") + " in it used all the same"
		}
	}
	return fmt.Sprintf("%-9s  %-*s  %s\n", o.Status, 24, ingest.Shown(o.Name), ingest.Shown(what))
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
