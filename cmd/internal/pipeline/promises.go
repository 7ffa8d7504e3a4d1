package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// A Promise is what a letter has said that the office asks a laboratory, and
// that no later report on the sample has settled.
type Promise struct {
	Record      string   `json:"record"`
	Lab         string   `json:"lab"`
	LabSampleID string   `json:"lab_sample_id,omitempty"`
	Label       string   `json:"client_sample_id,omitempty"`
	Since       string   `json:"since,omitempty"` // date of the advice that said so, YYYY-MM-DD
	About       []string `json:"about"`           // what is doubted, in plain words
	Asks        []string `json:"asks"`            // what the checks found, for whoever asks
}

// Promises lists what an office, or for "" any, has told its clients that it
// asks of their laboratories, what was told first first. It reads the latest advice on those
// records alone of which the index knows that something was flagged.
func Promises(ctx context.Context, a *archive.Archive, ix *index.Index, office string) ([]Promise, error) {
	doubted, err := ix.Doubted(ctx, office)
	if err != nil {
		return nil, err
	}
	out := []Promise{}
	for _, d := range doubted {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b, _, err := a.Latest(archive.Advice, d.Record)
		if errors.Is(err, archive.ErrNotFound) {
			continue // nobody was written to
		}
		if err != nil {
			return nil, err
		}
		var adv interpret.Advice
		if err := json.Unmarshal(b, &adv); err != nil {
			return nil, fmt.Errorf("advice on %s in the archive: %w", d.Record, err)
		}
		p := Promise{Record: d.Record, Lab: d.LabName, LabSampleID: d.LabSampleID, Label: d.ClientLabel, Since: adv.On}
		for _, q := range adv.Questions {
			if !q.OfLaboratory() {
				continue
			}
			about := "the whole report"
			if q.Blocks != "all" {
				about = interpret.PlainName(q.Blocks)
			}
			if !slices.Contains(p.About, about) {
				p.About = append(p.About, about)
			}
			p.Asks = append(p.Asks, q.Text)
		}
		if len(p.Asks) > 0 {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(x, y Promise) int {
		switch {
		case x.Since < y.Since:
			return -1
		case x.Since > y.Since:
			return 1
		}
		return 0
	})
	return out, nil
}
