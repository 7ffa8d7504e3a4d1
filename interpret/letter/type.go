package letter

import (
	_ "embed"
	"strings"
	"sync"
	"unicode"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
)

// The typeface of the PDF letter is Lato, an open font whose licence lies
// beside it. It has the letters of the languages of Europe, Greek and
// Cyrillic, and the superscripts, and it is narrow enough for one page.
const typeface = "Lato"

//go:embed lato/Lato-Regular.ttf
var regular []byte

//go:embed lato/Lato-Bold.ttf
var bold []byte

// A face is the weight and size of a text, in points.
type face struct {
	bold bool
	size float64
	line float64 // from line to line, in sizes; 0 for the usual
}

func (f face) lead() float64 {
	if f.line == 0 {
		return f.size * sizes[0].line
	}
	return f.size * f.line
}

func (f face) style() string {
	if f.bold {
		return "B"
	}
	return ""
}

// A pen writes text that is measured before it is drawn.
type pen struct {
	pdf  *fpdf.Fpdf
	lost bool // a character had no glyph
}

func newPen() *pen {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: paperWidth, Ht: paperHeight}})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.SetCatalogSort(true)
	pdf.AddUTF8FontFromBytes(typeface, "", regular)
	pdf.AddUTF8FontFromBytes(typeface, "B", bold)
	return &pen{pdf: pdf}
}

// glyphs are the characters that both weights have.
var glyphs = sync.OnceValue(func() map[rune]bool {
	out := map[rune]bool{}
	for i, b := range [][]byte{regular, bold} {
		f, err := sfnt.Parse(b)
		if err != nil {
			return nil // the font is part of the program; a test looks
		}
		var buf sfnt.Buffer
		for r := rune(' '); r < 0xFFFF; r++ {
			g, err := f.GlyphIndex(&buf, r)
			if has := err == nil && g != 0; i == 0 && has {
				out[r] = true
			} else if !has {
				delete(out, r)
			}
		}
	}
	return out
})

// noGlyph stands for a character that the typeface has none for.
const noGlyph = '□'

// nbsp is a space at which no line breaks.
const nbsp = '\u00a0'

// fit makes a text one that can be drawn: without marks and controls, with a
// box for what there is no glyph for.
func (p *pen) fit(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == foreignFrom || r == foreignTo:
			return -1
		case r == '\u2011':
			return '-'
		case unicode.IsSpace(r) && r != nbsp:
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		case !glyphs()[r]:
			p.lost = true
			return noGlyph
		}
		return r
	}, s)
}

func (p *pen) width(s string, f face) float64 {
	p.pdf.SetFont(typeface, f.style(), f.size)
	return p.pdf.GetStringWidth(s)
}

// wrap breaks a text into lines no wider than width. A word that is wider by
// itself is cut.
func (p *pen) wrap(s string, f face, width float64) []string {
	var out []string
	line := ""
	for _, w := range strings.FieldsFunc(p.fit(s), func(r rune) bool { return r == ' ' }) {
		longer := strings.TrimSpace(line + " " + w)
		if p.width(longer, f) <= width {
			line = longer
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for p.width(w, f) > width {
			n, used := 0, 0.0
			for i, r := range w {
				if used += p.width(string(r), f); i > 0 && used > width {
					n = i
					break
				}
			}
			if n == 0 {
				break
			}
			out = append(out, w[:n])
			w = w[n:]
		}
		line = w
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// most is the first n of the lines, for what should never be longer and comes
// from a file that anyone can send.
func most(lines []string, n int) []string {
	if len(lines) <= n {
		return lines
	}
	out := append([]string{}, lines[:n]...)
	last := []rune(out[n-1])
	out[n-1] = string(last[:max(len(last)-3, 0)]) + "…" // takes no more room than the line had
	return out
}

// write draws lines from the top y down and gives where they end.
func (p *pen) write(lines []string, f face, x, y float64) float64 {
	p.pdf.SetFont(typeface, f.style(), f.size)
	for _, l := range lines {
		if l != "" {
			p.pdf.Text(x, y+f.size*0.98, l)
		}
		y += f.lead()
	}
	return y
}
