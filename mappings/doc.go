// Package mappings is the language in which a data steward says how one
// laboratory's reports are recognised and read, and the reader that does it.
//
// Enters: a Document from ingest, and a Mapping decoded from a YAML file.
// Leaves: an Extract, the readings of a report exactly as printed, each with
// its place and with the line of the mapping that read it; and every reason
// to hold the report.
// Never: it converts nothing, judges no value and guesses nothing. A number
// that no rule of the mapping accounts for is a reason, not a result.
package mappings
