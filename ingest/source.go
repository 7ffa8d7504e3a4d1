package ingest

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
)

// A Source is the bytes of one file that arrived. It carries no time: when it
// came is the archive's business, so that the same bytes under the same name
// always give the same record.
type Source struct {
	Name   string // base name as it arrived
	Member string // name inside an archive or mail, "" for the file itself
	Bytes  []byte
	SHA256 string // of Bytes, lower-case hex
	// Senders are who sent the mail that it came in, as its From lines say,
	// with those of mails that were forwarded in it, one a line; evidence,
	// not proof.
	Senders string
	// Subjects are the subjects of that mail and of those within it, one a
	// line.
	Subjects string
}

// NewSource makes a source from a name and its bytes, which the caller must
// not change afterwards.
func NewSource(name string, b []byte) *Source {
	h := sha256.Sum256(b)
	return &Source{Name: name, Bytes: b, SHA256: hex.EncodeToString(h[:])}
}

// Title is the name to show: the file, and the member where there is one.
func (s *Source) Title() string {
	if s.Member == "" {
		return s.Name
	}
	return s.Name + " > " + s.Member
}

// Mark names the bytes in lines of a log: the first twelve digits of their
// hash, enough to follow one file on its way and to find it in an archive, and
// nothing of its name, which may be a client's.
func (s *Source) Mark() string { return Mark(s.SHA256) }

// Mark is [Source.Mark] of a hash.
func Mark(sha256hex string) string {
	if len(sha256hex) > 12 {
		return sha256hex[:12]
	}
	return sha256hex
}

// Ref is what a document and a record keep of the source.
func (s *Source) Ref() SourceRef {
	return SourceRef{Name: s.Name, Member: s.Member, SHA256: s.SHA256, Size: int64(len(s.Bytes)), Senders: s.Senders}
}

// A SourceRef names a source without its bytes.
type SourceRef struct {
	Name   string `json:"name"`
	Member string `json:"member,omitempty"`
	SHA256 string `json:"sha256"`
	Size   int64  `json:"size"` // bytes
	// Senders help to recognise the laboratory, and are not kept.
	Senders string `json:"-"`
}

// Title is the name to show: the file, and the member where there is one.
func (r SourceRef) Title() string {
	if r.Member == "" {
		return r.Name
	}
	return r.Name + " > " + r.Member
}

var messageName = regexp.MustCompile(`(^| > )message (text|page)( \(\d+\))?$`)

// IsMessage reports whether a member of a mail is what was written in it,
// rather than attached to it.
func (r SourceRef) IsMessage() bool { return messageName.MatchString(r.Member) }

// Names keeps apart the members of one source: how often each name was given.
type Names map[string]int

// Unique is the name itself the first time, and numbered after that: "a.pdf",
// "a.pdf (2)".
func (n Names) Unique(name string) string {
	n[name]++
	if n[name] == 1 {
		return name
	}
	next := fmt.Sprintf("%s (%d)", name, n[name])
	if n[next] > 0 {
		return n.Unique(name)
	}
	n[next]++
	return next
}
