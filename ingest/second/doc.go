// Package second reads a PDF with an engine that shares no code with package
// pdf, so that what the two say of one place can be held against each other.
//
// Enters: the bytes of a PDF. Leaves: its characters or words with their
// places, a picture of a page, or an *[ingest.Reason]; and, given what the
// first engine read, the places at which the two differ. Never: it settles no
// difference. What a person can't see on the page, and how glyphs make words,
// stay the first engine's decision.
//
// The engine is PDFium (https://pdfium.googlesource.com/pdfium/), compiled to
// WebAssembly and run by wazero inside this process, with no file system, no
// network and a bound on its memory. It opens files that the first engine
// can't: repaired cross-reference tables and every standard encryption. A
// hostile file can make it run without end, which nothing inside the process
// stops; such files are read through a process set apart.
//
//	engine   starting it, and throwing it away after a fault
//	compile  the machine code kept on disk, so that a start takes 0.1 s and not 3 s
//	glyphs   the characters of a page with their places
//	words    characters to words, for files that only this engine opens
//	pack     the characters as bytes, on their way between processes
//	agree    what the two engines say of one place
//	job      asking for all this across a process boundary
package second
