package web

import (
	"encoding/json"
	"fmt"
	"net/http"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/difference"
)

// mostDifferences is how many results that differ a page lists of a version.
const mostDifferences = 200

// A versionLine is one version of a report and how it differs from the one
// before.
type versionLine struct {
	archive.Written
	Status   normalize.Status
	Mapping  normalize.MappingRef
	Software string
	Damaged  bool
	Diff     *difference.Report // nil of the first
	More     int                // results that differ and are not listed
}

// versions lists what the archive keeps of a report, the latest first.
func (d *Desk) versions(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	list, err := d.off.Archive.History(archive.Reports, rep.ID)
	if err != nil {
		return nil, err
	}
	var lines []versionLine
	var before *normalize.Report
	for _, w := range list {
		l := versionLine{Written: w}
		now, err := d.version(rep.ID, w.Version)
		if err != nil {
			l.Damaged = true // the others can be shown all the same
		} else {
			l.Status, l.Mapping, l.Software = now.Status, now.Mapping, now.Version
			if before != nil {
				l.Diff = difference.Compare(before, now)
				if n := len(l.Diff.Results); n > mostDifferences {
					l.Diff.Results, l.More = l.Diff.Results[:mostDifferences], n-mostDifferences
				}
			}
			before = now
		}
		lines = append([]versionLine{l}, lines...)
	}
	return &answer{page: "versions", title: h.Title() + ", versions", nav: "/reports", body: struct {
		Head     reportHead
		Versions []versionLine
	}{h, lines}}, nil
}

func (d *Desk) version(id string, n int) (*normalize.Report, error) {
	b, err := d.off.Archive.Version(archive.Reports, id, n)
	if err != nil {
		return nil, err
	}
	rep := &normalize.Report{}
	if err := json.Unmarshal(b, rep); err != nil {
		return nil, fmt.Errorf("version %d of report %s in the archive: %w", n, id, err)
	}
	return rep, nil
}
