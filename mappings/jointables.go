package mappings

import (
	"slices"

	"example.org/windrow/ingest"
)

// An origin is where a sample of a table was read.
type origin struct {
	table ingest.Place
	page  *ingest.Page
}

// joinTables makes one sample of what two tables, or one on two sheets, say of
// it: a laboratory may print nutrients in one and metals in the other. They are
// one only where they have the same numbers and the same layer, no field of one
// is another in the other, and no result is printed in both; otherwise they
// stay two, and the report is held for the number that is there twice.
func (r *reader) joinTables() {
	type key struct{ report, sample string }
	first := map[key]*SampleExtract{}
	kept := r.out.Samples[:0:0]
	for _, s := range r.out.Samples {
		k := key{s.Fields[ReportNo].Value, s.Fields[LabSampleID].Value}
		of, table := r.origins[s]
		to := first[k]
		if !table || of.page == nil || k.sample == "" || to == nil || r.origins[to] == of || !sameSample(to, s) {
			kept = append(kept, s)
			if to == nil && table && of.page != nil {
				first[k] = s
			}
			continue
		}
		for id, f := range s.Fields {
			if old, ok := to.Fields[id]; !ok || old.Printed == "" {
				to.Fields[id] = f
			}
		}
		to.Readings = append(to.Readings, s.Readings...)
	}
	r.out.Samples = kept
}

// sameSample reports whether two samples can be one.
func sameSample(a, b *SampleExtract) bool {
	for id, f := range b.Fields {
		if old, ok := a.Fields[id]; ok && old.Printed != "" && f.Printed != "" && old.Value != f.Value {
			return false
		}
	}
	return !slices.ContainsFunc(b.Readings, func(x Reading) bool {
		return slices.ContainsFunc(a.Readings, func(y Reading) bool { return sameTest(&x, &y) })
	})
}

// isOthers reports whether all that a sheet has of the headings of a table is
// the heading of another table of the layout, which is there as a whole: two
// tables on two sheets both have a column for the sample's number.
func (r *reader) isOthers(v *view, t *Table) bool {
	if !v.grid || len(r.l.Tables) < 2 {
		return false
	}
	there := map[string]bool{} // whether a heading of the layout's tables is on the sheet
	longest := 0
	for _, u := range r.l.Tables {
		for _, c := range u.Columns {
			there[squeeze(c.Heading[0])] = false
			longest = max(longest, 2*len(c.Heading[0]))
		}
	}
	for _, a := range v.atoms {
		if len(a.text) <= longest {
			if _, wanted := there[tight(a)]; wanted {
				there[tight(a)] = true
			}
		}
	}
	has := func(c *Column) bool { return there[squeeze(c.Heading[0])] }
	whole := func(u *Table) bool {
		return !slices.ContainsFunc(u.Columns, func(c *Column) bool { return !c.Samples && !c.Optional && !has(c) })
	}
	if whole(t) {
		return false
	}
	return slices.ContainsFunc(r.l.Tables, func(u *Table) bool {
		return u.Place != t.Place && whole(u) && !slices.ContainsFunc(t.Columns, func(c *Column) bool {
			return !c.Samples && has(c) && !slices.ContainsFunc(u.Columns, func(d *Column) bool { return squeeze(d.Heading[0]) == squeeze(c.Heading[0]) })
		})
	})
}
