// Package sheet reads Excel workbooks (.xlsx).
//
// Enters: the bytes of a workbook. Leaves: an [ingest.Document] with one page
// a sheet, hidden ones included and marked, whose cells carry both the value
// that is stored and the text that a person sees under the cell's number
// format; or a reason why there is none.
// Never: it computes no formula, follows no link, runs no macro, writes no
// file, and gives no part of a workbook whose other part is damaged.
//
// The package is an implementation over ingest. Excelize opens the workbook
// and knows its sheets, styles and date system. The cells are streamed by
// this package itself, for two reasons that were measured: excelize ends a
// sheet quietly where its XML or its compressed data breaks off, and it gives
// value, type, format and formula only through calls that load the whole
// sheet. In the tests every value is compared with what excelize reads.
//
// # The text of a cell
//
// Text is what Excel set to American English shows in a column that is wide
// enough. Numbers are first cut to 15 significant digits, as Excel does, and
// then rounded half away from zero to the places of the format. A format that
// is not understood (fractions, other calendars) leaves the number in full as
// its text, with a note of severity flag; see the constants below for the
// codes of all notes.
//
// # The raw value of a cell
//
// Raw is set where it differs from Text: a number with all its stored digits
// and no exponent; a date as YYYY-MM-DD, or YYYY-MM-DDTHH:MM:SS where there
// is a time of day. A time without a date, or a length of time, keeps the
// stored number of days.
package sheet

// The codes of the notes that a document of this package may carry.
const (
	// CodeNoValue marks a formula that was saved without its result.
	CodeNoValue = "formula-without-value"
	// CodeFormat marks a number format that this package can't show.
	CodeFormat = "format-not-understood"
	// CodeDate marks a number that is no date although its format shows one.
	CodeDate = "date-not-possible"
	// CodeCovered marks a value that lies under a merged cell, where nobody
	// sees it. The cell is marked hidden.
	CodeCovered = "value-under-merged-cell"
	// CodeStruck marks a number that is struck through. It is kept.
	CodeStruck = "struck-out-text"
	// CodeComment marks a number on which somebody has commented.
	CodeComment = "cell-comment"
	// CodeNoCells marks a chart sheet or other sheet that has no cells.
	CodeNoCells = "sheet-without-cells"
)
