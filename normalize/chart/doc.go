// Package chart draws distributions of which a part is only known as below or
// above a limit, for a report on paper or a page.
//
// Enters: descriptions of the package censored, each with its label. Leaves: a
// [Drawing], which is written as SVG, with a title and a description that is
// read aloud, or as PNG.
// Never: nothing is told by colour, all is ink on white; no value is drawn where
// only a limit is known: there the paper is hatched; no text of a report is
// taken for markup; and nothing is fetched, fonts least of all.
//
// Drawn by primitives of its own and not by a plotting library: those that write
// both forms load their fonts at every start of the program, and draw no part
// that is below a limit.
//
// The package is a leaf.
package chart
