// Package ingest turns the bytes of a file that a laboratory sent into a
// [Document]: what is on its pages or sheets, and where.
//
// Enters: a [Source], the bytes of one file and what is known of its arrival.
// Leaves: a [Document], the one shape that every format is turned into, whose
// every piece of text has a [Place]; or a [Reason] why there is none.
// Never: it gives no text a meaning. What a number is, which unit it carries
// and whether it is a result is for the mappings to say.
//
// The sub-packages (pdf, sheet, delimited, folder) are implementations: they
// import the nouns declared here, and nothing here imports them.
package ingest
