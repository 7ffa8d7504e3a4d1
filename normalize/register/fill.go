package register

import (
	"slices"

	"example.org/windrow/normalize"
)

// CountyUsed is what a record's defaults_used says of a county that is the
// register's. One that is the folder's is "county".
const CountyUsed = "county (register)"

// Fill gives a report's samples the county that the register has for them,
// where the report itself names none; that of a folder's settings, which is
// for all of its reports alike, gives way to it. The record says so, with the
// row and how sure it is. It is called before the report is archived.
func (r *Register) Fill(rep *normalize.Report) {
	if r == nil {
		return
	}
	for i, m := range r.Match(rep) {
		s := &rep.Records[i].Sample
		at := slices.Index(s.DefaultsUsed, "county")
		if m.Row == nil || m.Row.County == "" || s.County != "" && at < 0 {
			continue
		}
		if s.County = m.Row.County; at >= 0 {
			s.DefaultsUsed = slices.Delete(s.DefaultsUsed, at, at+1)
		}
		s.DefaultsUsed = append(s.DefaultsUsed, CountyUsed)
		s.Register = &normalize.RegisterRef{Row: m.Row.ID, Confidence: string(m.Confidence)}
	}
}
