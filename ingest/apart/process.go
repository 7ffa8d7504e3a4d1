package apart

import (
	"bufio"
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// A child is one process that reads files, seen from its parent.
type child struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
	gob    *gob.Decoder
	frame  bytes.Buffer // what the decoder may read
	buf    []byte
	words  *tail
	jobs   int
	dead   sync.Once
	status error
}

// A task is what a child is asked to do with a file.
type task struct {
	format ingest.Format
	work   bool // by a worker rather than a reader
	args   []byte
}

// launch starts the program as a child.
func launch(program string, env ...string) (*child, error) {
	c := &child{cmd: exec.Command(program), words: &tail{}}
	// Nothing is worth collecting until the child has started, which takes it a
	// quarter less time so; then it sets what holds for its work.
	c.cmd.Env = []string{childMark + "=1", "GOMAXPROCS=1", "GOTRACEBACK=single", "GOGC=off"}
	for _, keep := range []string{"SYSTEMROOT", "GOCOVERDIR"} { // Windows can't start programs without the first
		if v := os.Getenv(keep); v != "" {
			c.cmd.Env = append(c.cmd.Env, keep+"="+v)
		}
	}
	c.cmd.Env = append(c.cmd.Env, env...)
	c.cmd.Stderr = c.words
	c.cmd.WaitDelay = time.Second
	tie(c.cmd)
	in, err := c.cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.cmd.Start(); err != nil {
		return nil, err
	}
	c.in, c.out = in, bufio.NewReaderSize(out, 1<<16)
	c.gob = gob.NewDecoder(&c.frame)
	return c, nil
}

// startup is how long a child may take to say that it runs.
const startup = 20 * time.Second

// greet waits for the child's greeting. Another program, or one that doesn't
// call Child first, won't give it.
func (c *child) greet() error {
	timer := time.AfterFunc(startup, c.kill)
	defer timer.Stop()
	b, err := readFrame(c.out, int64(len(greeting)), nil)
	if err != nil || string(b) != greeting {
		return errors.New("the program didn't start as a parser: its main function must call apart.Child first")
	}
	return nil
}

// ask has a file read. After an error the child is of no more use.
func (c *child) ask(ctx context.Context, job task, src *ingest.Source, lim ingest.Limits) (*answer, error) {
	left := time.Duration(lim.Seconds) * time.Second
	if at, ok := ctx.Deadline(); ok {
		left = time.Until(at)
	}
	// A deadline lets the child answer for itself; a cancellation doesn't.
	timer := time.AfterFunc(left+grace, c.kill)
	defer timer.Stop()
	stop := context.AfterFunc(ctx, func() {
		if errors.Is(ctx.Err(), context.Canceled) {
			c.kill()
		}
	})
	defer stop()

	head := jobHead{Format: job.format, Work: job.work, Args: job.args, Name: src.Name, Member: src.Member, SHA256: src.SHA256, Limits: lim, Millis: max(1, left.Milliseconds())}
	if err := writeFrame(c.in, head.encode()); err != nil {
		return nil, err
	}
	if err := writeFrame(c.in, src.Bytes); err != nil {
		return nil, err
	}
	var err error
	if c.buf, err = readFrame(c.out, mostAnswer, c.buf); err != nil {
		return nil, err
	}
	c.frame.Reset()
	c.frame.Write(c.buf)
	a := &answer{}
	if err := c.gob.Decode(a); err != nil {
		return nil, err
	}
	parts := 0
	for _, has := range []bool{a.Document != nil, a.Reason != nil, len(a.Data) > 0} {
		if has {
			parts++
		}
	}
	if parts != 1 || len(a.Data) > 0 && !job.work {
		return nil, errors.New("the answer isn't one of document, bytes and reason")
	}
	const keep = 4 << 20
	if cap(c.buf) > keep {
		c.buf, c.frame = nil, bytes.Buffer{}
	}
	return a, nil
}

// verdict is the reason for which a child gave no answer, and whether it just
// ended, without a word of why.
func (c *child) verdict(ctx context.Context, err error, lim ingest.Limits) (r *ingest.Reason, ended bool) {
	if errors.Is(err, errTooLong) {
		return tooLarge("what the file holds is more than can be taken in", "at most 512 MiB once read", "more", "words"), false
	}
	c.end()
	if over := ctx.Err(); over != nil {
		return lim.Over(over, "the file"), false
	}
	var exit *exec.ExitError
	words := c.lastWords()
	switch {
	case errors.As(c.status, &exit) && exit.ExitCode() == exitMemory,
		strings.Contains(words, "out of memory"), strings.Contains(words, "cannot allocate memory"), strings.Contains(words, "address space"):
		return outOfMemory(lim), false
	case strings.Contains(words, "stack overflow"), strings.Contains(words, "stack exceeds"):
		return crashed("its parts lead in a circle without end"), false
	}
	return crashed("the part of the program that reads such files stopped"), true
}

// kill ends the process at once; reads and writes under way then fail.
func (c *child) kill() { _ = c.cmd.Process.Kill() } // fails where it has ended already

// end ends the process and waits until it is gone.
func (c *child) end() {
	c.dead.Do(func() {
		_ = c.in.Close() // fails where the child has ended already
		timer := time.AfterFunc(parting, c.kill)
		// What the child still has to say must be read, or it never ends; where
		// that fails, Wait tells how it ended.
		_, _ = io.Copy(io.Discard, c.out)
		c.status = c.cmd.Wait()
		timer.Stop()
	})
}

// parting is how long a child may take to end by itself.
const parting = 200 * time.Millisecond

func (c *child) lastWords() string { return c.words.String() }

// A tail keeps the first and drops the rest of what a child complains: the
// cause comes first, the trace of calls behind it.
type tail struct {
	mu sync.Mutex
	b  []byte
}

// Write implements io.Writer.
func (t *tail) Write(p []byte) (int, error) {
	const most = 4096
	t.mu.Lock()
	defer t.mu.Unlock()
	if room := most - len(t.b); room > 0 {
		t.b = append(t.b, p[:min(room, len(p))]...)
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.b)
}
