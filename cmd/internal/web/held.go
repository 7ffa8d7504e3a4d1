package web

import "net/http"

func (d *Desk) queue(r *http.Request) (*answer, error) {
	groups, err := d.groups(r.Context())
	if err != nil {
		return nil, err
	}
	n := 0
	for _, g := range groups {
		n += len(g.Reports)
		for _, l := range g.First() {
			shown(r.Context(), l.ID)
		}
	}
	return &answer{page: "queue", title: "Waiting", nav: "/held", body: struct {
		Groups []holdGroup
		Count  int
	}{groups, n}}, nil
}
