package scan

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"testing"

	"example.org/windrow/ingest"
	"golang.org/x/image/tiff"
)

// tiffOf is a TIFF of several pages: the encoder writes one, so each is
// written by itself and hung behind the one before.
func tiffOf(pages ...image.Image) []byte {
	var out []byte
	var hook int // where the place of the next page table goes
	for i, p := range pages {
		var b bytes.Buffer
		if err := tiff.Encode(&b, p, nil); err != nil {
			panic(err)
		}
		one := b.Bytes()
		base := uint32(len(out))
		at := binary.LittleEndian.Uint32(one[4:])
		n := int(binary.LittleEndian.Uint16(one[at:]))
		for k := range n {
			e := one[int(at)+2+12*k:]
			tag, kind, count := binary.LittleEndian.Uint16(e), binary.LittleEndian.Uint16(e[2:]), binary.LittleEndian.Uint32(e[4:])
			width := map[uint16]uint32{1: 1, 2: 1, 3: 2, 4: 4, 5: 8}[kind]
			if width*count > 4 || tag == 273 { // a place, or the places of the strips
				if tag == 273 && count > 1 {
					panic("several strips")
				}
				binary.LittleEndian.PutUint32(e[8:], binary.LittleEndian.Uint32(e[8:])+base)
			}
		}
		if i > 0 {
			binary.LittleEndian.PutUint32(out[hook:], at+base)
		}
		hook = int(base) + int(at) + 2 + 12*n
		out = append(out, one...)
	}
	return out
}

func TestTIFFPages(t *testing.T) {
	a, b := white(60, 320), white(330, 40)
	a.Pix[5], b.Pix[7] = 0, 0
	file := tiffOf(a, b)
	if n := pictures(file); n != 2 {
		t.Fatalf("%d pages", n)
	}
	if p := decode(file, 1); p.grey.Rect != a.Rect || p.grey.Pix[5] != 0 {
		t.Errorf("page 1 is %v", p.grey.Rect)
	}
	if p := decode(file, 2); p.grey.Rect != b.Rect || p.grey.Pix[7] != 0 {
		t.Errorf("page 2 is %v", p.grey.Rect)
	}
	// A chain of page tables that leads back to itself.
	loop := bytes.Clone(file)
	at := binary.LittleEndian.Uint32(loop[4:])
	n := uint32(binary.LittleEndian.Uint16(loop[at:]))
	binary.LittleEndian.PutUint32(loop[at+2+12*n:], at)
	if r := caught(func() { pictures(loop) }); r == nil || r.Code != "damaged" {
		t.Errorf("a circle of pages: %v", r)
	}
}

func caught(f func()) (r *ingest.Reason) {
	defer func() {
		if s, ok := recover().(stop); ok {
			r = s.reason
		}
	}()
	f()
	return nil
}

// TestDots finds how large a picture is, or takes it for a letter.
func TestDots(t *testing.T) {
	g := white(1700, 2200)
	var b bytes.Buffer
	if err := png.Encode(&b, g); err != nil {
		t.Fatal(err)
	}
	if p := decode(b.Bytes(), 1); p.dpi != 200 {
		t.Errorf("a picture that says nothing has %v dots an inch, want 200", p.dpi)
	}
	if p := decode(withSize(b.Bytes(), 11811), 1); p.dpi != 300 {
		t.Errorf("11811 a metre are %v dots an inch, want 300", p.dpi)
	}
	if p := decode(withSize(b.Bytes(), 2835), 1); p.dpi != 200 { // 72: what cameras say
		t.Errorf("a picture that says 72 has %v dots an inch, want 200", p.dpi)
	}
	jfif := []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x01\x00\xc8\x00\xc8\x00\x00")
	if d := dots("jpeg", jfif); d != 200 {
		t.Errorf("a JPEG of 200 dots an inch has %v", d)
	}
	jfif[13], jfif[15] = 2, 118
	if d := dots("jpeg", jfif); d < 299 || d > 300 {
		t.Errorf("a JPEG of 118 dots a centimetre has %v an inch", d)
	}
}

// withSize has a PNG say how many dots a metre it has.
func withSize(b []byte, dots uint32) []byte {
	chunk := binary.BigEndian.AppendUint32([]byte("pHYs"), dots)
	chunk = append(binary.BigEndian.AppendUint32(chunk, dots), 1)
	all := append([]byte{0, 0, 0, 9}, chunk...)
	all = binary.BigEndian.AppendUint32(all, crc32.ChecksumIEEE(chunk))
	return append(append(bytes.Clone(b[:33]), all...), b[33:]...)
}

// TestGrey puts what is see-through on white paper.
func TestGrey(t *testing.T) {
	m := image.NewNRGBA(image.Rect(3, 4, 6, 6))
	m.SetNRGBA(3, 4, color.NRGBA{0, 0, 0, 255})
	m.SetNRGBA(4, 4, color.NRGBA{0, 0, 0, 0})
	m.SetNRGBA(5, 4, color.NRGBA{255, 255, 255, 255})
	g := grey(m)
	if g.Rect != image.Rect(0, 0, 3, 2) || g.Pix[0] != 0 || g.Pix[1] != 255 || g.Pix[2] != 255 {
		t.Errorf("got %v %v", g.Rect, g.Pix)
	}
}

// TestTooFewPixels doesn't blow a stamp up to a page.
func TestTooFewPixels(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, white(120, 60)); err != nil {
		t.Fatal(err)
	}
	if r := caught(func() { decode(b.Bytes(), 1) }); r == nil || r.Code != "scan-unreadable" || r.Severity != ingest.Hold {
		t.Errorf("120 by 60 dots: %v", r)
	}
}

// TestTooManyPixels refuses a picture by what its head says, before any of it
// is unpacked.
func TestTooManyPixels(t *testing.T) {
	head := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	body := binary.BigEndian.AppendUint32([]byte("IHDR"), 60000)
	body = binary.BigEndian.AppendUint32(body, 60000)
	body = append(body, 8, 0, 0, 0, 0)
	file := append(head[:12:12], body...)
	file = binary.BigEndian.AppendUint32(file, crc32.ChecksumIEEE(body))
	if r := caught(func() { decode(file, 1) }); r == nil || r.Code != "too-large" {
		t.Errorf("3600 million pixels: %v", r)
	}
}

// FuzzPicture gives bytes to all that looks at them: a picture, or a reason.
func FuzzPicture(f *testing.F) {
	for _, k := range []string{"jpeg", "png", "tiff"} {
		b := small(f, k)
		f.Add(b[:min(len(b), 2000)])
	}
	tiny := white(310, 40)
	tiny.Pix[800] = 0
	f.Add(tiffOf(tiny, tiny))
	f.Add([]byte("II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		var p picture
		r := caught(func() {
			defer func() { // what a decoder panics with is its own
				if x := recover(); x != nil {
					if _, ok := x.(stop); !ok {
						x = stop{damagedPicture()}
					}
					panic(x)
				}
			}()
			for n := 1; n <= min(3, pictures(b)); n++ {
				p = decode(b, n)
			}
		})
		if (r == nil) == (p.grey == nil) && r == nil {
			t.Fatal("neither a picture nor a reason")
		}
		if r != nil {
			if r.Code == "" || r.What == "" || r.Next == "" {
				t.Fatalf("the reason is %v", r)
			}
			return
		}
		w, h := p.grey.Rect.Dx(), p.grey.Rect.Dy()
		if w < 1 || h < 1 || w*h > MostPixels || len(p.grey.Pix) < w*h {
			t.Fatalf("a picture of %d by %d", w, h)
		}
		if inches := float64(max(w, h)) / p.dpi; !(inches > 2 && inches < 40) {
			t.Fatalf("%d by %d dots at %v an inch", w, h, p.dpi)
		}
	})
}

// TestTIFF reads every page of a TIFF.
func TestTIFF(t *testing.T) {
	d, err := New(Options{Prepare: NewWorker(nil).Do, Recognise: fake(letter...)}).Read(t.Context(), ingest.NewSource("a.tif", small(t, "tiff")), ingest.Limits{})
	if err != nil || len(d.Pages) != 2 || find(d.Pages[1].Words, "Phosphorus") == nil {
		t.Fatalf("got %v, %v", d, err)
	}
	if _, err := New(Options{Prepare: NewWorker(nil).Do, Recognise: fake(letter...)}).Read(t.Context(), ingest.NewSource("a.tif", small(t, "tiff")), ingest.Limits{Pages: 1}); err == nil || ingest.AsReason(err).Code != "too-large" {
		t.Errorf("two pages where one is allowed: %v", err)
	}
}
