package ingest

import (
	"fmt"
	"strconv"
	"strings"
)

// A Box is a rectangle on a page in points (1/72 inch), measured from the
// top left corner of the page as a reader sees it, after rotation and
// cropping. X grows to the right and Y downwards.
type Box struct {
	X0 float64 `json:"x0"`
	Y0 float64 `json:"y0"`
	X1 float64 `json:"x1"`
	Y1 float64 `json:"y1"`
}

// Empty reports whether the box has no area and was never set.
func (b Box) Empty() bool { return b == Box{} }

// Width is the horizontal extent in points.
func (b Box) Width() float64 { return b.X1 - b.X0 }

// Height is the vertical extent in points.
func (b Box) Height() float64 { return b.Y1 - b.Y0 }

// CenterX is the horizontal middle in points.
func (b Box) CenterX() float64 { return (b.X0 + b.X1) / 2 }

// CenterY is the vertical middle in points.
func (b Box) CenterY() float64 { return (b.Y0 + b.Y1) / 2 }

// Union is the smallest box that holds both; an empty box adds nothing.
func (b Box) Union(o Box) Box {
	if b.Empty() {
		return o
	}
	if o.Empty() {
		return b
	}
	return Box{min(b.X0, o.X0), min(b.Y0, o.Y0), max(b.X1, o.X1), max(b.Y1, o.Y1)}
}

// OverlapX is the length in points that the two boxes share horizontally,
// or zero.
func (b Box) OverlapX(o Box) float64 { return max(0, min(b.X1, o.X1)-max(b.X0, o.X0)) }

// OverlapY is the length in points that the two boxes share vertically, or
// zero.
func (b Box) OverlapY(o Box) float64 { return max(0, min(b.Y1, o.Y1)-max(b.Y0, o.Y0)) }

// A Place says where something stands in a file: page and box in points, or
// sheet and cell, or line and column. The zero Place is "nowhere".
type Place struct {
	File  string `json:"file,omitempty"`  // name as it arrived; a member of an archive or mail is "outer > inner"
	Page  int    `json:"page,omitempty"`  // from 1
	Box   *Box   `json:"box,omitempty"`   // on the page
	Sheet string `json:"sheet,omitempty"` // name of the sheet
	Cell  string `json:"cell,omitempty"`  // such as C14
	Line  int    `json:"line,omitempty"`  // from 1
	Col   int    `json:"col,omitempty"`   // column in characters, from 1
}

// IsZero reports whether the place is nowhere.
func (p Place) IsZero() bool {
	return p.File == "" && p.Page == 0 && p.Box == nil && p.Sheet == "" && p.Cell == "" && p.Line == 0
}

// String has one form a kind:
//
//	a.pdf: page 2 box 312,540-356,552
//	b.xlsx: Results!C14
//	c.csv:14:3
func (p Place) String() string {
	in := p.Inside()
	switch {
	case in == "":
		return p.File
	case p.File == "":
		return in
	case p.Line > 0:
		return p.File + ":" + in
	default:
		return p.File + ": " + in
	}
}

// Inside is the place without the name of the file.
func (p Place) Inside() string {
	switch {
	case p.Line > 0:
		s := strconv.Itoa(p.Line)
		if p.Col > 0 {
			s += ":" + strconv.Itoa(p.Col)
		}
		return s
	case p.Cell != "" || p.Sheet != "":
		if p.Cell == "" {
			return "sheet " + p.Sheet
		}
		return p.Sheet + "!" + p.Cell
	case p.Page > 0:
		s := "page " + strconv.Itoa(p.Page)
		if p.Box != nil {
			s += fmt.Sprintf(" box %.0f,%.0f-%.0f,%.0f", p.Box.X0, p.Box.Y0, p.Box.X1, p.Box.Y1)
		}
		return s
	}
	return ""
}

// In returns the place with the file's name set.
func (p Place) In(file string) Place { p.File = file; return p }

// CellName is the name of a sheet's cell, such as C14, from a row and a
// column counted from 1.
func CellName(row, col int) string {
	var b strings.Builder
	var letters []byte
	for c := col; c > 0; c = (c - 1) / 26 {
		letters = append(letters, byte('A'+(c-1)%26))
	}
	for i := len(letters) - 1; i >= 0; i-- {
		b.WriteByte(letters[i])
	}
	b.WriteString(strconv.Itoa(row))
	return b.String()
}
