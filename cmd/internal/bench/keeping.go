package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/audit"
)

// replay measures how long it takes to read an archive anew.
func (b *bench) replay() error {
	dir := filepath.Join(b.dir, "replayed")
	files, err := copies(dir, filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), b.sizes.letters)
	if err != nil {
		return err
	}
	office, err := b.office()
	if err != nil {
		return err
	}
	if err := b.program(b.windrow, "run", "--quiet", "--workers", strconv.Itoa(b.workers), "--office", office, dir); err != nil {
		return err
	}
	d, theirs, note, err := b.beside(files, way{work: func() error {
		return b.program(b.windrow, "replay", "--office", office)
	}})
	if err != nil {
		return err
	}
	n := time.Duration(len(files))
	b.table.compare("replay, a record", d[0]/n, theirs/n, 1, 2, orNote(note, fmt.Sprintf("every original read anew and compared with what is archived; pdftotext -bbox of it, %d at once", b.workers))).orElse("to read is what takes the time: see file to record")
	return nil
}

// audit measures the recomputing of values.
func (b *bench) audit() error {
	reps, _, err := b.reports(min(40, b.sizes.reports))
	if err != nil {
		return err
	}
	texts, err := textsOf(reps)
	if err != nil {
		return err
	}
	const again = 10
	values := 0
	ours := way{work: func() error {
		k := audit.NewClerk(audit.Scope{}, normalize.Sources())
		for range again {
			for _, r := range reps {
				if found := k.Take(r, audit.Document{Report: r.ID, Version: 1}); len(found) > 0 {
					return fmt.Errorf("the audit finds %s", found[0].What)
				}
			}
		}
		values = k.Tally().Values
		return nil
	}}
	theirs := way{work: func() error {
		for range again {
			for _, t := range texts {
				if err := json.Unmarshal(t, &normalize.Report{}); err != nil {
					return err
				}
			}
		}
		return nil
	}}
	d, err := b.best(ours, theirs)
	if err != nil {
		return err
	}
	if values == 0 {
		return errors.New("no value was recomputed")
	}
	n := time.Duration(values)
	b.table.compare("audit, a value", d[0]/n, d[1]/n, 1, 2, "every step in exact fractions, and every check; encoding/json reading the same records").orElse("each step is worked out in fractions of any size, and estimates by their equations once more")
	return nil
}

// idleBound is what an office's smallest machine can spare all day, in MiB.
const idleBound = 256

// idle measures what a watch holds that has nothing to do.
func (b *bench) idle() error {
	const name = "idle memory of watch"
	dir, err := b.office()
	if err != nil {
		return err
	}
	c := exec.CommandContext(b.ctx, b.windrow, "watch", "--office", dir)
	if err := c.Start(); err != nil {
		return err
	}
	done := make(chan error, 1)
	go func() { done <- c.Wait() }()
	select {
	case err := <-done:
		return fmt.Errorf("the watch ended: %w", err)
	case <-b.ctx.Done():
		return b.ctx.Err()
	case <-time.After(5 * time.Second):
	}
	sum := 0
	var each []string
	for _, pid := range append([]int{c.Process.Pid}, childrenOf(c.Process.Pid)...) {
		now, _ := held(pid)
		sum += now
		each = append(each, fmt.Sprintf("%d", now/1024))
	}
	if err := c.Process.Kill(); err != nil {
		return err
	}
	if err := <-done; err == nil { // it was killed, which is an error
		return errors.New("the watch ended before it was killed")
	}
	if sum == 0 {
		b.table.add(row{name: name, ours: "-", theirs: "-", note: "not measured: this system has no /proc"})
		return nil
	}
	b.table.add(row{name: name, ours: fmt.Sprintf("%d MiB", sum/1024), theirs: fmt.Sprintf("%d MiB", idleBound), ratio: float64(sum) / 1024 / idleBound, bar: 1,
		note: "five seconds after its start, with an empty folder; VmRSS of each process: " + strings.Join(each, ", ") + "; theirs is a bound of our own"})
	return nil
}
