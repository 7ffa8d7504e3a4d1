package access

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"example.org/windrow/ingest"
)

// An Extent is how far a log reaches.
type Extent struct {
	Lines int64  `json:"lines"`
	Last  string `json:"last"` // SHA-256 of the last line; 64 zeros of none
	First string `json:"from"` // the time of the first line, "" for none
	Until string `json:"to"`   // that of the last one
}

// Verify reads a log from its beginning and gives it line by line to visit,
// which may be nil. It finds every line that was changed, put in, put elsewhere
// or taken out; of those at the end, as far as the log was on the disk once.
// faults are what it found, each with its line; the error is that nothing could
// be read.
func Verify(path string, visit func(Entry) error) (x Extent, faults []*ingest.Reason, err error) {
	name := filepath.Base(path)
	x.Last = zero
	fault := func(line int64, what, expected, found string) {
		faults = append(faults, &ingest.Reason{Code: "access-log-changed", Severity: ingest.Fail, Where: ingest.Place{File: name, Line: int(line)}, What: what, Expected: expected, Found: found,
			Next: "find out who can write to this file, and compare with a copy that was kept elsewhere"})
	}
	h, herr := readHead(path)
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) && herr == nil && h.n > 0 {
		fault(0, "the log was taken away", fmt.Sprintf("%d lines or more", h.n), "none")
		return x, faults, nil
	}
	if err != nil {
		return x, nil, &ingest.Reason{Code: "access-log-none", Severity: ingest.Fail, Where: ingest.Place{File: name}, What: "there is no log of who saw and changed what", Found: ingest.Cause(err), Next: "it is begun when windrow serve is started in an office where people sign in"}
	}
	defer f.Close()
	// Where a fault was found, the chain goes on from what stands there, so that
	// one fault is one.
	in := bufio.NewReaderSize(f, longestEntry+1)
	for at := int64(1); ; at++ {
		line, err := in.ReadSlice('\n')
		if errors.Is(err, io.EOF) {
			if len(line) > 0 {
				fault(at, "the line was not written to its end, as when a machine loses its power", "a whole line", "")
			}
			break
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			fault(at, "the line is too long to be one of ours, and nothing behind it was looked at", "", "")
			return x, faults, nil
		}
		if err != nil {
			return x, faults, &ingest.Reason{Code: "access-log-none", Severity: ingest.Fail, Where: ingest.Place{File: name, Line: int(at)}, What: "the log can't be read to its end", Found: ingest.Cause(err), Next: "see the disk that it lies on"}
		}
		line = line[:len(line)-1]
		e, err := parseEntry(line)
		if err != nil {
			fault(at, "this is no line of the log", "a line as the program writes it", "")
			x.Lines, x.Last = x.Lines+1, hashOf(line)
			continue
		}
		switch {
		case e.N != x.Lines+1:
			fault(at, "lines were taken out or put in before this one", fmt.Sprintf("number %d", x.Lines+1), fmt.Sprintf("number %d", e.N))
		case e.Prev != x.Last:
			fault(at, "the line before this one was changed, or put in the place of another", "its hash "+e.Prev, x.Last)
		}
		x.Lines, x.Last = e.N, hashOf(line)
		if x.First == "" {
			x.First = e.At
		}
		x.Until = e.At
		if e.N == h.n && herr == nil && x.Last != h.hash {
			fault(at, "the line was changed", "its hash "+h.hash, x.Last)
		}
		if visit != nil {
			if err := visit(e); err != nil {
				return x, faults, err
			}
		}
	}
	switch {
	case herr != nil && x.Lines > 0:
		fault(0, "what says how far the log reaches is not there, so that lines may be missing at its end", filepath.Base(headName(path)), ingest.Cause(herr))
	case herr == nil && h.n > x.Lines:
		fault(x.Lines, "lines are missing behind this one", fmt.Sprintf("%d lines or more", h.n), fmt.Sprintf("%d", x.Lines))
	}
	return x, faults, nil
}
