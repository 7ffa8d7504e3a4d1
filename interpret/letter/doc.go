// Package letter turns advice into a letter that a client can act on: plain
// words, one page where possible, the office's own name on it.
//
// Enters: an interpret.Advice with the record and report it is about, and the
// office that sends the letter.
// Leaves: one self-contained HTML page, without scripts and without anything
// to fetch.
// Never: it adds no advice of its own, changes no amount, and shows nothing
// by color alone.
//
// It is an implementation over interpret: interpret imports nothing of it.
package letter
