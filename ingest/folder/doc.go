// Package folder watches folders into which people and programs drop reports.
//
// Enters: folders, and a [Handle] that keeps and works on the bytes of one
// file. Leaves: each file handled, and then filed away under a dated name or
// set aside beside a note in plain words.
// Never: it deletes a file that isn't safely elsewhere, overwrites one,
// touches one that is still being written, or knows what a report is. It
// doesn't look into subfolders and follows no links; what is no plain file
// stays where it lies, and is told of once ([NotTaken]).
//
// The package is an implementation over ingest.
//
// # When a file is taken
//
// Polling is the truth; notifications of the file system only wake it early,
// because network shares send none. A file is taken when its size and time
// of change were the same on every look over at least Settle, and it can be
// opened. An empty file, which is how many copies begin, has to stay so
// fifteen times as long. Temporary names are passed over: those that begin
// with a full stop or ~$, and those that end in .part, .tmp, .crdownload,
// .swp or ~. So are the notes that this package writes (.why.txt). A hidden
// file with the name of a report is told of ([HiddenReport]).
//
// # What a crash can do
//
// Handle has to have kept the bytes when it returns. Only then is the file
// moved, by one renaming, so that after a crash at any moment the file is
// either still in its folder, and will be handled again, or filed. Handle
// must therefore take the same bytes twice in its stride. Between devices
// the file is copied, written through to the disk, read back and compared,
// and given its name, before the original goes.
package folder
