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
	"maps"
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
	garbageMay   = 150 // percent of what is in use; more of it takes longer to be given by the system than to be collected
	mostHead     = 1 << 20
	mostFile     = 1 << 31
	addressSpace = 3 << 30 // less than 2 GiB stops the Go runtime itself
	watchEvery   = 10 * time.Millisecond
)

// Child reports whether this process is a child, after having done all its
// work: main must return at once when it is true. It must be called before
// anything else, as a child has no arguments, no settings and no terminal.
// The readers are those that a parent's pool may ask for, the workers those
// for [Pool.Do].
func Child(readers map[ingest.Format]ingest.Reader, workers ...Workers) bool {
	if os.Getenv(childMark) == "" {
		return false
	}
	_ = os.Unsetenv(childMark) // so that nothing it starts takes itself for a child
	in, out := pipes()
	os.Stdout = os.Stderr // nothing but answers may go to the parent
	debug.SetMaxStack(mostStack)
	debug.SetGCPercent(garbageMay)
	restrict()
	all := abilities{readers: readers, workers: Workers{}}
	for _, w := range workers {
		maps.Copy(all.workers, w)
	}
	serve(in, out, all)
	return true
}

// A Worker does with a file what is told in args, in the child. What it gives
// back is a document, or bytes, or an error that is an *[ingest.Reason]. Like
// an [ingest.Reader] it never panics.
type Worker interface {
	Do(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error)
}

// Workers are workers by the name under which a pool asks for them.
type Workers map[ingest.Format]Worker

// abilities is all that a child can do.
type abilities struct {
	readers map[ingest.Format]ingest.Reader
	workers Workers
}

type request struct {
	head jobHead
	body []byte
}

// serve reads requests until the parent closes its end.
func serve(in io.Reader, out io.Writer, can abilities) {
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
		a := work(q, can)
		limit.Store(0)
		buf.Reset()
		if err := enc.Encode(a); err != nil {
			os.Exit(exitWire)
		}
		busy.Store(false)
		if writeFrame(out, buf.Bytes()) != nil {
			return
		}
		if buf.Len() > largeAnswer {
			// Who asked has all of it now, and works on it long enough.
			buf = bytes.Buffer{}
			debug.FreeOSMemory()
		}
	}
}

// largeAnswer is from how many bytes of an answer on the memory that it took
// is given back to the system at once, rather than kept for the next.
const largeAnswer = 2 << 20

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

// work reads one file, or does another job with it.
func work(q request, can abilities) (a answer) {
	src := &ingest.Source{Name: q.head.Name, Member: q.head.Member, Bytes: q.body, SHA256: q.head.SHA256}
	defer func() {
		// Readers don't panic; if one does, it is its fault and not the file's end.
		if p := recover(); p != nil {
			fmt.Fprintf(os.Stderr, "%v\n%s", p, debug.Stack())
			a = answer{Reason: crashed("it met something that it wasn't made for").In(src.Title())}
		}
	}()
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(q.head.Millis)*time.Millisecond)
	defer cancel()
	if q.head.Work {
		worker := can.workers[q.head.Format]
		if worker == nil {
			return answer{Reason: crashed("nothing that could work on the format " + string(q.head.Format)).In(src.Title())}
		}
		doc, data, err := worker.Do(ctx, q.head.Args, src, q.head.Limits)
		if err != nil {
			return answer{Reason: ingest.AsReason(err)}
		}
		return answer{Document: doc, Data: data}
	}
	reader := can.readers[q.head.Format]
	if reader == nil {
		return answer{Reason: crashed("no reader for the format " + string(q.head.Format)).In(src.Title())}
	}
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
