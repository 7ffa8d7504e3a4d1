package mail

import (
	"bytes"
	"mime"
	"regexp"
	"strings"

	"github.com/jhillyerd/enmime/v2"
	"github.com/jhillyerd/enmime/v2/mediatype"
	"golang.org/x/net/html/charset"

	"example.org/windrow/ingest"
)

// A MailInfo is what a mail says of itself: evidence of the laboratory that
// sent it, and no more than that, as anyone can write anything there. The
// texts are decoded and otherwise as they stand in the mail.
type MailInfo struct {
	From      string `json:"from,omitempty"`
	Subject   string `json:"subject,omitempty"`
	MessageID string `json:"message_id,omitempty"`
	Date      string `json:"date,omitempty"`
	// Enclosed are the mails within this one, in its order; a report that
	// was forwarded has its first sender there.
	Enclosed []MailInfo `json:"enclosed,omitempty"`
}

// Senders are the From lines of the mail and of those within it.
func (m MailInfo) Senders() []string {
	var out []string
	if m.From != "" {
		out = append(out, m.From)
	}
	for _, e := range m.Enclosed {
		out = append(out, e.Senders()...)
	}
	return out
}

// Subjects are the subjects of the mail and of those within it.
func (m MailInfo) Subjects() []string {
	var out []string
	if m.Subject != "" {
		out = append(out, m.Subject)
	}
	for _, e := range m.Enclosed {
		out = append(out, e.Subjects()...)
	}
	return out
}

const (
	// deepest is how many mails may be enclosed in one another.
	deepest = 5
	// mostMembers bounds the parts of a mail with those enclosed in it.
	mostMembers = 1000
	// mostBoundaries bounds the parts that hold parts. The work of finding
	// the parts grows with their number times the size of the mail, which
	// mostWork bounds, in bytes.
	mostBoundaries = 100
	mostWork       = 1 << 30
)

// Expand takes a mail apart. Its members have the name of the source and, as
// Member, a name for people to see: that of the attachment, "message text" or
// "message page", after "enclosed message" and a > for those of a mail within
// the mail. A mail of which nothing can be read gives no members and a reason
// of severity fail; reasons of other parts name the member they are about.
func Expand(src *ingest.Source, lim ingest.Limits) (members []*ingest.Source, info MailInfo, reasons []*ingest.Reason) {
	lim = lim.OrDefault()
	e := &expander{src: src, lim: lim, left: lim.Unzipped, names: ingest.Names{}}
	defer func() {
		// The parser is not ours. What it stumbles over is a damaged mail to
		// the person who sent it.
		if p := recover(); p != nil {
			members, info, reasons = nil, MailInfo{}, []*ingest.Reason{damaged("its inner structure can't be followed").In(src.Title())}
		}
	}()
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, info, []*ingest.Reason{tooLarge("the mail is larger than a file may be", ingest.Size(lim.Bytes), ingest.Size(n), "bytes").In(src.Title())}
	}
	info = e.message(src.Bytes, "", 0)
	if e.stop != nil {
		return nil, info, []*ingest.Reason{e.stop.In(src.Title())}
	}
	if len(e.members) == 0 && len(e.reasons) == 0 {
		e.reasons = append(e.reasons, (&ingest.Reason{Code: CodeEmpty, Severity: ingest.Fail, What: "the mail holds nothing: neither an attachment nor a text",
			Next: "ask the sender whether the report was left out"}).In(src.Title()))
	}
	return e.members, info, e.reasons
}

// An expander takes one mail and those enclosed in it apart.
type expander struct {
	src     *ingest.Source
	lim     ingest.Limits
	left    int64 // bytes that may still be handed on
	names   ingest.Names
	members []*ingest.Source
	reasons []*ingest.Reason
	parts   int
	stop    *ingest.Reason // why the whole mail is refused
}

// title is the name of a member as places show it.
func (e *expander) title(member string) string {
	s := *e.src
	s.Member = e.member(member)
	return s.Title()
}

func (e *expander) member(name string) string {
	if e.src.Member == "" || name == "" {
		return e.src.Member + name
	}
	return e.src.Member + " > " + name
}

func (e *expander) complain(member string, r *ingest.Reason) {
	e.reasons = append(e.reasons, r.In(e.title(member)))
}

// hand hands a member on, under a name that no other has.
func (e *expander) hand(member string, b []byte) {
	if n := int64(len(b)); n > e.lim.Bytes {
		e.complain(member, tooLarge("the attachment is larger than a file may be", ingest.Size(e.lim.Bytes), ingest.Size(n), "bytes"))
		return
	}
	if e.left -= int64(len(b)); e.left < 0 {
		e.stop = tooLarge("the parts of the mail are larger together than they may be", ingest.Size(e.lim.Unzipped), "more than that", "unpacked bytes")
		return
	}
	s := ingest.NewSource(e.src.Name, b)
	s.Member = e.member(e.names.Unique(member))
	e.members = append(e.members, s)
}

var boundaryParam = regexp.MustCompile(`(?i)boundary\s*=`)

// message takes one mail apart; within is what stands before the names of its
// members.
func (e *expander) message(b []byte, within string, depth int) MailInfo {
	refuse := func(r *ingest.Reason) MailInfo {
		if depth == 0 {
			e.stop = r
		} else {
			e.complain(strings.TrimSuffix(within, " > "), r)
		}
		return MailInfo{}
	}
	if bytes.HasPrefix(b, []byte("From ")) { // the envelope line of a mailbox file
		_, rest, _ := bytes.Cut(b, []byte("\n"))
		if mailboxGoesOn.Match(rest) {
			return refuse(&ingest.Reason{Code: CodeMailbox, Severity: ingest.Hold, What: "the file holds several mails in a row, a mailbox, and is not taken apart",
				Expected: "one mail a file", Next: "save the mails that hold reports one by one, and drop those in"})
		}
		b = rest
	}
	n := int64(len(boundaryParam.FindAllIndex(b, mostBoundaries+1)))
	if n > mostBoundaries || n*int64(len(b)) > mostWork {
		return refuse(tooLarge("the mail is put together from more parts within parts than a mail may have", "100 of them, fewer in a large mail", "more than that", "parts, which is fixed,"))
	}
	p := enmime.NewParser(enmime.RawContent(true), enmime.SkipMalformedParts(true), enmime.DisableCharacterDetection(true),
		enmime.DisableTextConversion(true), enmime.MultipartWOBoundaryAsSinglePart(true), enmime.MaxStoredPartErrors(50),
		enmime.SetCustomParseMediaType(mediaType))
	root, err := p.ReadParts(bytes.NewReader(b))
	if err != nil || root == nil {
		return refuse(damaged("its header or the list of its parts can't be read"))
	}
	info := MailInfo{From: headerText(root, "From"), Subject: headerText(root, "Subject"), MessageID: headerText(root, "Message-Id"), Date: headerText(root, "Date")}
	c := &collector{expander: e, raw: b, within: within, depth: depth, info: &info}
	c.part(root, false, false)
	return info
}

// mediaType reads a content type. Only parts that hold parts have a boundary;
// some programs give one to an enclosed mail too, which would make the parser
// look for it in vain and lose the mail.
func mediaType(s string) (string, map[string]string, []string, error) {
	kind, params, invalid, err := mediatype.Parse(s)
	if !strings.HasPrefix(strings.ToLower(kind), "multipart/") {
		delete(params, "boundary")
	}
	return kind, params, invalid, err
}

// mailboxGoesOn finds the line that begins the next mail of a mailbox file.
var mailboxGoesOn = regexp.MustCompile(`\n\r?\nFrom [^\n]*\n[A-Za-z-]+:`)

// headerText is a field of the header, decoded, on one line.
func headerText(p *enmime.Part, key string) string {
	v := p.Header.Get(key)
	d := mime.WordDecoder{CharsetReader: charset.NewReaderLabel}
	if s, err := d.DecodeHeader(v); err == nil {
		v = s
	}
	return strings.Join(strings.Fields(strings.ToValidUTF8(v, "\uFFFD")), " ")
}
