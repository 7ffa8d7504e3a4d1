// Package pdf reads the text of a PDF with its true place on the page.
//
// Enters: the bytes of a PDF. Leaves: an [ingest.Document] whose words stand
// where a person sees them, or an *[ingest.Reason]. Never: it guesses no
// character that the file doesn't name, repairs no damaged file, reads no
// picture, and returns no part of a file as if it were the whole.
//
// The objects of the file come from github.com/ledongthuc/pdf; everything
// from the content stream on is read here, after ISO 32000-1:2008, whose
// clauses the comments name. The steps, each with a file of its own:
//
//	guard    bounds what the object layer may read, and for how long
//	pages    the page tree, page boxes, annotations
//	stream   decoded bytes of a content stream
//	lex      bytes to operands and operators
//	interp   operators to glyphs, with the graphics state
//	paint    what hides a glyph: clips, fills, pictures
//	font     codes to characters and widths; encoding, cmap, type1, tables
//	words    glyphs to words
package pdf
