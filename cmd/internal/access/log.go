package access

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// An Entry is one line of the log of who saw and changed what. It holds ids and
// words of ours, and nothing that a report says.
type Entry struct {
	N       int64    `json:"n"`                // the number of the line, from 1
	At      string   `json:"at"`               // YYYY-MM-DDTHH:MM:SS.mmmZ
	Who     string   `json:"who,omitempty"`    // the account; "" for nobody
	Role    Role     `json:"role,omitempty"`   // that the account had then
	Office  string   `json:"office,omitempty"` // that the account had then
	From    string   `json:"from,omitempty"`   // the address
	Did     Did      `json:"did"`
	What    string   `json:"what,omitempty"`    // the page, without what was looked for on it
	Reports []string `json:"reports,omitempty"` // ids of the reports of which something was shown or changed
	Records []string `json:"records,omitempty"` // ids of the samples
	Status  int      `json:"status,omitempty"`  // of the answer, of what was changed
	Prev    string   `json:"prev"`              // SHA-256 of the line before, without its end; 64 zeros of the first
}

// A Did is what somebody did.
type Did string

// What somebody may do.
const (
	SignedIn  Did = "signed in"
	SignedOut Did = "signed out"
	Saw       Did = "saw"
	Asked     Did = "asked to change" // noted before it is done
	Changed   Did = "changed"         // how that ended is the status
	Refused   Did = "was refused"
	Mended    Did = "log mended" // a line that a crash had torn was taken off
)

// zero is what the first line has for the hash of the one before.
var zero = strings.Repeat("0", 2*sha256.Size)

// longestEntry bounds a line, in bytes.
const longestEntry = 64 << 10

// flushAfter is how long a line that needs no more waits before it is on the
// disk.
const flushAfter = 2 * time.Second

// A Log is the log, open to be added to. It is safe for concurrent use, and by
// several processes at once, of which one writes at a time: each goes on behind
// what the others wrote, which must be lines of the same chain.
type Log struct {
	path string
	now  func() time.Time

	mu     sync.Mutex
	f      *os.File
	size   int64
	n      int64
	last   string // hash of the last line
	synced int64  // number of the last line that is on the disk for certain
	timer  *time.Timer
	broken error // why nothing can be added any more
}

// headName is the file that says how far the log must reach at least: without
// it, lines taken off the end would leave nothing behind.
func headName(path string) string { return path + ".head" }

// OpenLog opens the log at a path, or begins one. What a crash tore off in the
// middle of a line is taken away, and a line says so. A log that ends before it
// was on the disk once is not opened.
func OpenLog(path string, now func() time.Time) (*Log, error) {
	l := &Log{path: path, now: now, last: zero}
	var err error
	if l.f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o600); err != nil {
		return nil, l.amiss("the log of who saw and changed what can't be opened", ingest.Cause(err))
	}
	if fi, err := l.f.Stat(); err == nil && fi.Size() == 0 {
		if err := ownAs(l.f, filepath.Dir(path)); err != nil {
			return nil, errors.Join(l.amiss("the log of who saw and changed what can't be given to the account that its folder belongs to", ingest.Cause(err)), l.f.Close())
		}
	}
	unlock, err := lockWhole(l.f)
	if err != nil {
		return nil, errors.Join(l.amiss("the log of who saw and changed what can't be locked", ingest.Cause(err)), l.f.Close())
	}
	defer unlock()
	head, err := readHead(path)
	missing := errors.Is(err, fs.ErrNotExist)
	if err != nil && !missing {
		return nil, errors.Join(l.amiss("what says how far the log reaches can't be read", ingest.Cause(err)), l.f.Close())
	}
	torn, err := l.findEnd()
	switch {
	case err != nil:
		return nil, errors.Join(l.amiss("the log of who saw and changed what can't be read at its end", ingest.Cause(err)), l.f.Close())
	case missing && l.n > 0, !missing && (head.n > l.n || head.n == l.n && head.hash != l.last):
		_ = l.f.Close() // nothing was written
		return nil, l.amiss("lines are missing at the end of the log of who saw and changed what, or were changed", fmt.Sprintf("%d lines, where there were %d", l.n, head.n))
	}
	if missing {
		if err := writeHead(path, 0, zero); err != nil {
			return nil, errors.Join(l.amiss("the log of who saw and changed what can't be begun", ingest.Cause(err)), l.f.Close())
		}
	}
	l.synced = head.n
	if torn > 0 {
		if err := l.f.Truncate(l.size); err != nil {
			return nil, errors.Join(l.amiss("a line that was torn can't be taken off the log", ingest.Cause(err)), l.f.Close())
		}
		if err := l.mended(torn); err != nil {
			return nil, errors.Join(err, l.f.Close())
		}
	}
	return l, nil
}

func (l *Log) amiss(what, found string) *ingest.Reason {
	return &ingest.Reason{Code: "access-log", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(l.path)}, What: what, Found: found,
		Next: "see windrow access verify, the rights of the folder and whether its disk is full; to begin a new log, keep this one and " + filepath.Base(headName(l.path)) + " elsewhere"}
}

// findEnd reads the last whole line. torn is how many bytes stand behind it.
func (l *Log) findEnd() (torn int64, err error) {
	fi, err := l.f.Stat()
	if err != nil || fi.Size() == 0 {
		return 0, err
	}
	n := min(fi.Size(), 2*longestEntry)
	b := make([]byte, n)
	if _, err := l.f.ReadAt(b, fi.Size()-n); err != nil && !errors.Is(err, io.EOF) {
		return 0, err
	}
	end := bytes.LastIndexByte(b, '\n')
	if end < 0 {
		if n == fi.Size() { // the first line was torn
			return n, nil
		}
		return 0, errors.New("a line that is too long to be one of ours")
	}
	line := b[:end]
	line = line[bytes.LastIndexByte(line, '\n')+1:]
	e, err := parseEntry(line)
	if err != nil {
		return 0, err
	}
	l.size = fi.Size() - n + int64(end) + 1
	l.n, l.last = e.N, hashOf(line)
	return fi.Size() - l.size, nil
}

func hashOf(line []byte) string {
	h := sha256.Sum256(line)
	return hex.EncodeToString(h[:])
}

func parseEntry(line []byte) (Entry, error) {
	var e Entry
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return e, errors.New("it is no line of this log")
	}
	if d.More() || e.N < 1 || len(e.Prev) != len(zero) {
		return e, errors.New("it is no line of this log")
	}
	return e, nil
}

// Add puts a line at the end. With sure it is on the disk when Add returns. The
// error is an [*ingest.Reason]: then nothing may be shown or changed, since
// nobody would know.
func (l *Log) Add(e Entry, sure bool) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	unlock, err := l.take()
	if err != nil {
		return err
	}
	defer unlock()
	if err := l.write(e); err != nil {
		return err
	}
	if sure {
		return l.flush()
	}
	if l.timer == nil {
		l.timer = time.AfterFunc(flushAfter, func() {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.timer = nil
			if unlock, err := l.take(); err == nil { // else the next line says it
				defer unlock()
				_ = l.flush() // the next line that must be sure says it
			}
		})
	}
	return nil
}

// mended says that so many bytes of a torn line were taken off the end.
func (l *Log) mended(torn int64) error {
	if err := l.write(Entry{Did: Mended, What: fmt.Sprintf("%d bytes of a line that was not written to its end", torn)}); err != nil {
		return err
	}
	return l.flush()
}

// take has the log for this process, behind what others wrote into it.
func (l *Log) take() (unlock func(), err error) {
	if l.broken != nil {
		return nil, l.broken
	}
	unlock, err = lockWhole(l.f)
	if err != nil {
		return nil, l.amiss("the log of who saw and changed what can't be locked", ingest.Cause(err))
	}
	if at, err := os.Stat(l.path); err != nil || !same(l.f, at) {
		l.broken = l.amiss("the log of who saw and changed what was taken away while the program was running", "")
	} else if err := l.goOn(); err != nil {
		l.broken = err
	}
	if l.broken != nil {
		unlock()
		return nil, l.broken
	}
	return unlock, nil
}

// goOn reads what other processes wrote since. Only lines of the same chain can
// be theirs; one that its writer did not live to end is taken off.
func (l *Log) goOn() error {
	fi, err := l.f.Stat()
	foreign := l.amiss("another program wrote into the log of who saw and changed what, or took something away", "")
	switch {
	case err != nil || fi.Size() < l.size:
		return foreign
	case fi.Size() == l.size:
		return nil
	}
	b := make([]byte, fi.Size()-l.size)
	if _, err := l.f.ReadAt(b, l.size); err != nil {
		return foreign
	}
	for {
		line, rest, whole := bytes.Cut(b, []byte("\n"))
		if !whole {
			break
		}
		e, err := parseEntry(line)
		if err != nil || e.N != l.n+1 || e.Prev != l.last {
			return foreign
		}
		l.n, l.last, l.size, b = e.N, hashOf(line), l.size+int64(len(line))+1, rest
	}
	if len(b) == 0 {
		return nil
	}
	if !bytes.HasPrefix(b, []byte(`{"n":`)[:min(5, len(b))]) {
		return foreign
	}
	if err := l.f.Truncate(l.size); err != nil {
		return l.amiss("a line that was torn can't be taken off the log", ingest.Cause(err))
	}
	return l.mended(int64(len(b)))
}

// write puts a line at the end. The log must be taken.
func (l *Log) write(e Entry) error {
	e.N, e.At, e.Prev = l.n+1, l.now().UTC().Format("2006-01-02T15:04:05.000Z"), l.last
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(e); err != nil {
		return l.amiss("a line of the log can't be made", ingest.Cause(err))
	}
	if b.Len() > longestEntry {
		return l.amiss("a line of the log would be too long", fmt.Sprintf("%d bytes", b.Len()))
	}
	if _, err := l.f.Write(b.Bytes()); err != nil {
		// What was written of it goes again; where it can't, nothing more fits behind.
		if terr := l.f.Truncate(l.size); terr != nil {
			l.broken = l.amiss("the log of who saw and changed what can't be written", ingest.Cause(err))
		}
		return l.amiss("the log of who saw and changed what can't be written", ingest.Cause(err))
	}
	l.size += int64(b.Len())
	l.n, l.last = e.N, hashOf(bytes.TrimSuffix(b.Bytes(), []byte("\n")))
	return nil
}

func same(f *os.File, at os.FileInfo) bool {
	fi, err := f.Stat()
	return err == nil && os.SameFile(fi, at)
}

// flush brings all lines to the disk, and then says how far they reach: never
// further than they do. The log must be taken.
func (l *Log) flush() error {
	if l.synced == l.n {
		return nil
	}
	if err := l.f.Sync(); err != nil {
		return l.amiss("the log of who saw and changed what can't be brought to the disk", ingest.Cause(err))
	}
	if err := writeHead(l.path, l.n, l.last); err != nil {
		return l.amiss("how far the log of who saw and changed what reaches can't be written", ingest.Cause(err))
	}
	l.synced = l.n
	return nil
}

// Close brings all to the disk and ends the log. A nil Log has nothing to close.
func (l *Log) Close() error {
	if l == nil {
		return nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.timer != nil {
		l.timer.Stop()
	}
	var err error
	if l.synced != l.n {
		unlock, terr := l.take()
		if err = terr; err == nil {
			err = l.flush()
			unlock()
		}
	}
	l.broken = l.amiss("the log of who saw and changed what is closed", "")
	return errors.Join(err, l.f.Close())
}

// A head says how far a log reaches.
type head struct {
	n    int64
	hash string
}

func readHead(path string) (head, error) {
	b, err := os.ReadFile(headName(path))
	if err != nil {
		return head{}, err
	}
	var h head
	if _, err := fmt.Sscanf(string(b), "%d %s\n", &h.n, &h.hash); err != nil || len(h.hash) != len(zero) || h.n < 0 {
		return head{}, errors.New("it does not hold a number and a hash")
	}
	return h, nil
}

func writeHead(path string, n int64, hash string) error {
	return writeWhole(headName(path), fmt.Appendf(nil, "%d %s\n", n, hash))
}
