// Package archive keeps what arrived and what was made of it, as plain files
// in a plain folder, so that nothing is lost and everything can be proved.
//
// Enters: the bytes of a file that a laboratory sent; the JSON that a stage
// made of it, as kind, id and bytes; and notes of what arrived when.
// Leaves: the same bytes, checked against their SHA-256 on the way out.
// Never: it changes or replaces a file once it stands, reports success before
// the bytes are on the disk, reads meaning into the JSON (it knows no stage's
// types), or asks a clock or a database what is in it. Whatever else an
// office has (index, datasets, pages) can be made again from this folder.
//
// The layout is written into every archive as FORMAT.md, for a reader who has
// neither this program nor its authors.
//
// The package is an implementation over ingest, from which it takes only
// [ingest.Reason]. It is safe for use by several goroutines, and by several
// processes on one folder.
package archive
