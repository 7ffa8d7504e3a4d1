// Package interpret says what to do about a record, for a use of the land.
//
// Enters: a Record from normalize, a RuleSet (tables of a region, with
// sources and dates in force), a land use and a date.
// Leaves: Advice, and from it a letter in plain language.
// Never: it changes no record, reads no report, uses no table for an
// extraction method it was not calibrated for, and gives no amount where it
// should ask a question.
package interpret
