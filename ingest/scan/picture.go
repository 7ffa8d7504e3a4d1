package scan

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"

	"golang.org/x/image/tiff"
)

const (
	// MostPixels bounds a picture: 40 million, or a sheet of 16 by 11 inches
	// at 480 dots an inch.
	MostPixels = 40_000_000
	// leastPixels is what the longer side of a report has at least; less is a
	// logo or a stamp from a mail.
	leastPixels = 300
	// A picture that says less, or more, doesn't know its size.
	leastDots = 100.0
	mostDots  = 1300.0
	// letterLong is the longer side of a letter in inches, which pictures are
	// taken to show that don't know their size.
	letterLong = 11.0
	// mostTIFF bounds the pages of a TIFF.
	mostTIFF = 500
)

// A picture is one page as it came.
type picture struct {
	grey *image.Gray
	dpi  float64
}

// kindOf tells the kinds of picture that can be decoded by their first bytes.
func kindOf(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		return "jpeg"
	case bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")):
		return "png"
	case bytes.HasPrefix(b, []byte("II*\x00")), bytes.HasPrefix(b, []byte("MM\x00*")):
		return "tiff"
	}
	return ""
}

// pictures is how many pages a picture has.
func pictures(b []byte) int {
	if kindOf(b) == "tiff" {
		return len(tiffPages(b))
	}
	return 1
}

// decode makes a grey picture of a page, from 1. It may panic with a stop.
func decode(b []byte, page int) picture {
	kind := kindOf(b)
	if kind == "tiff" {
		pages := tiffPages(b)
		if page > len(pages) {
			abandon(damagedPicture())
		}
		if page > 1 {
			b = bytes.Clone(b)
			order(b).PutUint32(b[4:], pages[page-1])
		}
	}
	var conf image.Config
	var err error
	switch kind {
	case "jpeg":
		conf, err = jpeg.DecodeConfig(bytes.NewReader(b))
	case "png":
		conf, err = png.DecodeConfig(bytes.NewReader(b))
	case "tiff":
		conf, err = tiff.DecodeConfig(bytes.NewReader(b))
	default:
		abandon(notAPicture())
	}
	if err != nil || conf.Width < 1 || conf.Height < 1 {
		abandon(damagedPicture())
	}
	if n := float64(conf.Width) * float64(conf.Height); n > MostPixels {
		abandon(tooManyPixels(n))
	}
	if max(conf.Width, conf.Height) < leastPixels {
		abandon(tooFewPixels(conf.Width, conf.Height))
	}
	var m image.Image
	switch kind {
	case "jpeg":
		m, err = jpeg.Decode(bytes.NewReader(b))
	case "png":
		m, err = png.Decode(bytes.NewReader(b))
	case "tiff":
		m, err = tiff.Decode(bytes.NewReader(b))
	}
	if err != nil || m == nil {
		abandon(damagedPicture())
	}
	g := grey(m)
	w, h := g.Rect.Dx(), g.Rect.Dy()
	dpi := dots(kind, b)
	long := float64(max(w, h))
	if dpi < leastDots || dpi > mostDots || long/dpi < 3 || long/dpi > 34 {
		dpi = long / letterLong
	}
	return picture{g, dpi}
}

// grey is a picture in grey, on white where it lets something through.
func grey(m image.Image) *image.Gray {
	b := m.Bounds()
	if g, ok := m.(*image.Gray); ok && b.Min == (image.Point{}) {
		return g
	}
	out := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	if y, ok := m.(*image.YCbCr); ok {
		for r := range b.Dy() {
			at := y.YOffset(b.Min.X, b.Min.Y+r)
			copy(out.Pix[r*out.Stride:], y.Y[at:at+b.Dx()])
		}
		return out
	}
	draw.Draw(out, out.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, m, b.Min, draw.Over)
	return out
}

// dots is the resolution that a picture states in dots an inch, 0 for none.
func dots(kind string, b []byte) float64 {
	switch kind {
	case "jpeg": // JFIF 1.02: APP0 "JFIF\0", version, units, Xdensity
		i := bytes.Index(b[:min(len(b), 64)], []byte("JFIF\x00"))
		if i < 0 || i+10 > len(b) {
			return 0
		}
		x := float64(binary.BigEndian.Uint16(b[i+8:]))
		switch b[i+7] {
		case 1:
			return x
		case 2:
			return x * 2.54
		}
	case "png": // pHYs: pixels per unit, X, Y, unit (1 = metre); before IDAT
		i := bytes.Index(b[:min(len(b), 1<<16)], []byte("pHYs"))
		if i < 0 || i+13 > len(b) || b[i+12] != 1 {
			return 0
		}
		return math.Round(float64(binary.BigEndian.Uint32(b[i+4:]))*0.0254*10) / 10
	case "tiff": // tags 282 XResolution (rational), 296 ResolutionUnit (2 = inch, 3 = cm)
		x, unit := tiffRational(b, 282), tiffShort(b, 296)
		if unit == 3 {
			return x * 2.54
		}
		if unit != 1 {
			return x
		}
	}
	return 0
}

func order(b []byte) binary.ByteOrder {
	if b[0] == 'M' {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

// tiffPages are the places of a TIFF's page tables (TIFF 6.0, section 2). The
// decoder reads only the first, but a report may go on.
func tiffPages(b []byte) []uint32 {
	if len(b) < 8 {
		abandon(damagedPicture())
	}
	o := order(b)
	var all []uint32
	for at := o.Uint32(b[4:]); at != 0; {
		if len(all) == mostTIFF || uint64(at)+2 > uint64(len(b)) {
			abandon(damagedPicture())
		}
		for _, seen := range all {
			if seen == at {
				abandon(damagedPicture())
			}
		}
		all = append(all, at)
		next := uint64(at) + 2 + 12*uint64(o.Uint16(b[at:]))
		if next+4 > uint64(len(b)) {
			abandon(damagedPicture())
		}
		at = o.Uint32(b[next:])
	}
	if len(all) == 0 {
		abandon(damagedPicture())
	}
	return all
}

// tiffEntry is the value field of a tag of the first page, nil for none.
func tiffEntry(b []byte, tag uint16) []byte {
	if len(b) < 8 {
		return nil
	}
	o := order(b)
	at := uint64(o.Uint32(b[4:]))
	if at+2 > uint64(len(b)) {
		return nil
	}
	for i := range uint64(o.Uint16(b[at:])) {
		e := at + 2 + 12*i
		if e+12 > uint64(len(b)) {
			return nil
		}
		if o.Uint16(b[e:]) == tag {
			return b[e+8 : e+12]
		}
	}
	return nil
}

func tiffShort(b []byte, tag uint16) int {
	if e := tiffEntry(b, tag); e != nil {
		return int(order(b).Uint16(e))
	}
	return 2
}

func tiffRational(b []byte, tag uint16) float64 {
	e := tiffEntry(b, tag)
	if e == nil {
		return 0
	}
	o := order(b)
	at := uint64(o.Uint32(e))
	if at+8 > uint64(len(b)) {
		return 0
	}
	n, d := o.Uint32(b[at:]), o.Uint32(b[at+4:])
	if d == 0 {
		return 0
	}
	return float64(n) / float64(d)
}
