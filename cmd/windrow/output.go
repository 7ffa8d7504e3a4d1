package main

import (
	"fmt"
	"io"
	"sync"
)

// An output is where results go. It keeps the first error of writing, so that
// a command may print without asking each time whether it could: a result that
// was lost, on a full disk for one, still ends the command as failed.
type output struct {
	mu  sync.Mutex
	w   io.Writer
	err error
}

// Write implements io.Writer. After an error nothing more is written.
func (o *output) Write(b []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.w.Write(b)
	if err != nil {
		o.err = fmt.Errorf("the results are not written to their end: %w", err)
	}
	return n, o.err
}

// lost is the first error of writing, nil when nothing was lost.
func (o *output) lost() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.err
}

// putf prints to an [output], which keeps what goes wrong, or to stderr,
// beside which there is no place to say that it can't be written to.
func putf(w io.Writer, format string, a ...any) { _, _ = fmt.Fprintf(w, format, a...) }

// putln is [putf] for a line of values.
func putln(w io.Writer, a ...any) { _, _ = fmt.Fprintln(w, a...) }
