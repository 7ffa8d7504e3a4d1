package xls

import (
	"encoding/binary"
	"errors"
	"math"
	"unicode/utf16"
)

var le = binary.LittleEndian

// The kinds of record that matter here ([MS-XLS] 2.3.1).
const (
	recFormula     = 0x0006
	recEOF         = 0x000A
	recDate1904    = 0x0022
	recFilePass    = 0x002F
	recNote        = 0x001C
	recFont        = 0x0031
	recContinue    = 0x003C
	recObj         = 0x005D
	recColInfo     = 0x007D
	recBoundSheet  = 0x0085
	recMulRK       = 0x00BD
	recRString     = 0x00D6
	recXF          = 0x00E0
	recMergeCells  = 0x00E5
	recSST         = 0x00FC
	recLabelSST    = 0x00FD
	recTxO         = 0x01B6
	recNumber      = 0x0203
	recLabel       = 0x0204
	recBoolErr     = 0x0205
	recString      = 0x0207
	recRow         = 0x0208
	recDefaultRow  = 0x0225
	recRK          = 0x027E
	recFormat      = 0x041E
	recBOF         = 0x0809
	versionOfBIFF8 = 0x0600
)

var errShort = errors.New("a record is shorter than its kind allows")

// A record is one record with the pieces that continue it.
type record struct {
	id   int
	data []byte   // of the first piece
	more [][]byte // of the CONTINUE records behind it
}

// nextRecord reads the record at pos and gives the position after it and its
// continuations.
func nextRecord(b []byte, pos int) (record, int, error) {
	piece := func(at int) (int, []byte, int, error) {
		if at < 0 || at+4 > len(b) {
			return 0, nil, 0, errShort
		}
		id, n := int(le.Uint16(b[at:])), int(le.Uint16(b[at+2:]))
		if at+4+n > len(b) {
			return 0, nil, 0, errShort
		}
		return id, b[at+4 : at+4+n], at + 4 + n, nil
	}
	id, data, next, err := piece(pos)
	if err != nil {
		return record{}, 0, err
	}
	r := record{id: id, data: data}
	for next+4 <= len(b) && int(le.Uint16(b[next:])) == recContinue {
		_, d, after, err := piece(next)
		if err != nil {
			return record{}, 0, err
		}
		r.more = append(r.more, d)
		next = after
	}
	return r, next, nil
}

// A reader walks over the pieces of a record.
type reader struct {
	piece []byte
	more  [][]byte
	pos   int
	fonts []int // of the parts of the text that was read last
}

func (r record) reader(skip int) *reader { return &reader{piece: r.data, more: r.more, pos: skip} }

// turn goes on to the next piece; false when there is none.
func (r *reader) turn() bool {
	if len(r.more) == 0 {
		return false
	}
	r.piece, r.more, r.pos = r.more[0], r.more[1:], 0
	return true
}

// skip passes over n bytes, through pieces.
func (r *reader) skip(n int) error {
	for n > 0 {
		if r.pos >= len(r.piece) {
			if !r.turn() {
				return errShort
			}
			continue
		}
		k := min(n, len(r.piece)-r.pos)
		r.pos += k
		n -= k
	}
	return nil
}

// bytes gives n bytes, which may be at most eight, through pieces.
func (r *reader) bytes(n int) ([8]byte, error) {
	var out [8]byte
	for i := 0; i < n; {
		if r.pos >= len(r.piece) {
			if !r.turn() {
				return out, errShort
			}
			continue
		}
		out[i] = r.piece[r.pos]
		r.pos++
		i++
	}
	return out, nil
}

func (r *reader) u8() (int, error) {
	b, err := r.bytes(1)
	return int(b[0]), err
}

func (r *reader) u16() (int, error) {
	b, err := r.bytes(2)
	return int(le.Uint16(b[:])), err
}

func (r *reader) u32() (uint32, error) {
	b, err := r.bytes(4)
	return le.Uint32(b[:]), err
}

// text reads a string of n characters with the byte of flags before them
// ([MS-XLS] 2.5.293 XLUnicodeRichExtendedString and its simpler kin): one or
// two bytes a character, then runs of fonts and phonetic data, which are
// passed over. Characters that go on in the next piece begin there with a
// byte of flags of their own, so that the width may change in mid-string.
func (r *reader) text(n int) (string, error) {
	flags, err := r.u8()
	if err != nil {
		return "", err
	}
	after, runs := 0, 0
	r.fonts = r.fonts[:0]
	if flags&8 != 0 {
		if runs, err = r.u16(); err != nil {
			return "", err
		}
	}
	if flags&4 != 0 {
		k, err := r.u32()
		if err != nil || k > math.MaxInt32 {
			return "", errShort
		}
		after = int(k)
	}
	wide := flags&1 != 0
	units := make([]uint16, 0, min(n, 4096))
	for len(units) < n {
		if r.pos >= len(r.piece) {
			if !r.turn() || len(r.piece) == 0 {
				return "", errShort
			}
			wide = r.piece[0]&1 != 0
			r.pos = 1
			continue
		}
		if !wide {
			units = append(units, uint16(r.piece[r.pos]))
			r.pos++
			continue
		}
		if r.pos+2 > len(r.piece) {
			return "", errShort
		}
		units = append(units, le.Uint16(r.piece[r.pos:]))
		r.pos += 2
	}
	for range runs {
		if err := r.skip(2); err != nil {
			return "", err
		}
		font, err := r.u16()
		if err != nil {
			return "", err
		}
		r.fonts = append(r.fonts, font)
	}
	if err := r.skip(after); err != nil {
		return "", err
	}
	return string(utf16.Decode(units)), nil
}

// rk unpacks a number of four bytes ([MS-XLS] 2.5.217 RkNumber): 30 bits of
// a whole number or of the top of a float64, and whether to divide by 100.
func rk(v uint32) float64 {
	var f float64
	if v&2 != 0 {
		f = float64(int32(v) >> 2)
	} else {
		f = math.Float64frombits(uint64(v&^3) << 32)
	}
	if v&1 != 0 {
		f /= 100
	}
	return f
}

// errorText is the text of an error code ([MS-XLS] 2.5.10 BErr).
var errorText = map[byte]string{0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!", 0x2A: "#N/A", 0x2B: "#GETTING_DATA"}
