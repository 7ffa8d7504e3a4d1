package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

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

// Promises remembers what it has read of the advice in an archive, of which a
// version never changes. The zero value remembers nothing yet; it is safe for
// use by several goroutines.
type Promises struct {
	mu sync.Mutex
	by map[string]promised // by record
}

type promised struct {
	version int
	Promise // without the record and its laboratory, which the index knows
}

// List lists what an office, or for "" any, has told its clients that it asks
// of their laboratories, what was told first first. It reads the latest advice
// on those records alone of which the index knows that something was flagged.
func (p *Promises) List(ctx context.Context, a *archive.Archive, ix *index.Index, office string) ([]Promise, error) {
	doubted, err := ix.Doubted(ctx, office)
	if err != nil {
		return nil, err
	}
	out := []Promise{}
	for _, d := range doubted {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		told, err := p.of(a, d.Record)
		if err != nil {
			return nil, err
		}
		if len(told.Asks) > 0 {
			told.Record, told.Lab, told.LabSampleID, told.Label = d.Record, d.LabName, d.LabSampleID, d.ClientLabel
			out = append(out, told)
		}
	}
	slices.SortStableFunc(out, func(x, y Promise) int { return strings.Compare(x.Since, y.Since) })
	return out, nil
}

// of is what the latest advice on a record promises, without Asks for nothing.
func (p *Promises) of(a *archive.Archive, record string) (Promise, error) {
	vs, err := a.Versions(archive.Advice, record)
	if err != nil || len(vs) == 0 {
		return Promise{}, err // nobody was written to
	}
	p.mu.Lock()
	known := p.by[record]
	p.mu.Unlock()
	if known.version == vs[len(vs)-1] {
		return known.Promise, nil
	}
	b, version, err := a.Latest(archive.Advice, record)
	if errors.Is(err, archive.ErrNotFound) {
		return Promise{}, nil
	}
	if err != nil {
		return Promise{}, err
	}
	var adv interpret.Advice
	if err := json.Unmarshal(b, &adv); err != nil {
		return Promise{}, fmt.Errorf("advice on %s in the archive: %w", record, err)
	}
	told := Promise{Since: adv.On}
	for _, q := range adv.Questions {
		if !q.OfLaboratory() {
			continue
		}
		about := "the whole report"
		if q.Blocks != "all" {
			about = interpret.PlainName(q.Blocks)
		}
		if !slices.Contains(told.About, about) {
			told.About = append(told.About, about)
		}
		told.Asks = append(told.Asks, q.Text)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.by == nil {
		p.by = map[string]promised{}
	}
	p.by[record] = promised{version, told}
	return told, nil
}
