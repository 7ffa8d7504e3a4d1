package ingest

import "math"

// An OCR says how sure it is what a word in a picture says. Every picture is
// read twice, prepared in two ways. A number read so is never final unless
// both readings agree and something else on the page supports it.
type OCR struct {
	Confidence int    `json:"confidence"` // of the first reading, 0 to 100, as the recogniser rates itself; it is often sure and wrong
	Second     string `json:"second"`     // what the second reading has in this place, "" for nothing
	Agree      bool   `json:"agree"`      // both have the same characters
	// Proof says that a person compared the word with the picture; nil when
	// nobody did.
	Proof *Proofread `json:"proof,omitempty"`
}

// A Proofread says who compared a word with its picture, and what the
// recogniser had made of it.
type Proofread struct {
	By   string `json:"by"`
	On   string `json:"on"`             // YYYY-MM-DD
	Read string `json:"read,omitempty"` // where the recogniser read something else than the person; "" for the same
}

// A Scan says how a page that was a picture was set straight before it was
// read. The places on it are those on the straight page, on which lines are
// level; AsScanned leads back to the picture.
type Scan struct {
	Turn int     `json:"turn,omitempty"` // quarters that the picture was turned by, clockwise, in degrees
	Skew float64 `json:"skew,omitempty"` // degrees by which its lines then fell to the right
	DPI  float64 `json:"dpi"`            // dots an inch of the picture
}

// AsScanned is the box on the page's picture as it came, before it was set
// straight, for a box on the page. For a page that was no picture it is the
// same box.
func (p *Page) AsScanned(b Box) Box {
	if p.Scan == nil {
		return b
	}
	sin, cos := math.Sincos(p.Scan.Skew * math.Pi / 180)
	var out Box
	for i, c := range [][2]float64{{b.X0, b.Y0}, {b.X1, b.Y0}, {b.X0, b.Y1}, {b.X1, b.Y1}} {
		dx, dy := c[0]-p.Width/2, c[1]-p.Height/2
		x, y := dx*cos-dy*sin+p.Width/2, dx*sin+dy*cos+p.Height/2
		switch p.Scan.Turn {
		case 90:
			x, y = y, p.Width-x
		case 180:
			x, y = p.Width-x, p.Height-y
		case 270:
			x, y = p.Height-y, x
		}
		if i == 0 {
			out = Box{x, y, x, y}
		}
		out = Box{min(out.X0, x), min(out.Y0, y), max(out.X1, x), max(out.Y1, y)}
	}
	return out
}

// Scanned reports whether a document was read from pictures.
func (d *Document) Scanned() bool {
	for _, p := range d.Pages {
		if p.Scan != nil {
			return true
		}
	}
	return false
}
