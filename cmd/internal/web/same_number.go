package web

import (
	"context"
	"slices"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// mostSame is how many reports of one number a page lists.
const mostSame = 6

// sameNumber are the other reports of a laboratory that have a report's number,
// such as the one that it corrects. The other files of the mail that it came in
// are not among them.
func (d *Desk) sameNumber(ctx context.Context, rep *normalize.Report) ([]index.Report, error) {
	if rep.Number == "" || rep.Lab.ID == "" {
		return nil, nil
	}
	list, err := d.off.Index.Search(ctx, index.Search{Text: rep.Number, Filter: index.Filter{Lab: rep.Lab.ID, Office: officeOf(ctx), Limit: 40}})
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(r index.Report) bool {
		return r.ID == rep.ID || r.ReportNo != rep.Number || r.Member != "" && r.Name == rep.Source.Name
	})
	list = list[:min(len(list), mostSame)]
	shown(ctx, reportIDs(list)...)
	return list, d.standingNow(ctx, list)
}

// alsoUsed says of the others of a report's number that are used that they are:
// a correction that counts leaves the report before it as it was.
func alsoUsed(list []index.Report) (lines []string) {
	for _, r := range list {
		if r.Status == string(normalize.OK) || r.Status == string(normalize.Flagged) {
			lines = append(lines, r.Name+", of the same number, is used as well: if this one takes its place, set that one aside.")
		}
	}
	return lines
}
