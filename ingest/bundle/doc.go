// Package bundle takes a zip file apart into the files in it.
//
// Enters: the bytes of one zip file. Leaves: the files in it as sources of
// their own, in the order of its table of contents, those of a zip within the
// zip too; and a reason for every entry that was not handed on.
// Never: it writes no file and follows no link, so that no name in the zip is
// ever a path; it unpacks nothing before the table of contents was found
// sound; and it hands on no file whose length or checksum is not what the
// table of contents says.
package bundle

// The codes of the reasons that Expand gives, beside too-large and damaged.
const (
	// CodeBomb marks a zip that would grow beyond all measure.
	CodeBomb = "zip-bomb"
	// CodeLocked marks an entry that is encrypted.
	CodeLocked = "locked"
	// CodePath marks an entry whose name points out of the zip.
	CodePath = "name-points-outside"
	// CodeLink marks an entry that is a link or a device, not a file.
	CodeLink = "not-a-file"
	// CodeSame marks an entry with the same bytes as one before.
	CodeSame = "same-bytes"
	// CodeDeep marks a zip that lies too deep.
	CodeDeep = "zip-too-deep"
	// CodeMethod marks an entry that is packed in a way that isn't known.
	CodeMethod = "packing-unknown"
	// CodeOffice marks a zip that is an office document.
	CodeOffice = "office-document"
	// CodeLeftOut is the code of notes on entries that a computer's own
	// housekeeping left there.
	CodeLeftOut = "entry-left-out"
	// CodeEmpty marks a zip without files, or a file without bytes.
	CodeEmpty = "empty-file"
)
