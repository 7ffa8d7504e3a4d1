package ingest

import "context"

// A Format is the kind of file that a document was read from, as found in
// its bytes rather than in its name.
type Format string

// The formats that can be read.
const (
	PDF  Format = "pdf"
	XLSX Format = "xlsx" // a workbook, also of the older binary kind
	CSV  Format = "csv"
	HTML Format = "html"
)

// A Document is what is on the pages or sheets of one source. It is complete
// or it does not exist, and it is not changed once its reader has returned.
type Document struct {
	Source  SourceRef `json:"source"`
	Format  Format    `json:"format"`
	Dialect *Dialect  `json:"dialect,omitempty"` // how a delimited file was cut; nil otherwise
	Pages   []*Page   `json:"pages"`
	Notes   []*Reason `json:"notes,omitempty"` // what the reader noticed and did not act on
}

// A Page is one page of a PDF, one sheet of a workbook, or a whole delimited
// file. A page has either words (placed freely) or cells (in a grid), never
// both.
type Page struct {
	Number int     `json:"number"`           // from 1, in the order of the file
	Name   string  `json:"name,omitempty"`   // of a sheet
	Hidden bool    `json:"hidden,omitempty"` // a hidden sheet
	Width  float64 `json:"width,omitempty"`  // in points
	Height float64 `json:"height,omitempty"`
	Words  []Word  `json:"words,omitempty"`
	Cells  []Cell  `json:"cells,omitempty"` // those that hold anything, by row and then column
	Scan   *Scan   `json:"scan,omitempty"`  // how a page that was a picture was set straight; nil for any other
	Rows   int     `json:"rows,omitempty"`  // number of the last row with a cell
	Cols   int     `json:"cols,omitempty"`
	Short  []int   `json:"short,omitempty"` // rows of a table in a web page that have fewer cells than its widest: what follows a missing cell may stand in the wrong column
}

// A Word is a run of glyphs on a page with no space in it.
type Word struct {
	Text  string  `json:"text"`
	Box   Box     `json:"box"`             // on the page as seen
	Base  float64 `json:"base"`            // the line the glyphs stand on: a Y for level text, an X for text turned a quarter
	Size  float64 `json:"size"`            // of the font, in points
	Turn  int     `json:"turn,omitempty"`  // the way it reads: 0 to the right, 90 upwards, 180 to the left, 270 downwards
	Ghost string  `json:"ghost,omitempty"` // why a person looking at the page doesn't see it (invisible, clipped, white, covered, off the page); "" when they do
	OCR   *OCR    `json:"ocr,omitempty"`   // how a word in a picture was read; nil for text
}

// A CellKind says what a sheet stored in a cell.
type CellKind string

// The kinds of cell. Cells of a delimited file are all text.
const (
	TextCell   CellKind = "text"
	NumberCell CellKind = "number"
	DateCell   CellKind = "date" // a number that the cell's format shows as a date or time
	BoolCell   CellKind = "bool"
	ErrorCell  CellKind = "error" // such as #REF!, or a formula without a stored result
)

// A Cell is one cell of a sheet or one field of a delimited file.
type Cell struct {
	Row     int      `json:"row"` // from 1
	Col     int      `json:"col"` // from 1
	Text    string   `json:"text"`
	Raw     string   `json:"raw,omitempty"` // the stored value where it differs from the text shown: a number in full, a date as YYYY-MM-DD
	Kind    CellKind `json:"kind"`
	Format  string   `json:"format,omitempty"`  // number format code
	Formula string   `json:"formula,omitempty"` // without the leading =
	Hidden  bool     `json:"hidden,omitempty"`  // in a hidden row or column
	Across  int      `json:"across,omitempty"`  // columns that a merged cell covers, 0 when not merged
	Down    int      `json:"down,omitempty"`    // rows that a merged cell covers, 0 when not merged
	Line    int      `json:"line,omitempty"`    // of a delimited file
	LineCol int      `json:"line_col,omitempty"`
}

// PlaceOfCell is where a cell of this page stands. The file's name is left
// out; Place.In adds it.
func (p *Page) PlaceOfCell(c *Cell) Place {
	if c.Line > 0 {
		return Place{Line: c.Line, Col: c.LineCol}
	}
	return Place{Sheet: p.Name, Cell: CellName(c.Row, c.Col)}
}

// PlaceOfBox is where a box of this page stands.
func (p *Page) PlaceOfBox(b Box) Place { return Place{Page: p.Number, Box: &b} }

// A Dialect is how a delimited file is cut into fields. A mapping declares
// it; nothing here guesses.
type Dialect struct {
	Encoding  string `json:"encoding"`  // utf-8, windows-1252, utf-16le, utf-16be; a byte-order mark is dropped if it agrees
	Delimiter string `json:"delimiter"` // one character
}

// A Reader turns the bytes of one Source into a Document. It must not keep
// or change src.Bytes, and returns either a Document or an error, never both.
// The error is a *Reason. It never panics, whatever the bytes, gives the same
// document for the same bytes, and is safe for concurrent use.
type Reader interface {
	Read(ctx context.Context, src *Source, lim Limits) (*Document, error)
}
