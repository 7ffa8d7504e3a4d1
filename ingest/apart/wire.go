package apart

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"slices"

	"example.org/windrow/ingest"
)

// Between parent and child, each message is a frame: its length as eight
// bytes, big endian, and its bytes. A request is two frames, a jobHead as
// JSON and the bytes of the file; an answer is one frame of a gob stream that
// lasts as long as the child, so that the types are described once.

// A jobHead says what to read, apart from its bytes.
type jobHead struct {
	Format ingest.Format
	Name   string
	Member string
	SHA256 string
	Limits ingest.Limits
	Millis int64 // of wall time that are left
	Work   bool  // for a worker, which takes Args
	Args   []byte
}

// An answer has a document, bytes or a reason.
type answer struct {
	Document *ingest.Document
	Reason   *ingest.Reason
	Data     []byte
}

var errTooLong = errors.New("the message is longer than allowed")

func writeFrame(w io.Writer, b []byte) error {
	var n [8]byte
	binary.BigEndian.PutUint64(n[:], uint64(len(b)))
	if _, err := w.Write(n[:]); err != nil {
		return err
	}
	_, err := w.Write(b)
	return err
}

// readFrame reads a frame of at most so many bytes into buf, which grows as
// bytes come in rather than as the length promises.
func readFrame(r io.Reader, most int64, buf []byte) ([]byte, error) {
	var n [8]byte
	if _, err := io.ReadFull(r, n[:]); err != nil {
		return nil, err
	}
	size := binary.BigEndian.Uint64(n[:])
	if size > uint64(most) {
		return nil, errTooLong
	}
	const step = 1 << 20
	buf = slices.Grow(buf[:0], int(min(size, step)))
	for left := int(size); left > 0; {
		k := min(left, step)
		at := len(buf)
		for cap(buf) < at+k {
			buf = append(buf[:cap(buf)], 0)
		}
		buf = buf[:at+k]
		if _, err := io.ReadFull(r, buf[at:]); err != nil {
			return nil, err
		}
		left -= k
	}
	return buf, nil
}

func (h *jobHead) encode() []byte {
	b, err := json.Marshal(h)
	if err != nil {
		panic(err) // strings and integers always encode
	}
	return b
}
