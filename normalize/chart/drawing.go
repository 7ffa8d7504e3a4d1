package chart

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
)

// A Drawing is lines, areas and texts on a white ground, in units of which
// there are 96 to the inch.
type Drawing struct {
	Wide, High   float64
	Title, About string // read aloud in place of the drawing
	items        []any
}

// ink is how dark something is.
type ink uint8

const (
	black ink = iota
	grey
	pale
	white
)

var hex = [...]string{black: "#1a1a1a", grey: "#6a6a6a", pale: "#d9d9d9", white: "#ffffff"}

// A stroke is a line through points; dash is the length of its dashes and of the
// gaps between them, 0 for none.
type stroke struct {
	points []point
	width  float64
	dash   float64
	ink    ink
}

// An area is a filled polygon.
type area struct {
	points []point
	ink    ink
}

type point struct{ x, y float64 }

// Where a text is held.
type anchor uint8

const (
	start anchor = iota
	middle
	end
)

// A label is a text; y is that of its baseline.
type label struct {
	at     point
	text   string
	size   float64
	anchor anchor
	bold   bool
}

func (d *Drawing) line(x1, y1, x2, y2, width float64, in ink) {
	d.items = append(d.items, stroke{points: []point{{x1, y1}, {x2, y2}}, width: width, ink: in})
}

func (d *Drawing) dashed(x1, y1, x2, y2, width, dash float64, in ink) {
	d.items = append(d.items, stroke{points: []point{{x1, y1}, {x2, y2}}, width: width, dash: dash, ink: in})
}

func (d *Drawing) path(points []point, width float64, in ink) {
	d.items = append(d.items, stroke{points: points, width: width, ink: in})
}

func corners(x1, y1, x2, y2 float64) []point {
	return []point{{x1, y1}, {x2, y1}, {x2, y2}, {x1, y2}}
}

func (d *Drawing) fill(x1, y1, x2, y2 float64, in ink) {
	d.items = append(d.items, area{corners(x1, y1, x2, y2), in})
}

func (d *Drawing) text(x, y float64, s string, size float64, a anchor) {
	d.items = append(d.items, label{at: point{x, y}, text: s, size: size, anchor: a})
}

func (d *Drawing) heading(x, y float64, s string, size float64) {
	d.items = append(d.items, label{at: point{x, y}, text: s, size: size, bold: true})
}

// hatch rules a rectangle with slanting lines: here only a limit is known.
func (d *Drawing) hatch(x1, y1, x2, y2 float64) {
	const gap = 5.0
	if x2-x1 < 0.5 || y2-y1 < 0.5 {
		return
	}
	// The lines x + y = c, at one c for all rectangles so that neighbours join.
	for c := math.Ceil((x1+y1)/gap) * gap; c < x2+y2; c += gap {
		ax, bx := math.Max(x1, c-y2), math.Min(x2, c-y1)
		if bx > ax {
			d.line(ax, c-ax, bx, c-bx, 0.8, grey)
		}
	}
}

// SVG is the drawing as a document of its own, that may also stand in an HTML
// page.
func (d *Drawing) SVG() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" viewBox="0 0 %s %s" role="img" font-family="Go, Helvetica, Arial, sans-serif" fill="%s">`+"\n", num(d.Wide), num(d.High), num(d.Wide), num(d.High), hex[black])
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n<rect width=\"%s\" height=\"%s\" fill=\"%s\"/>\n", escape(d.Title), escape(d.About), num(d.Wide), num(d.High), hex[white])
	for _, it := range d.items {
		switch it := it.(type) {
		case stroke:
			dash := ""
			if it.dash > 0 {
				dash = fmt.Sprintf(` stroke-dasharray="%s %s"`, num(it.dash), num(it.dash))
			}
			if len(it.points) == 2 {
				fmt.Fprintf(&b, `<line x1="%s" y1="%s" x2="%s" y2="%s" stroke="%s" stroke-width="%s"%s/>`+"\n", num(it.points[0].x), num(it.points[0].y), num(it.points[1].x), num(it.points[1].y), hex[it.ink], num(it.width), dash)
				continue
			}
			fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="%s" stroke-width="%s"%s/>`+"\n", listed(it.points), hex[it.ink], num(it.width), dash)
		case area:
			fmt.Fprintf(&b, `<polygon points="%s" fill="%s"/>`+"\n", listed(it.points), hex[it.ink])
		case label:
			more := ""
			if it.anchor != start {
				more += ` text-anchor="` + [...]string{middle: "middle", end: "end"}[it.anchor] + `"`
			}
			if it.bold {
				more += ` font-weight="bold"`
			}
			fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s"%s>%s</text>`+"\n", num(it.at.x), num(it.at.y), num(it.size), more, escape(it.text))
		}
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// escape makes a text that no reader of XML stumbles over: characters that XML
// does not allow are replaced.
func escape(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0xFFFE || r == 0xFFFF {
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return html.EscapeString(s)
}

func listed(points []point) string {
	var b strings.Builder
	for i, p := range points {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(num(p.x) + "," + num(p.y))
	}
	return b.String()
}

// num is a coordinate with as many places as can be seen.
func num(x float64) string {
	s := strconv.FormatFloat(x, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// face is the font at a size, in units of the drawing times scale.
func face(bold bool, size float64) (font.Face, error) {
	ttf := goregular.TTF
	if bold {
		ttf = gobold.TTF
	}
	f, err := opentype.Parse(ttf)
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
}

// measure gives the width of texts of one size.
func measure(size float64) func(string) float64 {
	f, err := face(false, size)
	if err != nil { // the font is a part of the program
		return func(s string) float64 { return size * 0.6 * float64(len([]rune(s))) }
	}
	return func(s string) float64 { return float64(font.MeasureString(f, s)) / 64 }
}

// fitted shortens a text to a width, the last character an ellipsis.
func fitted(s string, wide float64, width func(string) float64) string {
	if width(s) <= wide {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && width(string(r)+"…") > wide {
		r = r[:len(r)-1]
	}
	return strings.TrimSpace(string(r)) + "…"
}
