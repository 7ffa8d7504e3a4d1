package apart

import (
	"bufio"
	"bytes"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"runtime/metrics"
	"sync/atomic"
	"time"

	"example.org/windrow/ingest"
)

// childMark is set in the environment of a child, and nowhere else.
const childMark = "WINDROW_PARSER_CHILD"

// How a child ends of its own accord.
const (
	exitMemory = 71 // more memory than the job may use
	exitOrphan = 72 // its parent is gone
	exitWire   = 73 // a message that can't be understood
)

// The bounds of a child that don't depend on the job.
const (
	mostStack    = 64 << 20
	mostHead     = 1 << 20
	mostFile     = 1 << 31
	addressSpace = 3 << 30 // less than 2 GiB stops the Go runtime itself
	watchEvery   = 10 * time.Millisecond
)

// Child reports whether this process is a child, after having done all its
// work: main must return at once when it is true. It must be called before
// anything else, as a child has no arguments, no settings and no terminal.
// The readers are those that a parent's pool may ask for.
func Child(readers map[ingest.Format]ingest.Reader) bool {
	if os.Getenv(childMark) == "" {
		return false
	}
	os.Unsetenv(childMark)
	in, out := os.Stdin, os.Stdout
	os.Stdout = os.Stderr // nothing but answers may go to the parent
	debug.SetMaxStack(mostStack)
	debug.SetGCPercent(400)
	restrict()
	serve(in, out, readers)
	return true
}

type request struct {
	head jobHead
	body []byte
}

// serve reads requests until the parent closes its end.
func serve(in io.Reader, out io.Writer, readers map[ingest.Format]ingest.Reader) {
	requests := make(chan request)
	var busy atomic.Bool
	// Requests are read beside the work: the end of the stream in the middle
	// of a job means that the parent has died, and nobody waits for the rest.
	go func() {
		r := bufio.NewReaderSize(in, 1<<16)
		for {
			q, err := readRequest(r)
			if err != nil {
				if busy.Load() {
					os.Exit(exitOrphan)
				}
				if !errors.Is(err, io.EOF) {
					os.Exit(exitWire)
				}
				close(requests)
				return
			}
			busy.Store(true)
			requests <- q
		}
	}()
	var limit atomic.Int64
	go watchMemory(&limit)

	var buf bytes.Buffer
	enc := gob.NewEncoder(&buf)
	if writeFrame(out, []byte(greeting)) != nil {
		return
	}
	for q := range requests {
		memory := int64(q.head.Limits.OrDefault().MemoryMiB) << 20
		debug.SetMemoryLimit(memory * 3 / 4) // the collector works harder before the end
		limit.Store(memory)
		a := work(q, readers)
		limit.Store(0)
		buf.Reset()
		if err := enc.Encode(a); err != nil {
			os.Exit(exitWire)
		}
		busy.Store(false)
		if writeFrame(out, buf.Bytes()) != nil {
			return
		}
	}
}

// greeting tells the parent that the child runs and speaks its language.
const greeting = "windrow parser 1"

func readRequest(r io.Reader) (q request, err error) {
	head, err := readFrame(r, mostHead, nil)
	if err != nil {
		return q, err
	}
	if err := json.Unmarshal(head, &q.head); err != nil {
		return q, err
	}
	q.body, err = readFrame(r, mostFile, nil)
	return q, err
}

// work reads one file.
func work(q request, readers map[ingest.Format]ingest.Reader) (a answer) {
	src := &ingest.Source{Name: q.head.Name, Member: q.head.Member, Bytes: q.body, SHA256: q.head.SHA256}
	defer func() {
		// Readers don't panic; if one does, it is its fault and not the file's end.
		if p := recover(); p != nil {
			fmt.Fprintf(os.Stderr, "%v\n%s", p, debug.Stack())
			a = answer{Reason: crashed("it met something that it wasn't made for").In(src.Title())}
		}
	}()
	reader := readers[q.head.Format]
	if reader == nil {
		return answer{Reason: crashed("no reader for the format " + string(q.head.Format)).In(src.Title())}
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(q.head.Millis)*time.Millisecond)
	defer cancel()
	doc, err := reader.Read(ctx, src, q.head.Limits)
	if err != nil {
		return answer{Reason: ingest.AsReason(err)}
	}
	return answer{Document: doc}
}

// watchMemory ends the process when a job uses more memory than it may. The
// runtime's own limit only makes it collect more often, and the limit on
// address space is far too wide, as the runtime reserves much and uses
// little.
func watchMemory(limit *atomic.Int64) {
	samples := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	for range time.Tick(watchEvery) {
		most := limit.Load()
		if most <= 0 {
			continue
		}
		metrics.Read(samples)
		if used := samples[0].Value.Uint64() - samples[1].Value.Uint64(); used > uint64(most) {
			os.Exit(exitMemory)
		}
	}
}
