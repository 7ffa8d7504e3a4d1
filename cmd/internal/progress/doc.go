// Package progress tells a person who waits how far a run has come. It is a
// leaf of cmd.
//
// Enters: how many files there are, and a word after each.
// Leaves: a moving bar where stderr is a terminal; plain lines where it is a
// file or a pipe, one after each tenth of the files and one whenever five
// seconds have passed; nothing when the run is to be quiet.
//
// Never: it writes to stdout, which belongs to results; it writes no control
// character anywhere but to a terminal; it holds up or fails the work it
// reports on, whatever becomes of the stream it writes to.
package progress
