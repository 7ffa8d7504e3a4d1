package normalize

import (
	"example.org/windrow/normalize/check"
)

// A Memory is a History of reports that are at hand, in the order they came.
// It is made once and then only read.
type Memory struct {
	byNumber, byLabel, byResults map[string][]*remembered
}

type remembered struct {
	report string // id
	check.Earlier
}

// NewMemory remembers the records of reports that are not held: what is held
// has not been accepted as read.
func NewMemory(reports ...*Report) *Memory {
	m := &Memory{map[string][]*remembered{}, map[string][]*remembered{}, map[string][]*remembered{}}
	for _, rep := range reports {
		if rep == nil || rep.Status == Held {
			continue
		}
		for _, rec := range rep.Records {
			e := &remembered{rep.ID, EarlierOf(rep, rec)}
			lab := rep.Lab.ID + "\x00"
			if e.LabID != "" {
				m.byNumber[lab+e.LabID] = append(m.byNumber[lab+e.LabID], e)
			}
			if e.Label != "" {
				m.byLabel[lab+e.Label] = append(m.byLabel[lab+e.Label], e)
			}
			if f := check.Fingerprint(e.Results); f != "" {
				m.byResults[lab+f] = append(m.byResults[lab+f], e)
			}
		}
	}
	return m
}

// EarlierOf is what a record says to those that come after it.
func EarlierOf(rep *Report, rec *Record) check.Earlier {
	e := check.Earlier{Report: rep.ID, Number: rep.Number, Lab: rep.Lab.ID, LabID: rec.Sample.LabID, Label: rec.Sample.ClientLabel, Sampled: rec.Sample.Sampled,
		Last: (&check.Sample{Sampled: rec.Sample.Sampled, Received: rec.Sample.Received, Reported: rec.Sample.Reported}).Last()}
	for _, res := range rec.Results {
		if res.Value != "" && !res.Restates {
			e.Results = append(e.Results, check.EarlierResult{Analyte: res.Analyte, Detail: res.Detail, Method: res.Method, Unit: res.Unit, Value: string(res.Value)})
		}
	}
	return e
}

// Earlier gives each record of another report once, whatever it has in common
// with the sample.
func (m *Memory) Earlier(report, lab string, s *check.Sample) []check.Earlier {
	var out []check.Earlier
	given := map[*remembered]bool{}
	take := func(from []*remembered) {
		for _, e := range from {
			if e.report != report && !given[e] {
				given[e] = true
				out = append(out, e.Earlier)
			}
		}
	}
	take(m.byNumber[lab+"\x00"+s.LabID])
	take(m.byLabel[lab+"\x00"+s.Label])
	take(m.byResults[lab+"\x00"+check.Fingerprint(s.Earlier())])
	return out
}
