package pipeline

import (
	"errors"
	"io/fs"
	"os"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/check"
)

// StageNames are the stages whose time is counted, in their order.
var StageNames = []string{"keep", "read", "recognise", "normalise", "advise", "letter"}

// Codes are the codes of the reasons for which a report may be held, from
// every stage: the words that may become labels of metrics.
func Codes() []string {
	codes := slices.Clone(holdCodes)
	for _, c := range check.All() {
		if c.Severity == ingest.Hold {
			codes = append(codes, c.Code)
		}
	}
	return codes
}

// holdCodes are those of ingest and mappings. A test finds one that is
// missing here.
var holdCodes = []string{
	"annotations", "area-unclear", "between-columns", "characters-unknown", "cut-off", "damaged", "date-not-possible", "date-unclear", "depth-unreadable",
	"dialect-not-possible", "empty", "empty-file", "encoding-differs", "encoding-invalid", "failed", "format-not-understood", "formula-without-value", "kind-not-read", "kind-unknown", "lab-unknown",
	"layout-changed", "line-ends", "locked", "macros", "no-dialect", "no-mapping", "no-text", "not-opened", "not-supported", "nul-byte", "old-workbook", "parser-crashed",
	"parser-not-started", "picture-page", "quote-stray", "quote-unclosed", "ragged-row", "rating-unknown", "reason-code", "row-without-label", "scan", "sheet-without-cells", "stopped", "text-unreadable",
	"too-large", "too-slow", "two-labs", "two-layouts", "two-results", "unit-differs", "value-under-merged-cell", "wrong-kind",
}

// Count has the office's work counted in a registry. oldest is the age of
// the report that has waited longest.
func (o *Office) Count(reg prometheus.Registerer, version, commit string, oldest func() time.Duration) error {
	var labs []string
	for _, m := range o.Stages.Mappings.Mappings() {
		labs = append(labs, m.ID)
	}
	m, err := metrics.New(reg, metrics.Options{Labs: labs, Codes: Codes(), Stages: StageNames, Version: version, Commit: commit, OldestWaiting: oldest})
	if err != nil {
		return err
	}
	o.Metrics = m
	o.Stages.timed = m.Stage
	return nil
}

// tooOld is how long a report may wait before the office counts as ill: a
// file that takes all its tries takes less.
const tooOld = 15 * time.Minute

// Health tells whether the office can do its work: that its watched folders
// and its archive are there, and that no report waits too long.
func (o *Office) Health(oldest time.Duration) metrics.Health {
	h := metrics.Health{Healthy: true}
	ill := func(why string) { h.Healthy, h.Reasons = false, append(h.Reasons, why) }
	if _, err := os.Stat(o.Archive.Dir()); errors.Is(err, fs.ErrNotExist) {
		ill("the archive's folder is not there")
	}
	for _, f := range o.Config.Folders {
		if _, err := os.Stat(f.Path); err != nil {
			ill("a watched folder can't be looked into")
			break
		}
	}
	if oldest > tooOld {
		ill("a report has waited for more than 15 minutes")
	}
	return h
}
