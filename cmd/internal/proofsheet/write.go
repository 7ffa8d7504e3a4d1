package proofsheet

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"slices"
	"strings"
	"unicode"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
)

// The columns of the sheet, and its first lines.
const (
	sheet   = "Compare"
	wordCol = "A" // page and number of the word
	picCol  = "B" // its picture
	readCol = "C" // what was read
	moreCol = "D" // what was read the second time
	saysCol = "E" // what it says: for the person
	lookCol = "F" // why it is worth a look
	atCol   = "G" // its place

	headRow  = 4
	firstRow = headRow + 1
	spare    = 60 // empty lines at the end, for what the program missed
)

var headings = []string{"word", "picture", "read", "read again", "what it says", "look at", "place"}

// mostCells bounds what is written into one workbook.
const mostWords = 20_000

// A Picture gives the level picture of a page and how many dots of it make an
// inch.
type Picture func(page *ingest.Page) (*image.Gray, float64, error)

// Write makes the workbook for a scanned document. was is what a person said
// before, nil for nothing. What both readings agree on is filled in; the rest
// is left to the person.
func Write(doc *ingest.Document, report string, picture Picture, was *scan.Proof) ([]byte, error) {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	b := &book{File: f}
	b.do(f.SetSheetName("Sheet1", sheet))
	text := b.style(&excelize.Style{NumFmt: 49, Alignment: &excelize.Alignment{Vertical: "center"}})
	fill := b.style(&excelize.Style{NumFmt: 49, Alignment: &excelize.Alignment{Vertical: "center"}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFF6D8"}},
		Border: []excelize.Border{{Type: "left", Color: "8A7A3C", Style: 1}, {Type: "right", Color: "8A7A3C", Style: 1}, {Type: "top", Color: "8A7A3C", Style: 1}, {Type: "bottom", Color: "8A7A3C", Style: 1}}})
	bold := b.style(&excelize.Style{Font: &excelize.Font{Bold: true}})
	for col, width := range map[string]float64{wordCol: 7, picCol: 44, readCol: 20, moreCol: 20, saysCol: 22, lookCol: 20, atCol: 30} {
		b.do(f.SetColWidth(sheet, col, col, width))
	}
	b.text("A1", "Compare each word with its picture: "+doc.Source.Title()+", report "+report)
	b.do(f.SetCellStyle(sheet, "A1", "A1", bold))
	landscape, one, many := "landscape", 1, 0
	b.do(f.SetPageLayout(sheet, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &one, FitToHeight: &many}))
	fit := true
	b.do(f.SetSheetProps(sheet, &excelize.SheetPropsOptions{FitToPage: &fit}))
	b.text("A2", "Look at the picture, and correct the column \"what it says\". Fill in every empty one. Of a speck or a line that is no word, write "+scan.Nothing+". Mind decimal points and the sign < before a number.")
	b.text("A3", "A word that the program missed goes into a new line at the end: what it says, and its place, written like those above. Leave the other columns as they are.")
	for i, h := range headings {
		b.text(fmt.Sprintf("%c%d", 'A'+i, headRow), h)
	}
	b.do(f.SetCellStyle(sheet, "A4", "G4", bold))
	b.do(f.SetPanes(sheet, &excelize.Panes{Freeze: true, YSplit: headRow, TopLeftCell: fmt.Sprintf("A%d", firstRow), ActivePane: "bottomLeft"}))
	row := firstRow
	lines := Lines(doc, was)
	if len(lines) > mostWords {
		return nil, fmt.Errorf("the report has more than %d words", mostWords)
	}
	var of *ingest.Page
	var g *image.Gray
	var dpi float64
	for _, l := range lines {
		if l.On != of {
			var err error
			if g, dpi, err = picture(l.On); err != nil {
				return nil, err
			}
			of = l.On
		}
		at := func(col string) string { return fmt.Sprintf("%s%d", col, row) }
		b.text(at(wordCol), fmt.Sprintf("%d.%d", l.On.Number, l.Number))
		b.text(at(readCol), l.Word.Text)
		b.text(at(moreCol), l.Word.OCR.Second)
		b.text(at(saysCol), l.Says)
		b.text(at(lookCol), l.Look)
		b.text(at(atCol), ingest.Place{Page: l.On.Number, Box: &l.Word.Box}.Inside())
		b.do(f.SetCellStyle(sheet, at(wordCol), at(atCol), text))
		b.do(f.SetCellStyle(sheet, at(saysCol), at(saysCol), fill))
		b.do(f.SetRowHeight(sheet, row, rowHeight))
		b.picture(at(picCol), l.Word, g, dpi)
		row++
	}
	for last := row + spare; row < last; row++ {
		b.do(f.SetCellStyle(sheet, fmt.Sprintf("A%d", row), fmt.Sprintf("G%d", row), text))
		b.do(f.SetCellStyle(sheet, fmt.Sprintf("%s%d", saysCol, row), fmt.Sprintf("%s%d", saysCol, row), fill))
	}
	if b.err != nil {
		return nil, b.err
	}
	var out bytes.Buffer
	err := f.Write(&out)
	return out.Bytes(), err
}

// rowHeight is that of a word's line, in points.
const rowHeight = 27.0

// A Line is a word of a picture for a person to compare.
type Line struct {
	On     *ingest.Page
	Number int // of the word on its page, from 1
	Word   *ingest.Word
	Says   string // what is filled in; "" is left to the person
	Look   string // why it is worth a closer look; "" for no reason
}

// Lines are the words of a scanned document, page by page and line by line.
// What both readings agree on is filled in, and what a person said before;
// was is nil for nothing.
func Lines(doc *ingest.Document, was *scan.Proof) []Line {
	var out []Line
	before, gone := said(was), saidGone(doc, was)
	for _, p := range doc.Pages {
		for _, i := range inLines(p) {
			w := &p.Words[i]
			if w.OCR == nil {
				continue
			}
			says, known := before[key(p.Number, w.Box)]
			switch {
			case known:
			case gone[key(p.Number, w.Box)]:
				says = scan.Nothing
			case w.OCR.Agree:
				says = w.Text
			}
			out = append(out, Line{p, i + 1, w, says, worth(w)})
		}
	}
	return out
}

// saidGone are the words, by place, of which a person said that they are none:
// those that a proof of just this reading of the picture lacks. Of another
// reading nothing is known.
func saidGone(doc *ingest.Document, was *scan.Proof) map[string]bool {
	if was == nil || was.SHA256 != doc.Source.SHA256 {
		return nil
	}
	out := map[string]bool{}
	for _, p := range doc.Pages {
		for i := range p.Words {
			out[key(p.Number, p.Words[i].Box)] = true
		}
	}
	for _, p := range was.Pages {
		for _, w := range p.Words {
			at := key(p.Number, w.Box)
			if added := w.OCR != nil && w.OCR.Proof != nil && w.OCR.Proof.Read == scan.Nothing; !out[at] && !added {
				return nil
			}
			delete(out, at)
		}
	}
	return out
}

// worth says why a person should look at a word more closely.
func worth(w *ingest.Word) string {
	digit := strings.ContainsFunc(w.Text+w.OCR.Second, unicode.IsDigit)
	switch {
	case !w.OCR.Agree && digit:
		return "number, not read alike"
	case !w.OCR.Agree:
		return "not read alike"
	case digit:
		return "number"
	}
	return ""
}

// said are the words of a proof that a person compared, by place.
func said(p *scan.Proof) map[string]string {
	out := map[string]string{}
	if p == nil {
		return out
	}
	for _, page := range p.Pages {
		for _, w := range page.Words {
			if w.OCR.Proof != nil && w.OCR.Proof.Read != scan.Nothing {
				out[key(page.Number, w.Box)] = w.Text
			}
		}
	}
	return out
}

func key(page int, b ingest.Box) string { return fmt.Sprint(page, b) }

// inLines are the numbers of a page's words in the order in which a person
// reads them: line by line.
func inLines(p *ingest.Page) []int {
	order := make([]int, len(p.Words))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p.Words[a].Box.CenterY(), p.Words[b].Box.CenterY()) })
	for from := 0; from < len(order); {
		to := from + 1
		first := p.Words[order[from]].Box
		for to < len(order) && p.Words[order[to]].Box.CenterY()-first.CenterY() < 0.6*max(first.Height(), 4) {
			to++
		}
		slices.SortStableFunc(order[from:to], func(a, b int) int { return cmp.Compare(p.Words[a].Box.X0, p.Words[b].Box.X0) })
		from = to
	}
	return order
}

// A book keeps the first error of many calls.
type book struct {
	*excelize.File
	err error
}

func (b *book) do(err error) {
	if b.err == nil {
		b.err = err
	}
}

// text writes a text, which is never a formula.
func (b *book) text(cell, s string) { b.do(b.SetCellStr(sheet, cell, s)) }

func (b *book) style(s *excelize.Style) int {
	id, err := b.NewStyle(s)
	b.do(err)
	return id
}

// What of the page a word's picture shows, in points around it.
const (
	beside = 40.0
	above  = 4.0
)

// Cut is a word's part of its page's picture, with what stands around it and a
// frame around the word; nil where the page has none of it. dpi is how many dots
// make an inch.
func Cut(w *ingest.Word, g *image.Gray, dpi float64) *image.RGBA {
	k := dpi / 72
	in := func(x0, y0, x1, y1 float64) image.Rectangle {
		return image.Rect(int(math.Floor(x0*k)), int(math.Floor(y0*k)), int(math.Ceil(x1*k)), int(math.Ceil(y1*k)))
	}
	word := in(w.Box.X0-1.5, w.Box.Y0-1.5, w.Box.X1+1.5, w.Box.Y1+1.5)
	cut := in(w.Box.X0-beside, w.Box.Y0-above, w.Box.X1+beside, w.Box.Y1+above).Intersect(g.Rect)
	if cut.Empty() {
		return nil
	}
	m := image.NewRGBA(image.Rect(0, 0, cut.Dx(), cut.Dy()))
	draw.Draw(m, m.Rect, g, cut.Min, draw.Src)
	frame := color.RGBA{0x9a, 0x5b, 0x13, 0xff}
	f := word.Intersect(cut).Sub(cut.Min)
	for x := f.Min.X; x < f.Max.X; x++ {
		m.SetRGBA(x, f.Min.Y, frame)
		m.SetRGBA(x, f.Max.Y-1, frame)
	}
	for y := f.Min.Y; y < f.Max.Y; y++ {
		m.SetRGBA(f.Min.X, y, frame)
		m.SetRGBA(f.Max.X-1, y, frame)
	}
	return m
}

// picture puts a word's picture into a cell, the word framed in it.
func (b *book) picture(cell string, w *ingest.Word, g *image.Gray, dpi float64) {
	m := Cut(w, g, dpi)
	if m == nil {
		return
	}
	var out bytes.Buffer
	if err := png.Encode(&out, m); err != nil {
		b.do(err)
		return
	}
	// The cell is 44 characters of about 7 dots wide, and so many points high.
	scale := min(1, 44*7/float64(m.Rect.Dx()), (rowHeight-3)*96/72/float64(m.Rect.Dy()))
	b.do(b.AddPictureFromBytes(sheet, cell, &excelize.Picture{Extension: ".png", File: out.Bytes(),
		Format: &excelize.GraphicOptions{ScaleX: scale, ScaleY: scale, OffsetX: 2, OffsetY: 2, Positioning: "oneCell", AltText: "the word as it stands on the page"}}))
}
