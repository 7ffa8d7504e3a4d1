package dataset

import (
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// A sorter puts rows in order of their sample's code without holding more
// than a bound of them in memory: it deals them into 256 heaps by the first
// two digits of the code, which are evenly spread, and writes the heaps to
// files when they grow too large.
type sorter struct {
	dir    string
	name   string // of the table, for its files
	width  int    // fields of a row
	limit  int    // bytes in memory
	size   int
	heaps  [256]bytes.Buffer
	onDisk bool
}

func (s *sorter) add(r row) error {
	n, err := strconv.ParseUint(r.fields[colSample][:2], 16, 8)
	if err != nil {
		return err
	}
	h := &s.heaps[n]
	before := h.Len()
	writeText(h, r.order)
	for _, f := range r.fields {
		writeText(h, f)
	}
	s.size += h.Len() - before
	if s.size < s.limit {
		return nil
	}
	return s.spill()
}

func writeText(b *bytes.Buffer, s string) {
	var n [binary.MaxVarintLen64]byte
	b.Write(n[:binary.PutUvarint(n[:], uint64(len(s)))])
	b.WriteString(s)
}

func (s *sorter) heapFile(i int) string { return filepath.Join(s.dir, "heap-"+s.name+strconv.Itoa(i)) }

func (s *sorter) spill() error {
	for i := range s.heaps {
		if s.heaps[i].Len() == 0 {
			continue
		}
		f, err := os.OpenFile(s.heapFile(i), os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
		if err != nil {
			return err
		}
		_, err = s.heaps[i].WriteTo(f)
		if c := f.Close(); err == nil {
			err = c
		}
		if err != nil {
			return err
		}
	}
	s.size, s.onDisk = 0, true
	return nil
}

// each visits all rows in order.
func (s *sorter) each(visit func(row) error) error {
	for i := range s.heaps {
		var b []byte
		if s.onDisk {
			var err error
			if b, err = os.ReadFile(s.heapFile(i)); err != nil && !os.IsNotExist(err) {
				return err
			}
		}
		b = append(b, s.heaps[i].Bytes()...)
		rows, err := parseRows(b, s.width)
		if err != nil {
			return err
		}
		slices.SortFunc(rows, func(x, y row) int {
			if c := strings.Compare(x.fields[colSample], y.fields[colSample]); c != 0 {
				return c
			}
			if c := strings.Compare(x.order, y.order); c != 0 {
				return c
			}
			return slices.Compare(x.fields, y.fields)
		})
		for _, r := range rows {
			if err := visit(r); err != nil {
				return err
			}
		}
	}
	return nil
}

func parseRows(b []byte, width int) (rows []row, err error) {
	err = eachRow(b, width, func(r row) error { rows = append(rows, r); return nil })
	return rows, err
}

// eachRow visits the rows that writeText wrote.
func eachRow(b []byte, width int, visit func(row) error) error {
	next := func() (string, error) {
		n, w := binary.Uvarint(b)
		if w <= 0 || n > uint64(len(b)-w) {
			return "", io.ErrUnexpectedEOF
		}
		s := string(b[w : w+int(n)])
		b = b[w+int(n):]
		return s, nil
	}
	for len(b) > 0 {
		r := row{fields: make([]string, width)}
		var err error
		if r.order, err = next(); err != nil {
			return err
		}
		for i := range r.fields {
			if r.fields[i], err = next(); err != nil {
				return err
			}
		}
		if err := visit(r); err != nil {
			return err
		}
	}
	return nil
}
