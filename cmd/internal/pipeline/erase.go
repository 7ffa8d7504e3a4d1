package pipeline

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// An Erasure is what is to be erased of one report.
type Erasure struct {
	Report    string
	Records   []string // whose client asks; none means all of the report
	Name      string   // of the file, for the person who decides
	Samples   int      // of the report
	Others    int      // samples of other clients in it, which lose their original too
	Originals []string // SHA-256: its own, and those of mails and archives that it came in
	Arrivals  []string
	Advice    []string
	Orphans   []string // reports of others that came in the same mail or archive
	Rows      []string // of the office's register
	Done      bool     // it was erased before, and nothing came since

	texts []string // that tell who it is
	kept  []byte
}

// ClientRecords are the ids of the records of a client, by the name as it was
// printed, whatever the case of its letters, in any version.
func ClientRecords(ctx context.Context, a *archive.Archive, name string) ([]string, error) {
	ids := map[string]bool{}
	err := a.EachID(archive.Reports, func(id string) error {
		list, err := versionsOf(a, id)
		for _, rep := range list {
			for _, rec := range rep.Records {
				if rec.Client != nil && strings.EqualFold(strings.TrimSpace(rec.Client.Name), strings.TrimSpace(name)) {
					ids[rec.ID] = true
				}
			}
		}
		if err == nil {
			err = ctx.Err()
		}
		return err
	})
	return slices.Sorted(maps.Keys(ids)), err
}

func versionsOf(a *archive.Archive, id string) (out []*normalize.Report, err error) {
	vs, err := a.Versions(archive.Reports, id)
	for _, v := range vs {
		b, rerr := a.Version(archive.Reports, id, v)
		if rerr != nil {
			return out, rerr
		}
		rep := &normalize.Report{}
		if err := json.Unmarshal(b, rep); err != nil {
			return out, fmt.Errorf("version %d of report %s in the archive: %w", v, id, err)
		}
		out = append(out, rep)
	}
	return out, err
}

// PlanErasures finds all that belongs to some reports or records, by their
// ids: other reports of the same bytes, the mails and archives that they came
// in, notes and advice. Nothing is changed.
func PlanErasures(ctx context.Context, st *Stages, a *archive.Archive, ids []string) ([]*Erasure, error) {
	wanted := map[string][]string{}
	for _, id := range ids {
		report, _, one := strings.Cut(id, "-")
		if _, have := wanted[report]; !have || !one {
			wanted[report] = nil
		} else if wanted[report] == nil {
			continue // all of it
		}
		if one {
			wanted[report] = append(wanted[report], id)
		}
	}
	hash := map[string]string{} // of each report's source
	same := map[string][]string{}
	err := a.EachID(archive.Reports, func(id string) error {
		rep, err := latestOf(a, id)
		if err == nil && rep != nil {
			hash[id] = rep.Source.SHA256
			same[rep.Source.SHA256] = append(same[rep.Source.SHA256], id)
		}
		if err == nil {
			err = ctx.Err()
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, report := range slices.Sorted(maps.Keys(wanted)) {
		if hash[report] == "" {
			return nil, &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: report}, What: "the archive holds no report of that id", Expected: "the id of a report or record, as letters print it at their foot", Found: report,
				Next: "check the id, and that this is the right office"}
		}
		for _, twin := range same[hash[report]] { // the same bytes, in a mail and by themselves
			if _, have := wanted[twin]; !have {
				wanted[twin] = nil
				for _, rec := range wanted[report] {
					wanted[twin] = append(wanted[twin], twin+strings.TrimPrefix(rec, report))
				}
			}
		}
	}
	notes, parcels, err := whatCame(ctx, st, a)
	if err != nil {
		return nil, err
	}
	var out []*Erasure
	for _, report := range slices.Sorted(maps.Keys(wanted)) {
		x := &Erasure{Report: report, Records: wanted[report], Originals: []string{hash[report]}}
		for sha, members := range parcels {
			if !slices.ContainsFunc(members, func(m *ingest.Source) bool { return m.SHA256 == hash[report] }) {
				continue
			}
			x.Originals = append(x.Originals, sha)
			for _, m := range members {
				if _, goes := wanted[idOf(m)]; !goes && hash[idOf(m)] != "" {
					x.Orphans = append(x.Orphans, idOf(m))
				}
			}
		}
		for _, h := range x.Originals {
			x.Arrivals = append(x.Arrivals, notes[h]...)
		}
		if err := x.fill(a); err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	more, err := alsoAbout(a, out)
	if err != nil || len(more) == 0 {
		return out, err
	}
	return PlanErasures(ctx, st, a, append(slices.Clone(ids), more...))
}

// alsoAbout are the reports beside erased ones in a mail or archive, such as
// the text of the mail itself, that name the person and have no client of
// their own: they go as well.
func alsoAbout(a *archive.Archive, list []*Erasure) (ids []string, err error) {
	for _, x := range list {
		for _, id := range x.Orphans {
			rep, err := latestOf(a, id)
			if err != nil {
				return nil, err
			}
			if slices.ContainsFunc(rep.Records, func(r *normalize.Record) bool { return r.Client != nil }) {
				continue
			}
			text, err := rep.JSON()
			if err != nil {
				return nil, err
			}
			if b, err := a.Original(rep.Source.SHA256); err == nil { // else what is in it can't be told
				text = append(text, b...)
			}
			if slices.ContainsFunc(x.texts, func(s string) bool { return len(s) >= leastTelling && bytes.Contains(text, []byte(s)) }) {
				ids = append(ids, id)
			}
		}
	}
	return ids, nil
}

// leastTelling is how long a text must be to point to a person: a label such
// as "lawn" doesn't.
const leastTelling = 6

// whatCame lists the places of the notes by the hash of their file, and what
// is in each mail and archive whose original is there.
func whatCame(ctx context.Context, st *Stages, a *archive.Archive) (notes map[string][]string, parcels map[string][]*ingest.Source, err error) {
	notes, parcels = map[string][]string{}, map[string][]*ingest.Source{}
	err = a.EachArrival(func(where string, n archive.Arrival) error {
		first := len(notes[n.SHA256]) == 0
		notes[n.SHA256] = append(notes[n.SHA256], where)
		if !first || n.Report != "" && n.Report == reportOf(n.SHA256) {
			return ctx.Err()
		}
		b, err := a.Original(n.SHA256)
		if err != nil {
			return err
		}
		var in []*ingest.Source
		for _, m := range st.unpack(ingest.NewSource(n.Name, b)).members {
			if m.Member != "" {
				as := *m
				as.Bytes = nil // only its name and hash are asked for
				in = append(in, &as)
			}
		}
		parcels[n.SHA256] = in
		return ctx.Err()
	})
	return notes, parcels, err
}

// fill reads the versions of the report: whose texts they hold, and what of
// the latest stays.
func (x *Erasure) fill(a *archive.Archive) error {
	list, err := versionsOf(a, x.Report)
	if err != nil {
		return err
	}
	advice, texts, rows := map[string]bool{}, map[string]bool{}, map[string]bool{}
	last := list[len(list)-1]
	x.Name, x.Samples = last.Source.Title(), len(last.Records)
	for _, rep := range list {
		for _, rec := range rep.Records {
			if len(x.Records) > 0 && !slices.Contains(x.Records, rec.ID) {
				continue
			}
			advice[rec.ID] = true
			if rec.Sample.Register != nil {
				rows[rec.Sample.Register.Row] = true
			}
			for _, s := range normalize.PersonTexts(rec) {
				texts[s] = true
			}
		}
	}
	if len(x.Records) > 0 {
		x.Others = len(last.Records)
		for _, rec := range last.Records {
			if slices.Contains(x.Records, rec.ID) {
				x.Others--
			}
		}
	}
	x.Advice, x.texts, x.Rows = slices.Sorted(maps.Keys(advice)), slices.Sorted(maps.Keys(texts)), slices.Sorted(maps.Keys(rows))
	stays, err := normalize.WithoutPerson(last, x.Records)
	if err != nil {
		return err
	}
	if x.kept, err = stays.JSON(); err != nil {
		return err
	}
	was, err := last.JSON()
	if err != nil {
		return err
	}
	x.Done = bytes.Equal(was, x.kept) && len(list) == 1 && len(x.Arrivals) == 0
	for _, h := range x.Originals {
		have, err := a.Has(h)
		if err != nil {
			return err
		}
		x.Done = x.Done && !have
	}
	return nil
}

// Begin writes what stays, and the tombstone; nothing is removed yet. A why
// that names the person is refused, since it stays.
func (x *Erasure) Begin(a *archive.Archive, by, because string, on time.Time) error {
	for _, s := range x.texts {
		if strings.Contains(strings.ToLower(because), strings.ToLower(s)) || strings.Contains(strings.ToLower(by), strings.ToLower(s)) {
			return &ingest.Reason{Code: "erasure-names-person", Severity: ingest.Fail, Where: ingest.Place{File: x.Report}, What: "the words that are to stay name the person whose data goes", Expected: "words without names, such as the day of the request",
				Next: "say it otherwise with --because and --by; nothing was erased"}
		}
	}
	_, err := a.BeginErasure(archive.EraseRequest{Report: x.Report, Kept: x.kept, Originals: x.Originals, Arrivals: x.Arrivals, Advice: x.Advice,
		By: strings.TrimSpace(by), Because: strings.TrimSpace(because), On: on, Orphans: x.Orphans, Requested: x.Records})
	return err
}

// Mentions lists the documents and notes that hold a text of the persons whose
// data is to go, or the name of a file, and that none of the erasures is about:
// sign-offs, and reports that others are compared with.
func Mentions(ctx context.Context, a *archive.Archive, list []*Erasure) ([]string, error) {
	var secrets [][]byte
	goes := map[string]bool{}
	for _, x := range list {
		goes[x.Report] = true
		for _, p := range x.Arrivals {
			goes[p] = true
		}
		for _, s := range append(slices.Clone(x.texts), x.Name) {
			if b, err := json.Marshal(s); err == nil && len(s) >= leastTelling && s != "erased" {
				secrets = append(secrets, b[1:len(b)-1])
			}
		}
	}
	var out []string
	look := func(place string, b []byte) error {
		if slices.ContainsFunc(secrets, func(s []byte) bool { return bytes.Contains(b, s) }) {
			out = append(out, place)
		}
		return ctx.Err()
	}
	for _, kind := range archive.Kinds() {
		err := a.EachID(kind, func(id string) error {
			of, _, _ := strings.Cut(id, "-")
			if goes[of] {
				return nil
			}
			vs, err := a.Versions(kind, id)
			if err != nil {
				return err
			}
			for _, v := range vs {
				b, err := a.Version(kind, id, v)
				if err != nil {
					return err
				}
				if err := look(fmt.Sprintf("%s/%s, version %d", kind, id, v), b); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return out, err
		}
	}
	err := a.EachArrival(func(where string, n archive.Arrival) error {
		if goes[where] {
			return nil
		}
		b, err := json.Marshal(n)
		if err != nil {
			return err
		}
		return look(where, b)
	})
	return out, err
}
