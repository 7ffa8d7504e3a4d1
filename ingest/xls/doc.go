// Package xls reads binary Excel workbooks of 1997 to 2003 (.xls, BIFF8).
//
// Enters: the bytes of a workbook. Leaves: an [ingest.Document] of the shape
// that package sheet gives for .xlsx, with one page a sheet, hidden ones
// included and marked, whose cells carry both the stored value and the text
// that a person sees under the cell's number format; or a reason why there is
// none.
// Never: it computes no formula, follows no link, runs no macro, writes no
// file, and gives no part of a workbook whose other part is damaged.
//
// The container is opened by richardlehane/mscfb; the records inside are read
// here, after Microsoft's published description [MS-XLS]. A record that is
// cut short, a cell that points to a text, a style or a place that isn't
// there, and a sheet without its end are damage, and damage anywhere refuses
// the whole workbook.
//
// # Results of formulas
//
// The stored result is taken. Where there is none (the workbook was written
// by a program that doesn't calculate, or asks to be calculated when opened)
// the cell is an error cell with a note. Formulas are stored as tokens and
// not written out: Cell.Formula says only that there is one.
package xls

// The codes of the notes that a document of this package may carry. Those
// that package sheet has too mean the same there.
const (
	// CodeNoValue marks a formula that was saved without its result.
	CodeNoValue = "formula-without-value"
	// CodeFormat marks a number format that can't be shown.
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
	// CodeMacros marks a workbook with macros, which are not looked at.
	CodeMacros = "macros-not-run"
)

// FormulaNotShown stands in Cell.Formula: there is one, stored as tokens.
const FormulaNotShown = "(a formula, not written out)"
