// Command windrow reads soil-test reports as laboratories send them, puts
// them on one schema with the lineage of every value, and says in plain words
// what to do.
//
// Enters: flags, an office's settings, files. Leaves: results on stdout,
// everything else on stderr, and an exit code. Never: it holds anything that
// another program could want to reuse; that is in the stages.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // letters bear a date, also where the system knows no time zones, as in an image without files

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
)

// Set by the linker.
var (
	version = "devel"
	commit  = ""
)

func main() {
	if code, yes := pipeline.Child(); yes {
		os.Exit(code)
	}
	os.Exit(start(time.Now))
}

// start runs the command line of this process; now is the clock.
func start(now func() time.Time) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	e := &env{stdout: os.Stdout, stderr: os.Stderr, terminal: progress.IsTerminal(os.Stderr), now: now}
	return execute(ctx, e, os.Args[1:])
}

// An env is what a command may touch of the world besides files.
type env struct {
	stdout, stderr io.Writer
	terminal       bool // a person watches stderr
	now            func() time.Time
	global         globals
}

// The exit codes, which scripts rely on.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
	exitHeld   = 3
)

// errHeld ends a command that did its work and found something that waits
// for a person; what and why has been told already.
var errHeld = errors.New("held")

// errTold ends a command that failed and has told why already.
var errTold = errors.New("told")

// A usageError is a mistake on the command line.
type usageError struct{ what, hint string }

func (e *usageError) Error() string { return e.what }

// A reasonsError carries several reasons why a command can't do its work.
type reasonsError []*ingest.Reason

func (e reasonsError) Error() string { return e[0].Error() }

// asError is a list of reasons as an error, nil for none.
func asError(rs []*ingest.Reason) error {
	if len(rs) == 0 {
		return nil
	}
	return reasonsError(rs)
}

// execute runs one command line and turns its end into an exit code.
func execute(ctx context.Context, e *env, args []string) int {
	out := &output{w: e.stdout}
	e.stdout = out
	cmd := newRoot(e)
	cmd.SetArgs(args)
	cmd.SetOut(e.stdout)
	cmd.SetErr(e.stderr)
	err := cmd.ExecuteContext(ctx)
	if err == nil || errors.Is(err, errHeld) {
		if lost := out.lost(); lost != nil {
			err = lost
		}
	}
	var usage *usageError
	var list reasonsError
	var one *ingest.Reason
	switch {
	case err == nil, errors.Is(err, errHeld), errors.Is(err, errTold):
	case errors.As(err, &usage):
		e.complain(usage.what, usage.hint)
	case errors.As(err, &list):
		for _, r := range list {
			e.fault(r)
		}
	case errors.As(err, &one):
		e.fault(one)
	case errors.Is(err, syscall.EPIPE):
		// The reader of our results has gone, as head does: nothing to say.
	case errors.Is(err, context.Canceled):
		e.complain("stopped before the end", "nothing is lost; give the same command again")
	default:
		e.complain(err.Error(), "")
	}
	return exitOf(err)
}

// exitOf is the exit code that a command's error is.
func exitOf(err error) int {
	var usage *usageError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errHeld):
		return exitHeld
	case errors.Is(err, errTold):
	case errors.As(err, &usage):
		return exitUsage
	}
	return exitFailed
}

// complain writes an error and what may help against it.
func (e *env) complain(what, hint string) {
	putf(e.stderr, "windrow: error: %s\n", what)
	if hint != "" {
		putf(e.stderr, "windrow: hint: %s\n", hint)
	}
}

// reason writes a reason as its block of text.
func (e *env) reason(r *ingest.Reason) { putln(e.stderr, r.Error()) }

// fault writes a reason that is about no report but about what the command
// needs, such as a setting or a mapping.
func (e *env) fault(r *ingest.Reason) {
	text := r.Error()
	if r.Severity == ingest.Fail {
		text = strings.Replace(text, "not read ["+r.Code+"]", "error ["+r.Code+"]", 1)
	}
	putln(e.stderr, text)
}

// say writes a line that is no result, unless the run is to be quiet.
func (e *env) say(format string, a ...any) {
	if !e.global.quiet {
		putf(e.stderr, format+"\n", a...)
	}
}
