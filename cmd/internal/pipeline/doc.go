// Package pipeline is the conductor: the only code that sees every stage. It
// leads the bytes of a file through ingest, mappings, normalize and
// interpret, and keeps what they make.
//
// Enters: the bytes of a file with the name, the way and the time of its
// coming, and an office's settings. Leaves: one report document for every
// source, whatever it holds; advice and a letter for each sample that can be
// advised on; and an [Outcome] in words. Never: it reads, converts or judges
// nothing itself, works on a file before the original is safe in the archive,
// or reports success for what is not on the disk.
//
// [Stages] are the pure part: the same bytes give the same [Reading], without
// an office, a clock or an archive. [Office] is the part that keeps.
package pipeline
