// Package delimited reads text files whose fields are cut by a delimiter:
// .csv and its relations.
//
// Enters: the bytes of a file, and the [ingest.Dialect] that a mapping
// declares for it. Leaves: an [ingest.Document] of one page whose cells are
// the fields that hold anything, each with its line and its column in
// characters; or a reason why there is none.
// Never: it guesses no encoding and no delimiter, repairs no quotes, replaces
// no character that it can't decode, and drops or pads no field.
//
// The package is an implementation over ingest, with encoding/csv as its
// base: quoting is that of RFC 4180, and a line break inside quotes becomes a
// single line feed.
//
// # Rows and places
//
// The row of a cell is the number of the line on which its record begins, so
// that row and line agree for a person who opens the file in an editor; lines
// between, blank or inside a quoted field, are rows without cells. Line and
// LineCol are where the field itself begins, at its opening quote if it has
// one. A byte-order mark does not count.
//
// # Ragged rows
//
// In a sound table every row has the same number of fields; one that has not
// may have lost a field, and then every value after it stands under the wrong
// heading. Lines before and after a table are normal, though. The rule:
//
//  1. The expected number of fields is the one that most records have, one
//     field apart; of two that are equally frequent, the larger. A file whose
//     records all have one field has no table and no ragged rows. Where most
//     records are labels with a value or two, and the widest ones, of five
//     fields or more and twice as many as those, stand together, the table
//     is where they stand: a report of one sample has a longer head than table.
//  2. The table begins with the first two neighbouring records of that number
//     (or the only one), and ends with the last such record. Records before
//     it are a preamble and don't count, unless they have more fields.
//  3. Every other record within the table is ragged.
//  4. After the table, a record is a note, and not ragged, if a blank line
//     lies between, or if it has one field. The exception is a last line that
//     follows the table at once, has no line end, and is one word: that is
//     what a file that was cut short leaves behind.
//
// A record whose fields are all empty is a blank line. Ragged rows are kept
// as they are; the document carries a note of severity hold for each of the
// first five, and one with the count of the rest.
package delimited

// CodeRagged is the code of the note for a row with too few or too many
// fields.
const CodeRagged = "ragged-row"
