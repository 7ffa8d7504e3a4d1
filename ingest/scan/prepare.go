package scan

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"math"
	"strconv"
	"time"

	"example.org/windrow/ingest"
)

// Format is the name under which a [Worker] is offered to other processes.
const Format ingest.Format = "picture"

// A way of preparing a page for the recogniser, and of having it read. The
// two differ in all that can be chosen: resolution, grey or black and white,
// and how the recogniser looks for lines of text. Of what was tried on the
// sample scans, and on sample pages made into bad scans, they have the most
// numbers alike, and none that is wrong.
type way struct {
	dpi    float64
	binary bool
	psm    int // how the page is cut into lines: 6 takes a block of lines, 11 looks for text anywhere
}

var ways = [2]way{{dpi: 250, psm: 11}, {dpi: 300, binary: true, psm: 6}}

// asItCame is no way of preparing: the picture is set straight and no more,
// for a person to look at, who is to see the specks and lines as well.
const (
	asItCame = -1
	shownDPI = 150.0
)

// A Drawer draws the pages of PDF files. With no dpi it draws at that of the
// picture on the page.
type Drawer interface {
	Count(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords ...string) (int, error)
	Grey(ctx context.Context, src *ingest.Source, lim ingest.Limits, page int, dpi float64, passwords ...string) (*image.Gray, float64, error)
}

// A Worker prepares pages. It does all that touches the bytes of the file, so
// that it can run in a process set apart, and runs no program.
type Worker struct {
	draw Drawer // nil: no PDF files
}

// NewWorker makes a worker; with a nil Drawer it takes no PDF files.
func NewWorker(d Drawer) *Worker { return &Worker{draw: d} }

// A job is what [Worker.Do] takes as args, as JSON.
type job struct {
	Page      int      `json:"page"`
	Turn      int      `json:"turn"`
	Ways      []int    `json:"ways"` // which pictures to make
	Passwords []string `json:"passwords,omitempty"`
}

// A prepared page is what [Worker.Do] answers: as JSON, followed by the
// pictures as binary PGM.
type prepared struct {
	Pages  int       `json:"pages"`
	Width  float64   `json:"width"` // of the page after turning, in points
	Height float64   `json:"height"`
	DPI    float64   `json:"dpi"`    // of the picture as it came
	Pixels int       `json:"pixels"` // its width
	Skew   float64   `json:"skew"`
	Blank  bool      `json:"blank"` // no ink to speak of
	Sizes  []int     `json:"sizes"` // bytes of each picture
	Scale  []float64 `json:"scale"` // dots an inch of each picture
	images [][]byte
}

type stop struct{ reason *ingest.Reason }

func abandon(r *ingest.Reason) { panic(stop{r}) }

// Do prepares one page.
func (w *Worker) Do(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (_ *ingest.Document, _ []byte, err error) {
	lim = lim.OrDefault()
	defer func() {
		switch p := recover().(type) {
		case nil:
		case stop:
			err = p.reason.In(src.Title())
		default: // a decoder's own fault
			err = damagedPicture().In(src.Title())
		}
	}()
	var j job
	if err := json.Unmarshal(args, &j); err != nil {
		return nil, nil, damagedPicture().In(src.Title())
	}
	p, err := w.prepare(ctx, j, src, lim)
	if err != nil {
		return nil, nil, err
	}
	for _, m := range p.images {
		p.Sizes = append(p.Sizes, len(m))
	}
	head, err := json.Marshal(p)
	if err != nil {
		return nil, nil, damagedPicture().In(src.Title())
	}
	out := binary.BigEndian.AppendUint32(nil, uint32(len(head)))
	out = append(out, head...)
	for _, m := range p.images {
		out = append(out, m...)
	}
	return nil, out, nil
}

// unpack undoes the packing of Do. The bytes may come from a process that is
// not to be trusted.
func unpack(b []byte) (*prepared, error) {
	bad := errors.New("the answer is not a prepared page")
	if len(b) < 4 {
		return nil, bad
	}
	n := int(binary.BigEndian.Uint32(b))
	if n > len(b)-4 {
		return nil, bad
	}
	p := &prepared{}
	if err := json.Unmarshal(b[4:4+n], p); err != nil {
		return nil, err
	}
	b = b[4+n:]
	if len(p.Scale) != len(p.Sizes) || !(p.Width > 0 && p.Height > 0) || math.IsInf(p.Width*p.Height, 0) {
		return nil, bad
	}
	for i, s := range p.Sizes {
		if s < 0 || s > len(b) || !(p.Scale[i] > 0) {
			return nil, bad
		}
		p.images = append(p.images, b[:s])
		b = b[s:]
	}
	return p, nil
}

// fits looks whether numbers have the points that a picture shows.
func (p *prepared) fits(i int) func(token) bool {
	if i >= len(p.images) {
		return func(token) bool { return false }
	}
	g, ok := parsePGM(p.images[i])
	if !ok {
		return func(token) bool { return false }
	}
	level, k := uint8(128), p.Scale[i]/72
	return func(t token) bool {
		box := image.Rect(int(t.box.X0*k+0.5), int(t.box.Y0*k+0.5), int(t.box.X1*k+0.5), int(t.box.Y1*k+0.5))
		return pointsFit(t.text, box, g, level)
	}
}

func (w *Worker) prepare(ctx context.Context, j job, src *ingest.Source, lim ingest.Limits) (*prepared, error) {
	check(ctx, lim)
	p := &prepared{Pages: 1}
	var pic picture
	switch kind := ingest.Sniff(src.Name, src.Bytes); {
	case len(src.Bytes) == 0:
		abandon(ingest.EmptyFile("a picture or a PDF"))
	case int64(len(src.Bytes)) > lim.Bytes:
		abandon(tooLarge("bytes", "the file is larger than allowed", lim.Bytes, int64(len(src.Bytes))))
	case kind == ingest.KindPDF && w.draw != nil:
		var err error
		if p.Pages, err = w.draw.Count(ctx, src, lim, j.Passwords...); err != nil {
			return nil, err
		}
		if pic.grey, pic.dpi, err = w.draw.Grey(ctx, src, lim, j.Page, 0, j.Passwords...); err != nil {
			return nil, err
		}
	case kindOf(src.Bytes) != "":
		p.Pages = pictures(src.Bytes)
		pic = decode(src.Bytes, j.Page)
	default:
		abandon(notAPicture())
	}
	if p.Pages > lim.Pages {
		abandon(tooLarge("pages", "the file has more pages than allowed", int64(lim.Pages), int64(p.Pages)))
	}
	check(ctx, lim)
	g := quarter(pic.grey, j.Turn)
	p.DPI, p.Pixels = pic.dpi, pic.grey.Rect.Dx()
	p.Width, p.Height = round(float64(g.Rect.Dx())*72/pic.dpi), round(float64(g.Rect.Dy())*72/pic.dpi)
	flat := flatten(g, pic.dpi)
	check(ctx, lim)
	if p.Blank = blank(flat, pic.dpi); p.Blank {
		return p, nil
	}
	if p.Skew = round(skew(flat, pic.dpi)); math.Abs(p.Skew) < leastSkew {
		p.Skew = 0
	}
	for _, i := range j.Ways {
		check(ctx, lim)
		if i == asItCame {
			m := resample(g, p.Skew, shownDPI/pic.dpi)
			p.Scale = append(p.Scale, float64(m.Rect.Dx())*72/p.Width)
			p.images = append(p.images, pgm(m))
			continue
		}
		if i < 0 || i >= len(ways) {
			abandon(damagedPicture())
		}
		dpi := ways[i].dpi
		// A very large sheet is made smaller rather than left.
		const most = 24e6
		if n := p.Width * p.Height / 72 / 72 * dpi * dpi; n > most {
			dpi *= math.Sqrt(most / n)
		}
		m := resample(flat, p.Skew, dpi/pic.dpi)
		// Width and height in pixels are whole, so the scale is not quite dpi.
		p.Scale = append(p.Scale, float64(m.Rect.Dx())*72/p.Width)
		p.images = append(p.images, pgm(ways[i].clean(m, dpi)))
	}
	return p, nil
}

// clean makes a level picture ready for the recogniser. Specks go out of the
// black and white one only, so that what is taken for one by mistake makes
// the readings differ.
func (w way) clean(m *image.Gray, dpi float64) *image.Gray {
	if w.binary {
		// A speck is at most a hundredth of an inch across.
		speck := max(1, int(dpi*dpi/10000))
		return withoutSpecks(withoutRules(sauvola(m, dpi), dpi, 128), dpi, 128, speck)
	}
	level := otsu(m)
	return contrast(withoutRules(m, dpi, level), level)
}

// contrast makes what is well on the light side of the level white, and what
// is well on the dark side black, and leaves the edges grey.
func contrast(g *image.Gray, level uint8) *image.Gray {
	light, dark := (255+float64(level))/2, 0.4*float64(level)
	var to [256]uint8
	for v := range to {
		to[v] = uint8(min(255, max(0, (float64(v)-dark)/(light-dark)*255)))
	}
	out := image.NewGray(g.Rect)
	for y := range g.Rect.Dy() {
		for x, v := range g.Pix[y*g.Stride : y*g.Stride+g.Rect.Dx()] {
			out.Pix[y*out.Stride+x] = to[v]
		}
	}
	return out
}

// blank reports whether a page has less ink than a dozen letters.
func blank(flat *image.Gray, dpi float64) bool {
	level := otsu(flat)
	if level > 200 {
		return true // only paper, in two shades
	}
	n := 0
	for y := range flat.Rect.Dy() {
		for _, v := range flat.Pix[y*flat.Stride : y*flat.Stride+flat.Rect.Dx()] {
			if v < level {
				n++
			}
		}
	}
	return float64(n) < 12*0.0008*dpi*dpi
}

// pgm is a picture as binary PGM, which needs no packing.
func pgm(g *image.Gray) []byte {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := make([]byte, 0, w*h+32)
	out = append(out, pgmHead(w, h)...)
	for y := range h {
		out = append(out, g.Pix[y*g.Stride:y*g.Stride+w]...)
	}
	return out
}

// parsePGM undoes pgm.
func parsePGM(b []byte) (*image.Gray, bool) {
	var w, h, most int
	if n, err := fmt.Sscanf(string(b[:min(len(b), 32)]), "P5\n%d %d\n%d\n", &w, &h, &most); n != 3 || err != nil || w < 1 || h < 1 || w > 1<<16 || h > 1<<16 {
		return nil, false
	}
	head := len(pgmHead(w, h))
	if len(b) != head+w*h {
		return nil, false
	}
	return &image.Gray{Pix: b[head:], Stride: w, Rect: image.Rect(0, 0, w, h)}, true
}

func check(ctx context.Context, lim ingest.Limits) {
	if r := over(ctx, time.Duration(lim.Seconds)*time.Second); r != nil {
		abandon(r)
	}
}

func pgmHead(w, h int) string { return "P5\n" + strconv.Itoa(w) + " " + strconv.Itoa(h) + "\n255\n" }

func round(v float64) float64 { return math.Round(v*1000) / 1000 }
