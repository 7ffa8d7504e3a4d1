// Package mail takes a mail (.eml) apart into what was sent with it.
//
// Enters: the bytes of one mail. Leaves: its attachments, its text and its
// HTML as sources of their own, in the order of the mail, those of enclosed
// mails too; what the mail says of its sender; and a reason for every part
// that could not be handed on.
// Never: it writes no file, loads nothing, takes no name out of a mail for a
// path, and hands on no part of which it is not sure to have every byte.
//
// The parts are found by jhillyerd/enmime, which puts up with much. Their
// transfer encoding is undone here, because it must not: an attachment with a
// sign in it that base64 doesn't have, or that ends with the file instead of
// its boundary, is set aside with a reason, and the rest is handed on.
//
// The bytes of an attachment are those that the sender attached, in whatever
// encoding its text is. The text and the HTML of the mail itself are turned
// into UTF-8, as only the mail knows their encoding; the HTML then begins
// with a byte-order mark, which outweighs what it says of itself.
package mail

// The codes of the reasons that Expand gives, beside too-large and damaged.
const (
	// CodeCut marks a part whose end is missing: the mail was cut short.
	CodeCut = "part-cut-short"
	// CodeDecode marks a part whose transfer encoding is broken.
	CodeDecode = "part-damaged"
	// CodeCharset marks a text in an encoding that is not known.
	CodeCharset = "encoding-unknown"
	// CodeDeep marks an enclosed mail that lies too deep.
	CodeDeep = "mail-too-deep"
	// CodeLocked marks a part that is encrypted.
	CodeLocked = "locked"
	// CodePacked marks attachments packed in a form of Outlook's own.
	CodePacked = "packed-by-outlook"
	// CodeElsewhere marks an attachment that is only named, not sent.
	CodeElsewhere = "attachment-elsewhere"
	// CodeMailbox marks a file with several mails in a row.
	CodeMailbox = "mailbox"
	// CodeLeftOut is the code of notes on parts that are no reports:
	// pictures of a signature, invitations, signatures.
	CodeLeftOut = "part-left-out"
	// CodeEmpty marks a mail with nothing in it.
	CodeEmpty = "empty-file"
)
