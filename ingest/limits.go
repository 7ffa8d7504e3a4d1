package ingest

import (
	"context"
	"errors"
	"fmt"
)

// Limits bound what one file may cost. Exceeding one is a Reason with the
// code "too-large" or "too-slow" that names the limit and how to raise it.
// A zero field means the default of DefaultLimits.
type Limits struct {
	Bytes     int64 `json:"bytes"`      // size of the file
	Pages     int   `json:"pages"`      // pages or sheets
	Cells     int   `json:"cells"`      // cells of all sheets or fields of a delimited file
	Words     int   `json:"words"`      // words of all pages
	Unzipped  int64 `json:"unzipped"`   // bytes that a compressed file may grow to
	Seconds   int   `json:"seconds"`    // of wall time for one file
	MemoryMiB int   `json:"memory_mib"` // of the process that parses it, where the format is parsed apart
}

// DefaultLimits are sane for the reports that laboratories send.
func DefaultLimits() Limits {
	return Limits{Bytes: 64 << 20, Pages: 500, Cells: 5_000_000, Words: 2_000_000, Unzipped: 256 << 20, Seconds: 30, MemoryMiB: 512}
}

// OrDefault fills the fields that are zero.
func (l Limits) OrDefault() Limits {
	d := DefaultLimits()
	if l.Bytes == 0 {
		l.Bytes = d.Bytes
	}
	if l.Pages == 0 {
		l.Pages = d.Pages
	}
	if l.Cells == 0 {
		l.Cells = d.Cells
	}
	if l.Words == 0 {
		l.Words = d.Words
	}
	if l.Unzipped == 0 {
		l.Unzipped = d.Unzipped
	}
	if l.Seconds == 0 {
		l.Seconds = d.Seconds
	}
	if l.MemoryMiB == 0 {
		l.MemoryMiB = d.MemoryMiB
	}
	return l
}

// Over words why reading has to end, by the error of a context; nil for no
// error. what names what is read, such as "the workbook".
func (l Limits) Over(err error, what string) *Reason {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, context.DeadlineExceeded):
		return &Reason{Code: "too-slow", Severity: Fail, What: "reading " + what + " took too long and was given up",
			Expected: fmt.Sprintf("at most %d seconds", l.Seconds),
			Next:     "try again when the computer is less busy; if it happens again, see whether " + what + " is damaged or far larger than usual, and if it is sound, raise the limit of seconds in the settings"}
	}
	return &Reason{Code: "stopped", Severity: Fail, What: "reading " + what + " was stopped before it was done",
		Next: "nothing is wrong with the file, and nothing is lost; it can be read again"}
}

// TooLarge words that a file exceeds a limit, named as in the settings. what
// is the sentence; expected, without "at most", and found are amounts.
func TooLarge(what, expected, found, limit string) *Reason {
	return &Reason{Code: "too-large", Severity: Fail, What: what, Expected: "at most " + expected, Found: found,
		Next: "see whether the file is really one report; if it is, raise the limit of " + limit + " in the settings"}
}

// Size is a number of bytes for people, in the largest unit of which there
// are ten.
func Size(n int64) string {
	switch {
	case n >= 10<<20:
		return fmt.Sprintf("%d MiB", n>>20)
	case n >= 10<<10:
		return fmt.Sprintf("%d KiB", n>>10)
	}
	return fmt.Sprintf("%d bytes", n)
}
