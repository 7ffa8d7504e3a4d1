// Package numfmt shows a stored number as a workbook's number format does.
//
// Enters: a number as a workbook stores it, in decimal, its format code and
// the day from which the workbook counts. Leaves: the text that Excel set to
// American English shows in a column that is wide enough, and the stored
// value or date behind it. Never: it shows half of a format that it doesn't
// understand; such a number stands in full and says so.
//
// Both forms of workbook, of before 2007 and after, use the same language of
// format codes (ECMA-376 part 1, 18.8.31), so that their readers share this
// package.
package numfmt
