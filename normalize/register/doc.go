// Package register reads the list that an office keeps of the samples it has
// sent out, and finds for a record the row that is about it.
//
// Enters: the document of a delimited file or a workbook, and records. Leaves:
// the rows of the register with exact areas and plain dates, or every reason
// why there are none; and for each record of a report the row that it was
// taken for, with how sure that is and why, in words without personal data.
// Never: it reads a clock or a file, takes one reading of a date or an area
// that has two, chooses between rows that fit equally well, takes a row on the
// label alone, or lets the order of the rows decide anything.
//
// The package is an implementation over normalize, whose records it matches.
//
// # Personal data
//
// Client and Email of a row are personal. They leave this package as fields
// of [Row] alone: no reason, no word of a match and no JSON holds them.
package register

// The codes of the reasons that a register may give. Those that say that it
// can't be used have severity fail.
const (
	CodeNoHeader   = "register-no-header"   // no row of headings was found, or more than one table
	CodeMissing    = "register-column"      // a column that must be there is not
	CodeTwice      = "register-twice"       // two columns are the same thing
	CodeUnknown    = "register-unknown"     // a column that is not read; a note
	CodeNoLabel    = "register-no-label"    // a row without the label of a sample
	CodeNoClient   = "register-no-client"   // a row that does not say whose sample it is; a flag
	CodeArea       = "register-area"        // an area that can't be read exactly
	CodeDate       = "register-date"        // a date that can't be read in one way only
	CodeEmail      = "register-email"       // no e-mail address
	CodeLanguage   = "register-language"    // no language that letters are written in
	CodeLandUse    = "register-land-use"    // a use of the land that the tables don't know; a flag
	CodeCell       = "register-cell"        // a cell whose value is not to be had
	CodeSame       = "register-same-sample" // two rows are the same sample; a flag
	CodeRagged     = "register-ragged"      // a line with too few or too many fields
	CodeOtherSheet = "register-sheet"       // a sheet that is not read; a note
)
