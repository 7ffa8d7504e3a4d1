package normalize

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/unit"
)

// Options are what a report's reader knows besides the report. They carry no
// clock, so that the same input gives the same record: what a record says of
// earlier ones and of the day it came is as true as what the caller gives.
type Options struct {
	Version        string // of this software
	Office         string // whose folder the report came to
	DefaultCounty  string // for samples whose report names none
	DefaultLandUse string
	Arrived        string  // YYYY-MM-DD, the day the source came; "" when not known
	Earlier        History // what came before; nil when nothing is known of it
	// Spent says that nobody needs the extract afterwards. The readings of a
	// sample are then let go of once its record is made, which is a fifth of
	// what a long list takes.
	Spent bool
}

// A History knows the records of other reports. The checks take what was
// reported on an earlier day alone, so that the order in which files are read
// matters no more than it must.
type History interface {
	// Earlier gives the records of other reports of the laboratory that have
	// the sample's laboratory number, or its label, or the same results.
	Earlier(report, lab string, s *check.Sample) []check.Earlier
}

// Build puts an extract on the common schema: one record a sample, each
// result with its lineage, and what the checks found. It never returns nil
// and never panics; whatever can't be converted is kept as printed with the
// reason. An extract with a reason of severity hold gives a held report.
func Build(ex *mappings.Extract, opt Options) *Report {
	if ex == nil {
		ex = &mappings.Extract{}
	}
	rep := newReport(ex.Source, Lab{ex.Mapping.ID, ex.Mapping.Lab}, ex.Reasons, opt)
	rep.Mapping = MappingRef{ex.Mapping.ID, ex.Mapping.Layout, ex.Mapping.File, ex.Mapping.SHA256}
	var known [][]check.Result
	rep.Records, known = records(ex.Samples, opt)
	for i, s := range ex.Samples {
		if s == nil {
			s = &mappings.SampleExtract{}
		}
		rep.Records[i].ID = fmt.Sprintf("%s-%d", rep.ID, i+1)
		if no := value(s, mappings.ReportNo); no != "" && rep.Number == "" {
			rep.Number = no
		} else if no != "" && no != rep.Number {
			rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: "report-number-differs", Severity: ingest.Flag, Where: s.Fields[mappings.ReportNo].Place,
				What: "the samples of this report carry different report numbers", Expected: rep.Number, Found: no, Next: "see whether two reports are in one file"})
		}
	}
	runChecks(rep, known, opt)
	holdScans(rep)
	inParts(len(rep.Records), atOnce, func() func(from, to int) {
		es := newEstimator()
		return func(from, to int) {
			for _, rec := range rep.Records[from:to] {
				es.record(rec)
			}
		}
	})
	settle(rep)
	return rep
}

// HeldReport is the report of a source from which nothing could be read: it
// has no records, only the reasons, and its status is held.
func HeldReport(src ingest.SourceRef, lab Lab, reasons []*ingest.Reason, opt Options) *Report {
	rep := newReport(src, lab, reasons, opt)
	rep.Status = Held
	return rep
}

func newReport(src ingest.SourceRef, lab Lab, reasons []*ingest.Reason, opt Options) *Report {
	rep := &Report{Schema: SchemaVersion, ID: reportID(src), Status: OK, Lab: lab, Source: src, Version: opt.Version, Tables: TablesHash(), Office: opt.Office, Records: []*Record{}}
	for _, r := range reasons {
		if r != nil {
			rep.Reasons = append(rep.Reasons, r)
		}
	}
	return rep
}

// reportID depends on the bytes, the member and the schema alone, so that a
// file that arrives twice under two names is one report.
func reportID(src ingest.SourceRef) string {
	h := sha256.Sum256([]byte(src.SHA256 + "\x00" + src.Member + "\x00" + SchemaVersion))
	return "R" + hex.EncodeToString(h[:8])
}

func value(s *mappings.SampleExtract, id mappings.FieldID) string { return s.Fields[id].Value }

// atOnce is how many samples are worth a goroutine of their own.
const atOnce = 100

// records are the records of samples and what the checks need to know of
// them.
func records(samples []*mappings.SampleExtract, opt Options) ([]*Record, [][]check.Result) {
	recs, known := make([]*Record, len(samples)), make([][]check.Result, len(samples))
	inParts(len(samples), atOnce, func() func(from, to int) {
		a := newAlike()
		return func(from, to int) {
			for i := from; i < to; i++ {
				s := samples[i]
				if s == nil {
					s = &mappings.SampleExtract{}
				}
				recs[i], known[i] = record(s, a, opt)
				if opt.Spent {
					s.Readings, s.Density = nil, nil
				}
			}
		}
	})
	return recs, known
}

// inParts does some work on each of n things, so many at a time: from one up
// to but without another. Nothing of one may depend on another, so they are
// worked on by as many processors as there are; each has a worker of its own,
// which may remember what it did.
func inParts(n, atOnce int, worker func() func(from, to int)) {
	if n <= atOnce {
		worker()(0, n)
		return
	}
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			some := worker()
			for from := range next {
				some(from, min(from+atOnce, n))
			}
		})
	}
	for from := 0; from < n; from += atOnce {
		next <- from
	}
	close(next)
	wg.Wait()
}

func record(s *mappings.SampleExtract, a *alike, opt Options) (*Record, []check.Result) {
	rec := &Record{Status: OK, Place: s.Place, Results: []*Result{}, Checks: []Finding{}}
	sm := &rec.Sample
	sm.LabID, sm.ClientLabel, sm.County = value(s, mappings.LabSampleID), value(s, mappings.ClientSampleID), value(s, mappings.County)
	sm.Sampled, sm.Received, sm.Reported = value(s, mappings.DateSampled), value(s, mappings.DateReceived), value(s, mappings.DateReported)
	sm.LandUse, sm.LandUseText = value(s, mappings.LandUse), s.Fields[mappings.LandUse].Printed
	if f, ok := s.Fields[mappings.Depth]; ok && f.Value != "" {
		sm.DepthText, sm.DepthSource = f.Printed, "mapping"
		if !f.Place.IsZero() {
			sm.DepthSource = "report"
		}
		if d, err := unit.ParseRational(f.Value); err == nil && d.Sign() > 0 {
			sm.DepthIn = Decimal(f.Value)
			if _, err := unit.ParseNumber(f.Value); err != nil { // 6 2/3
				sm.DepthIn = Decimal(unit.Format(d, 3))
			}
			if top, err := unit.ParseRational(value(s, mappings.DepthTop)); err == nil && top.Sign() > 0 {
				sm.DepthTopIn = Decimal(value(s, mappings.DepthTop))
				if at := s.Fields[mappings.DepthTop]; at.Place != f.Place {
					sm.DepthText = at.Printed + " to " + f.Printed
				}
			}
		} else {
			rec.Checks = append(rec.Checks, Finding{Check: "depth-unreadable", Severity: ingest.Flag, What: "the depth of the sample is not a depth", Found: f.Printed, Source: "definition"})
		}
	}
	if sm.County == "" && opt.DefaultCounty != "" {
		sm.County = opt.DefaultCounty
		sm.DefaultsUsed = append(sm.DefaultsUsed, "county")
	}
	if sm.LandUse == "" && sm.LandUseText == "" && opt.DefaultLandUse != "" {
		sm.LandUse = opt.DefaultLandUse
		sm.DefaultsUsed = append(sm.DefaultsUsed, "land_use")
	}
	c := Client{value(s, mappings.ClientName), value(s, mappings.ClientAddress), value(s, mappings.ClientEmail), value(s, mappings.ClientPhone)}
	if c != (Client{}) {
		rec.Client = &c
	}
	cv := converter{density: s.Density, depth: s.Fields[mappings.Depth].Printed}
	fs := make([]check.Result, 0, len(s.Readings))
	rec.Results = make([]*Result, 0, len(s.Readings))
	for i := range s.Readings {
		rd := &s.Readings[i]
		res, f := a.result(&cv, rd)
		f.MethodWords = rd.PrintedMethod
		if rd.Label != nil {
			f.Label = rd.Label.Text
		}
		rec.Results = append(rec.Results, res)
		fs = append(fs, f)
	}
	markRestated(rec.Results)
	for i, res := range rec.Results {
		fs[i].Restates = res.Restates
	}
	return rec, fs
}

func worst(a, b Status) Status {
	order := []Status{OK, Flagged, Held}
	return order[max(0, slices.Index(order, a), slices.Index(order, b))]
}

func statusOf(s ingest.Severity) Status {
	switch s {
	case ingest.Hold, ingest.Fail:
		return Held
	case ingest.Flag:
		return Flagged
	}
	return OK
}

// settle derives every status from the findings and reasons beneath it.
func settle(rep *Report) {
	for _, r := range rep.Reasons {
		rep.Status = worst(rep.Status, statusOf(r.Severity))
	}
	for _, rec := range rep.Records {
		for _, f := range rec.Checks {
			rec.Status = worst(rec.Status, statusOf(f.Severity))
		}
		for _, res := range rec.Results {
			for _, f := range res.Findings {
				res.Status = worst(res.Status, statusOf(f.Severity))
			}
			rec.Status = worst(rec.Status, res.Status)
		}
		rep.Status = worst(rep.Status, rec.Status)
	}
	if rep.Status == Held {
		for _, rec := range rep.Records {
			rec.Status = Held
			for _, res := range rec.Results {
				res.Status = Held
			}
		}
	}
}
