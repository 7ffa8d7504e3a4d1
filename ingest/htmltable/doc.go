// Package htmltable reads HTML: files of that kind, whatever their name (such
// as the .xls that is a web page inside), and the HTML body of a mail.
//
// Enters: the bytes of an HTML document. Leaves: an [ingest.Document] with
// one page, a grid that holds everything in the order of the document: a
// paragraph is a row with one cell, a table is as many rows as it has, each
// with its cells in their columns; or a reason why there is none.
// Never: it runs no script, loads nothing, follows no link, and shows no text
// as visible that a browser would hide.
//
// # The grid
//
// Cells stand in the columns in which a browser shows them, with the room of
// colspan and rowspan kept free (Across and Down say how much), by the rules
// of the HTML standard for forming a table. A row of a table that is only
// there for the layout, that is, one with a table in one of its cells, is
// taken apart: what is in it follows row by row.
//
// # What nobody sees
//
// Text that a browser hides (display:none, visibility:hidden, the hidden
// attribute, letters of no size or in the colour of their ground) stands
// after everything else, a cell of its own in a row of its own, marked
// hidden. So it is neither read as part of a table nor lost.
//
// # Digits that only seem to touch
//
// Text in another element may be set apart by its style: a footnote mark
// raised behind a number, a value struck out before the one that replaces it.
// Wherever such text and its neighbour would join into one number, a space is
// put between them, so that no number arises that nobody wrote.
package htmltable

// The codes of the notes that a document of this package may carry.
const (
	// CodeHidden says that the document holds text that a browser hides.
	CodeHidden = "hidden-text"
	// CodeStruck marks text that is struck out. It is kept.
	CodeStruck = "struck-out-text"
	// CodePictures says that the document shows pictures, which are not read.
	CodePictures = "pictures-not-read"
	// CodeStyle marks a style that hides something, in a way that this
	// package can't follow.
	CodeStyle = "style-not-understood"
	// CodeEncoding says that the document doesn't name its encoding and is
	// not in UTF-8, so that windows-1252 was taken, as browsers do.
	CodeEncoding = "encoding-assumed"
	// CodeUndecodable marks text with bytes that its encoding doesn't have.
	CodeUndecodable = "encoding-invalid"
)
