package pipeline

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
	"example.org/windrow/normalize/check"
)

// StageNames are the stages whose time is counted, in their order.
var StageNames = []string{"keep", "read", "recognise", "compare", "normalise", "advise", "letter"}

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
	"annotations", "area-unclear", "basis-differs", "between-columns", "box-not-apart", "cell-comment", "cell-differs", "cell-error", "cell-merged", "cell-not-allowed", "cell-shows-another-number", "characters-unknown", "companion-with-numbers", "corrects-earlier", "cut-off",
	"damaged", "date-for-number", "date-not-possible", "date-unclear", "date-unreadable", "depth-missing", "depth-unreadable", "dialect-not-possible",
	"empty-file", "encoding-differs", "encoding-invalid", "failed", "field-differs", "format-not-understood", "formula-without-value",
	"kind-not-read", "kind-unknown", "lab-unknown", "label-differs", "layout-changed", "layout-out-of-force", "line-ends", "locked", "macros",
	"members-disagree", "message-with-numbers", "method-differs", "method-unknown", "no-dialect", "no-mapping", "no-samples", "no-text", "not-a-number", "not-final", "not-opened",
	"not-supported", "nul-byte", "number-unaccounted", "old-workbook", "pages-disagree", "pages-missing", "parser-crashed", "parser-not-started", "picture-page", "proof-damaged",
	"qualifier-unknown", "question-open", "quote-stray", "quote-unclosed", "ragged-row", "rating-unknown", "read-twice", "reason-code", "result-empty", "result-in-box",
	"row-looks-like-summary", "row-too-short", "ruled-aside", "ruling-damaged", "row-without-label", "rows-disagree", "sample-number-again", "sample-twice", "sample-without-number", "says-otherwise", "scan", "sheet-without-cells", "stopped",
	"test-unknown", "text-too-long", "text-unreadable", "too-large", "too-slow", "rating-of-two", "ocr-failed", "scan-no-ocr", "scan-unreadable", "scan-unconfirmed", "ocr-differs", "two-labs", "two-layouts", "two-results", "unit-differs", "unit-missing",
	"value-under-merged-cell", "waits-for-the-rest", "wrong-kind",
}

// A Queue is what of the watched folders is not worked on yet.
type Queue interface {
	Oldest() time.Duration // how long the file that has waited longest has waited; 0 when none waits
	Waiting() int          // files
}

// Count has the office's work counted in a registry.
func (o *Office) Count(reg prometheus.Registerer, version, commit string, q Queue) error {
	var labs []string
	for _, m := range o.Stages.Mappings().Mappings() {
		labs = append(labs, m.ID)
	}
	m, err := metrics.New(reg, metrics.Options{Labs: labs, Codes: Codes(), Stages: StageNames, Version: version, Commit: commit,
		State: func() metrics.State { return o.State(q) }})
	if err != nil {
		return err
	}
	o.Metrics = m
	o.Stages.timed = m.Stage
	return nil
}

// State is how the office stands now.
func (o *Office) State(q Queue) metrics.State {
	c := o.Config
	st := metrics.State{OldestWaiting: q.Oldest(), Waiting: q.Waiting(), Held: heldFiles(c.Held),
		Verified: jobOf(c, Verified), Exported: jobOf(c, Exported)}
	if ns := o.newest.Load(); ns != 0 {
		st.LastReport = time.Unix(ns, 0)
	}
	disk := c.Archive
	if o.distant != nil {
		disk = c.Done
	}
	st.DiskFree, st.DiskSize, st.DiskKnown = DiskOf(disk)
	return st
}

// heldFiles counts the files that wait for a person, below 0 where their
// folder can't be looked into.
func heldFiles(dir string) int {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return -1
	}
	n := 0
	for _, e := range entries {
		if e.Type().IsRegular() && !folder.IsNote(e.Name()) && e.Name()[0] != '.' {
			n++
		}
	}
	return n
}

// tooOld is how long a report may wait before the office counts as ill: a
// file that takes all its tries takes less.
const tooOld = 15 * time.Minute

// Health tells whether the office can do its work: that its watched folders
// and its archive are there, and that no report waits too long.
func (o *Office) Health(oldest time.Duration) metrics.Health {
	h := metrics.Health{Healthy: true}
	ill := func(why string) { h.Healthy, h.Reasons = false, append(h.Reasons, why) }
	if o.distant != nil {
		if o.distant.away() {
			ill("the central engine can't be reached")
		}
	} else if _, err := os.Stat(o.Archive.Dir()); errors.Is(err, fs.ErrNotExist) {
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

// Ready tells whether a file that came now would be taken: the folders of the
// office can be written to, its archive is there, its index answers, and rules
// for advice are loaded. Once ctx has ended, none is taken any more.
func (o *Office) Ready(ctx context.Context) metrics.Health {
	h := metrics.Health{Healthy: true}
	ill := func(why string) { h.Healthy, h.Reasons = false, append(h.Reasons, why) }
	if ctx.Err() != nil {
		ill("the program is stopping")
		return h
	}
	c := o.Config
	if o.distant == nil && Writable(o.Archive.Dir()) != nil {
		ill("the archive can't be written to")
	}
	for _, d := range []struct{ dir, why string }{{c.Done, "the folder of reports that were taken can't be written to"},
		{c.Held, "the folder of held reports can't be written to"}, {c.Letters, "the folder of letters can't be written to"}} {
		if Writable(d.dir) != nil {
			ill(d.why)
		}
	}
	for _, f := range c.Folders {
		if Writable(f.Path) != nil {
			ill("a watched folder can't be written to, so that files could not be moved out of it")
			break
		}
	}
	if o.distant != nil {
		// Files are taken all the same, and wait.
	} else if _, err := o.Index.Newest(ctx); err != nil {
		ill("the index does not answer")
	}
	if o.Stages.Rules == nil {
		ill("no rules for advice are loaded")
	}
	return h
}
