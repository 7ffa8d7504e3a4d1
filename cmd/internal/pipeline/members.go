package pipeline

import (
	"context"
	"fmt"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/bundle"
	"example.org/windrow/ingest/mail"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// expanders is what holds several files: for each kind, how it is taken
// apart. A new kind of container is one line here.
var expanders = map[ingest.Kind]func(*ingest.Source, ingest.Limits) ([]*ingest.Source, []*ingest.Reason){
	ingest.KindMail: func(src *ingest.Source, lim ingest.Limits) ([]*ingest.Source, []*ingest.Reason) {
		members, info, reasons := mail.Expand(src, lim)
		for _, m := range members {
			m.Senders, m.Subjects = strings.Join(info.Senders(), "\n"), strings.Join(info.Subjects(), "\n")
		}
		return members, reasons
	},
	ingest.KindZip: bundle.Expand,
}

// mostNested is how deep containers may lie in each other.
const mostNested = 3

// mostMembers is how many files one source may hold in all.
const mostMembers = 1000

// A parcel is a source with the sources in it.
type parcel struct {
	src     *ingest.Source
	members []*ingest.Source // the source itself, when it is no container
	reasons []*ingest.Reason // why something in it could not be taken out
	// mails names, for each member, the outermost mail in which it came, and
	// lost those of which something could not be taken out; "" is none.
	mails []string
	lost  map[string][]*ingest.Reason
}

func kindOf(src *ingest.Source) ingest.Kind {
	if src.Member != "" {
		return ingest.Sniff(src.Member, src.Bytes)
	}
	return ingest.Sniff(src.Name, src.Bytes)
}

// unpack takes a source apart, and containers in it, too.
func (s *Stages) unpack(src *ingest.Source) parcel {
	p := parcel{src: src, lost: map[string][]*ingest.Reason{}}
	p.open(s, src, "", 0)
	return p
}

// amiss notes why something could not be taken out.
func (p *parcel) amiss(mail string, rs ...*ingest.Reason) {
	p.reasons = append(p.reasons, rs...)
	for _, r := range rs {
		if stops(r) {
			p.lost[mail] = append(p.lost[mail], r)
		}
	}
}

func (p *parcel) open(s *Stages, src *ingest.Source, mail string, depth int) {
	kind := kindOf(src)
	expand, ok := expanders[kind]
	if !ok {
		p.members, p.mails = append(p.members, src), append(p.mails, mail)
		return
	}
	if kind == ingest.KindMail && mail == "" {
		mail = src.Title()
	}
	hold := func(what, expected string) {
		p.amiss(mail, &ingest.Reason{Code: "too-large", Severity: ingest.Hold, Where: ingest.Place{File: src.Title()}, What: what, Expected: expected, Next: "take the reports out by hand and drop them in one by one"})
	}
	if depth >= mostNested {
		hold("files lie too deep in other files", "at most 3 one in another")
		return
	}
	members, reasons := expand(src, s.Limits)
	p.amiss(mail, reasons...)
	for _, m := range members {
		if m.Senders == "" { // out of an archive that came in a mail
			m.Senders = src.Senders
		}
		if m.Subjects == "" {
			m.Subjects = src.Subjects
		}
		if len(p.members) >= mostMembers {
			hold("too many files lie in this one", "at most 1000")
			return
		}
		p.open(s, m, mail, depth+1)
	}
}

// ReadAll reads every source that is in a source: a mail or an archive holds
// several, any other file is one by itself. There is at least one reading.
// The error is set only when ctx ended.
func (s *Stages) ReadAll(ctx context.Context, src *ingest.Source, d Defaults) ([]*Reading, error) {
	return s.readParcel(ctx, s.unpack(src), d, true)
}

// ReadMember reads the file of that name in a mail or an archive by itself,
// also one that is left out of the reports, as the text of a mail often is.
// It is nil, without an error, when there is none.
func (s *Stages) ReadMember(ctx context.Context, src *ingest.Source, member string, d Defaults) (*Reading, error) {
	for _, m := range s.unpack(src).members {
		if m.Member == member {
			return s.Read(ctx, m, d)
		}
	}
	return nil, nil
}

// Reports is ReadAll for who wants nothing but the reports. Of a large file
// they are the lesser part, and the rest is let go of on the way.
func (s *Stages) Reports(ctx context.Context, src *ingest.Source, d Defaults) ([]*normalize.Report, error) {
	all, err := s.readParcel(ctx, s.unpack(src), d, false)
	if err != nil {
		return nil, err
	}
	var out []*normalize.Report
	for _, rd := range all {
		out = append(out, rd.Report)
	}
	return out, nil
}

func (s *Stages) readParcel(ctx context.Context, p parcel, d Defaults, whole bool) ([]*Reading, error) {
	defer makeRoom(p.members)()
	var all []*Reading
	for i, m := range p.members {
		rd := &Reading{Source: m, mail: p.mails[i]}
		if err := s.extract(partOf(ctx, i+1, len(p.members)), rd, d, whole); err != nil {
			return nil, err
		}
		all = append(all, rd)
	}
	heldByWords(all)
	all, notes := withoutTalk(all)
	all, more := withoutCompanions(all)
	notes = append(notes, more...)
	// A laboratory may send the same results twice in one mail, as a page to
	// read and as a table.
	var extracts []*mappings.Extract
	for _, rd := range all {
		if rd.Extract != nil {
			extracts = append(extracts, rd.Extract)
		}
	}
	if len(extracts) > 1 {
		mappings.Reconcile(extracts)
	}
	var amiss []*ingest.Reason
	for _, r := range p.reasons {
		if stops(r) {
			amiss = append(amiss, r)
		} else {
			notes = append(notes, r)
		}
	}
	switch {
	case len(extracts) > 0:
		extracts[0].Reasons = append(extracts[0].Reasons, notes...)
	case len(all) > 0:
		all[0].why = append(all[0].why, notes...)
	case len(amiss) > 0:
		amiss = append(amiss, notes...)
	default:
		amiss = nothingIn(p.src, notes)
	}
	for i, rd := range all {
		if rd.Extract != nil {
			at(partOf(ctx, i+1, len(all)), "normalise")
		}
		s.build(rd, d, !whole && len(all) == 1)
	}
	s.together(p, all, d)
	for _, rd := range all {
		if !whole {
			rd.Extract = nil
		}
	}
	if len(amiss) > 0 {
		// What could not be taken out is a report of its own: that of the
		// container, which waits for a person.
		all = append(all, &Reading{Source: p.src, Report: normalize.HeldReport(p.src.Ref(), normalize.Lab{}, amiss, s.options(d))})
	}
	return all, nil
}

// nothingIn is why a container without a report in it waits, unless it is
// held for another reason: what is in it and was left out, and by its side
// the notes on each.
func nothingIn(src *ingest.Source, notes []*ingest.Reason) []*ingest.Reason {
	r := &ingest.Reason{Code: "empty-file", Severity: ingest.Hold, Where: ingest.Place{File: src.Title()}, What: "nothing is in this file that could be a report", Expected: "a report in it", Found: "none",
		Next: "look at it, and ask the sender for the report"}
	if n := len(notes); n == 1 {
		r.Found = "one entry, which was ignored: " + notes[0].Where.File
	} else if n > 1 {
		r.Found = fmt.Sprintf("%d entries, all of which were ignored, the first of them %s", n, notes[0].Where.File)
	}
	return append([]*ingest.Reason{r}, notes...)
}
