package web

import (
	"context"
	"net/http"

	"example.org/windrow/cmd/internal/pipeline"
)

// mostPromised is how many promises the first page lists.
const mostPromised = 12

// promisedList is what the first page shows of the promises.
type promisedList struct {
	Known bool // else they are being looked up
	List  []promiseLine
	More  int
}

// A promiseLine is a promise with how long ago it was made.
type promiseLine struct {
	pipeline.Promise
	Days int // -1 for not known
}

// Name is what the sample is called by.
func (l promiseLine) Name() string {
	for _, s := range []string{l.Label, l.LabSampleID} {
		if s != "" {
			return s
		}
	}
	return l.Record
}

// lookPromises has the promises looked up: each advice in question is read for
// them.
func (d *Desk) lookPromises(r *http.Request) {
	office := officeOf(r.Context())
	d.promises.begin(office, func(ctx context.Context) ([]pipeline.Promise, error) {
		out, err := d.advised.List(ctx, d.off.Archive, d.off.Index, office)
		if err != nil {
			d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
		}
		return out, err
	})
}

// promisedNow is what is known of the promises when the context ends, or
// sooner.
func (d *Desk) promisedNow(ctx context.Context) promisedList {
	list, known, _ := d.promises.found(ctx, officeOf(ctx)) // a failure was logged
	p := promisedList{Known: known, More: max(0, len(list)-mostPromised)}
	for _, x := range list[:min(len(list), mostPromised)] {
		p.List = append(p.List, promiseLine{x, d.daysSince(x.Since + "T00:00:00Z")})
	}
	return p
}
