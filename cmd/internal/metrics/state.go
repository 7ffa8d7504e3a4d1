package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// A State is how an office stands at one moment: what is not counted as it
// happens but looked up when someone asks. A zero time is "never".
type State struct {
	OldestWaiting time.Duration // age of the report that has waited longest in the watched folders; 0 when none waits
	Waiting       int           // files in the watched folders that were seen and are not filed yet
	Held          int           // files that wait for a person; below 0 when the folder can't be looked into
	LastReport    time.Time     // when the newest report came
	DiskKnown     bool          // the next two are known
	DiskFree      uint64        // bytes that may still be written to the archive's file system
	DiskSize      uint64        // bytes of that file system
	Verified      Job           // the newest archive verify
	Exported      Job           // the newest archive export
}

// A Job is how something went that runs from time to time beside the watch.
type Job struct {
	At       time.Time // when it ended; zero for never
	Failed   bool      // it could not do its work to the end
	Problems int       // what it found amiss
}

// stateful gathers a State once for each scrape, so that its numbers belong
// to one moment.
type stateful struct {
	look func() State
	held, waiting, oldest, last, free, size,
	verified, verifyFailed, problems, exported, exportFailed *prometheus.Desc
}

func newStateful(look func() State) *stateful {
	desc := func(name, help string) *prometheus.Desc { return prometheus.NewDesc(name, help, nil, nil) }
	return &stateful{look: look,
		oldest:       desc("windrow_oldest_waiting_seconds", "Age of the report that has waited longest in the watched folders, in seconds; 0 when none waits."),
		waiting:      desc("windrow_waiting_files", "Files in the watched folders that were seen and are not filed yet."),
		held:         desc("windrow_held_files", "Files in the folder of held reports, which wait for a person; absent when it can't be looked into."),
		last:         desc("windrow_last_report_timestamp_seconds", "When the newest report came, in seconds since 1970; 0 when none ever did."),
		free:         desc("windrow_disk_free_bytes", "Bytes that may still be written to the file system of the archive; absent when it can't be asked."),
		size:         desc("windrow_disk_size_bytes", "Bytes of the file system of the archive; absent when it can't be asked."),
		verified:     desc("windrow_archive_verify_timestamp_seconds", "When the newest archive verify ended, in seconds since 1970; 0 when none ever did."),
		verifyFailed: desc("windrow_archive_verify_failed", "1 when the newest archive verify could not read the archive to its end, else 0."),
		problems:     desc("windrow_archive_verify_problems", "Problems that the newest archive verify found."),
		exported:     desc("windrow_archive_export_timestamp_seconds", "When the newest archive export ended, in seconds since 1970; 0 when none ever did."),
		exportFailed: desc("windrow_archive_export_failed", "1 when the newest archive export failed, else 0."),
	}
}

// Describe implements prometheus.Collector.
func (s *stateful) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(s, ch) }

// Collect implements prometheus.Collector.
func (s *stateful) Collect(ch chan<- prometheus.Metric) {
	st := State{DiskKnown: true}
	if s.look != nil {
		st = s.look()
	}
	put := func(d *prometheus.Desc, v float64) { ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v) }
	put(s.oldest, max(0, st.OldestWaiting.Seconds()))
	put(s.waiting, float64(st.Waiting))
	if st.Held >= 0 {
		put(s.held, float64(st.Held))
	}
	put(s.last, stamp(st.LastReport))
	if st.DiskKnown {
		put(s.free, float64(st.DiskFree))
		put(s.size, float64(st.DiskSize))
	}
	put(s.verified, stamp(st.Verified.At))
	put(s.verifyFailed, one(st.Verified.Failed))
	put(s.problems, float64(st.Verified.Problems))
	put(s.exported, stamp(st.Exported.At))
	put(s.exportFailed, one(st.Exported.Failed))
}

func stamp(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.Unix())
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
