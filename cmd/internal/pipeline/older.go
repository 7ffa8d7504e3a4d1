package pipeline

import (
	"context"
	"strconv"
	"strings"
)

// An Older says how many released reports of the archive were read with
// another version of a mapping than the office has now.
type Older struct {
	Mapping string // id
	Lab     string // name
	Reports int
}

// ReadWithOlder lists the mappings that have changed since released reports
// were read with them, unless somebody has looked since at what would change
// (see [Office.LookedAt]). It asks the index alone.
func (o *Office) ReadWithOlder(ctx context.Context) ([]Older, error) {
	rows, err := o.Index.ReadWith(ctx)
	if err != nil {
		return nil, err
	}
	var out []Older
	for _, m := range o.Stages.Mappings().Mappings() {
		n := 0
		for _, r := range rows {
			if r.Mapping == m.ID && r.SHA256 != m.SHA256 {
				n += r.Reports
			}
		}
		if n == 0 {
			continue
		}
		seen, err := o.Index.Seen(ctx, m.ID)
		if err != nil {
			return nil, err
		}
		if seen != m.SHA256 {
			out = append(out, Older{m.ID, m.Lab, n})
		}
	}
	return out, nil
}

// LookedAt notes that somebody has seen what today's mappings would change in
// the archive, so that [Office.ReadWithOlder] has no more to tell of them.
func (o *Office) LookedAt(ctx context.Context) error {
	for _, m := range o.Stages.Mappings().Mappings() {
		if err := o.Index.SetSeen(ctx, m.ID, m.SHA256); err != nil {
			return err
		}
	}
	return nil
}

// OlderWords is what there is to tell of changed mappings, "" for nothing.
func OlderWords(list []Older) string {
	n, labs := 0, []string{}
	for _, x := range list {
		n += x.Reports
		labs = append(labs, x.Lab)
	}
	if n == 0 {
		return ""
	}
	reports := "1 released report was"
	if n > 1 {
		reports = strconv.Itoa(n) + " released reports were"
	}
	mapping := "mapping of " + labs[0]
	if len(labs) > 1 {
		mapping = "mappings of " + strings.Join(labs[:len(labs)-1], ", ") + " and " + labs[len(labs)-1]
	}
	return reports + " read with an older version of the " + mapping + "; \"windrow replay\" shows what would change"
}
