package pipeline

import (
	"os"
	"runtime/debug"
	"sync"

	"example.org/windrow/ingest"
)

// memoryAim is the memory above which this process collects its garbage
// harder, in bytes. A list of 30,000 rows or a workbook of 5,000 samples then
// stays below 400 MiB, the parser included.
const memoryAim = 285 << 20

// perByte is how much memory the process may take for each byte of the files
// that it has in hand before it collects harder, where that is more than
// memoryAim. Each field of a list has a place, which takes some thirty times
// its text; with memoryAim alone, a third of the processor's time for a list of
// 50,000 rows went into collecting what was still in use.
const perByte = 55

// garbageMay is how much garbage there may be for what is in use, in percent.
// Most of what is made for a file is in use until its record is written, so
// that a collection in between finds little.
const garbageMay = 300

// room is the memory that the process may take: a matter of the whole process,
// as the collector is.
var room memoryRoom

type memoryRoom struct {
	sync.Mutex
	bound  bool  // by us, and not by the operator
	limit  int64 // as set last
	inHand int64 // bytes of the files in hand
}

// set sets the limit where it has changed. Call it with the lock held.
func (r *memoryRoom) set() {
	if limit := max(memoryAim, perByte*r.inHand); r.bound && limit != r.limit {
		debug.SetMemoryLimit(limit)
		r.limit = limit
	}
}

// boundMemory sets these, unless the operator has set them.
func boundMemory() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbageMay)
	}
	room.Lock()
	defer room.Unlock()
	room.bound = os.Getenv("GOMEMLIMIT") == ""
	room.set()
}

// makeRoom lets the process take the memory that these files need. Call what
// it gives when they are done with.
func makeRoom(files []*ingest.Source) (done func()) {
	var n int64
	for _, f := range files {
		n += int64(len(f.Bytes))
	}
	add := func(n int64) {
		room.Lock()
		defer room.Unlock()
		room.inHand += n
		room.set()
	}
	add(n)
	return func() { add(-n) }
}
