// Package letter turns advice into a letter that a client can act on: plain
// words, one page where possible, the office's own name on it.
//
// Enters: an interpret.Advice with the record and report it is about, and the
// office that sends the letter.
// Leaves: one self-contained HTML page, without scripts and without anything
// to fetch; the same as a PDF; or the draft of a mail with the PDF with it. In
// English or Spanish. The letter's own words are in words/, one
// file a language; what advice says is translated by es.yaml, and where that
// does not know a sentence, it stands in English, marked as such.
// Never: it adds no advice of its own, changes no amount, drops no sentence,
// and shows nothing by color alone.
//
// The PDF has its title, its language, its text in the order of reading and
// words in place of the pictures. It is not tagged: its library writes no tree
// of structure, so headings and cells are none to a program that reads aloud,
// and neither are parts in another language. For that there is the page, which
// a test holds against the success criteria of WCAG.
//
// It is an implementation over interpret: interpret imports nothing of it.
package letter
