package xls

import (
	"bytes"
	"math"
	"testing"
	"unicode/utf16"
)

// The builders below write just enough of a workbook for the tests of what no
// program at hand would write.

// rec is one record.
func rec(id int, data ...byte) []byte {
	return append([]byte{byte(id), byte(id >> 8), byte(len(data)), byte(len(data) >> 8)}, data...)
}

func u16(v ...int) []byte {
	var out []byte
	for _, x := range v {
		out = append(out, byte(x), byte(x>>8))
	}
	return out
}

func u32(v int) []byte { return []byte{byte(v), byte(v >> 8), byte(v >> 16), byte(v >> 24)} }

func f64(v float64) []byte { return le.AppendUint64(nil, math.Float64bits(v)) }

func join(p ...[]byte) []byte { return bytes.Join(p, nil) }

func bof(version, kind int) []byte { return rec(recBOF, join(u16(version, kind), make([]byte, 12))...) }

var eof = rec(recEOF)

// narrow is a text of one byte a character, with its length in front.
func narrow(s string) []byte { return join(u16(len(s)), []byte{0}, []byte(s)) }

func wide(s string) []byte {
	u := utf16.Encode([]rune(s))
	out := append(u16(len(u)), 1)
	for _, x := range u {
		out = append(out, u16(int(x))...)
	}
	return out
}

// part is the make-up of a workbook: records of the shared part, and of one
// sheet.
type part struct {
	shared, cells [][]byte
}

// stream lays out a workbook of one sheet called S, with ten styles of the
// format General and the eleventh of format 14, a date.
func (p part) stream() []byte {
	head := [][]byte{bof(0x0600, 5)}
	for range 10 {
		head = append(head, rec(recXF, make([]byte, 20)...))
	}
	head = append(head, rec(recXF, join(u16(0, 14), make([]byte, 16))...))
	head = append(head, p.shared...)
	name := rec(recBoundSheet, join(u32(0), []byte{0, 0, 1, 0}, []byte("S"))...)
	before := len(join(head...)) + len(name) + len(eof)
	name = rec(recBoundSheet, join(u32(before), []byte{0, 0, 1, 0}, []byte("S"))...)
	sheet := join(bof(0x0600, 0x10), join(p.cells...), eof)
	return join(join(head...), name, eof, sheet)
}

func (p part) file(t testing.TB) []byte { return compound(t, "Workbook", p.stream()) }

// compound wraps one stream in a compound file of version 3 ([MS-CFB]). The
// stream is filled up so that it needs no small sectors.
func compound(t testing.TB, name string, stream []byte) []byte {
	t.Helper()
	for len(stream) < 4096 || len(stream)%512 != 0 {
		stream = append(stream, 0)
	}
	n := len(stream) / 512
	fats := (n+1)/127 + 1
	if fats > 109 {
		t.Fatal("the stream is too long for this builder")
	}
	// Sectors: the tables, then the directory, then the stream.
	head := make([]byte, 512)
	copy(head, compoundFile)
	le.PutUint16(head[24:], 0x3E)
	le.PutUint16(head[26:], 3)
	le.PutUint16(head[28:], 0xFFFE)
	le.PutUint16(head[30:], 9)
	le.PutUint16(head[32:], 6)
	le.PutUint32(head[44:], uint32(fats))
	le.PutUint32(head[48:], uint32(fats)) // the directory
	le.PutUint32(head[56:], 4096)
	le.PutUint32(head[60:], 0xFFFFFFFE)
	le.PutUint32(head[68:], 0xFFFFFFFE)
	for i := range 109 {
		v := uint32(0xFFFFFFFF)
		if i < fats {
			v = uint32(i)
		}
		le.PutUint32(head[76+4*i:], v)
	}
	fat := make([]byte, fats*512)
	for i := range fats * 128 {
		v := uint32(0xFFFFFFFF)
		switch {
		case i < fats:
			v = 0xFFFFFFFD
		case i == fats || i == fats+n:
			v = 0xFFFFFFFE
		case i < fats+n:
			v = uint32(i + 1)
		}
		le.PutUint32(fat[4*i:], v)
	}
	dir := make([]byte, 512)
	entry := func(at int, name string, kind byte, child, start, size uint32) {
		e := dir[at*128 : at*128+128]
		u := utf16.Encode([]rune(name))
		for i, x := range u {
			le.PutUint16(e[2*i:], x)
		}
		le.PutUint16(e[64:], uint16(2*len(u)+2))
		e[66], e[67] = kind, 1
		le.PutUint32(e[68:], 0xFFFFFFFF)
		le.PutUint32(e[72:], 0xFFFFFFFF)
		le.PutUint32(e[76:], child)
		le.PutUint32(e[116:], start)
		le.PutUint32(e[120:], size)
	}
	entry(0, "Root Entry", 5, 1, 0xFFFFFFFE, 0)
	entry(1, name, 2, 0xFFFFFFFF, uint32(fats+1), uint32(len(stream)))
	return join(head, fat, dir, stream)
}
