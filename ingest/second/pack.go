package second

import (
	"encoding/binary"
	"math"
	"slices"

	"example.org/windrow/ingest"
)

// The characters of a file go from one process to another as bytes rather than
// as a document: a page has thousands, and to describe each as a word takes as
// long as a fifth of finding them. For each page stand its width, its height
// and the number of its characters; for each of these, the character and the
// four sides of its box. All are varints; lengths are in thousandths of a
// point, to which they are rounded.

// appendPage adds a page with its characters; blanks are left out.
func appendPage(b []byte, width, height float64, glyphs []glyph) []byte {
	b = appendLength(appendLength(b, width), height)
	n := 0
	for i := range glyphs {
		if glyphs[i].text != ' ' {
			n++
		}
	}
	b = slices.Grow(binary.AppendUvarint(b, uint64(n)), n*usualPacked)
	for i := range glyphs {
		g := &glyphs[i]
		if g.text == ' ' {
			continue
		}
		b = binary.AppendUvarint(b, uint64(g.text))
		for _, v := range [...]float64{g.box.X0, g.box.Y0, g.box.X1, g.box.Y1} {
			b = appendLength(b, v)
		}
	}
	return b
}

// usualPacked is how many bytes most characters take, and leastPacked how many
// each takes at least.
const (
	usualPacked = 14
	leastPacked = 5
)

func appendLength(b []byte, v float64) []byte {
	return binary.AppendVarint(b, int64(math.Round(v*1000)))
}

// unpack makes pages of what appendPage wrote, each with a word for every
// character. It is false where the bytes are no such thing.
func unpack(b []byte) (pages []*ingest.Page, ok bool) {
	length := func() float64 {
		v, n := binary.Varint(b)
		if n <= 0 {
			ok = false
			return 0
		}
		b = b[n:]
		return float64(v) / 1000
	}
	count := func() uint64 {
		v, n := binary.Uvarint(b)
		if n <= 0 {
			ok = false
			return 0
		}
		b = b[n:]
		return v
	}
	for ok = true; ok && len(b) > 0; {
		p := &ingest.Page{Number: len(pages) + 1, Width: length(), Height: length()}
		n := count()
		if !ok || n > uint64(len(b)/leastPacked) {
			return nil, false
		}
		p.Words = make([]ingest.Word, n)
		for i := range p.Words {
			w := &p.Words[i]
			w.Text = character(rune(count()))
			w.Box = ingest.Box{X0: length(), Y0: length(), X1: length(), Y1: length()}
		}
		pages = append(pages, p)
	}
	return pages, ok
}

// ascii has the characters that nearly all text is made of, so that not each
// of them has memory of its own.
var ascii = func() (s [0x80]string) {
	for i := range s {
		s[i] = string(rune(i))
	}
	return s
}()

func character(c rune) string {
	if c >= 0 && int(c) < len(ascii) {
		return ascii[c]
	}
	return string(c)
}
