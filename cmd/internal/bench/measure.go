package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A way is one way to do a piece of work. Prepare is not measured; it may be
// nil.
type way struct {
	prepare func() error
	work    func() error
}

// best runs the ways in turn and gives the shortest time of each.
func (b *bench) best(ways ...way) ([]time.Duration, error) {
	out := make([]time.Duration, len(ways))
	for range b.runs {
		for i, w := range ways {
			if err := b.ctx.Err(); err != nil {
				return nil, err
			}
			if w.prepare != nil {
				if err := w.prepare(); err != nil {
					return nil, err
				}
			}
			runtime.GC() // what the other left behind is not this one's to clear
			start := time.Now()
			if err := w.work(); err != nil {
				return nil, err
			}
			if d := time.Since(start); out[i] == 0 || d < out[i] {
				out[i] = d
			}
		}
	}
	return out, nil
}

// program runs a program whose output nobody wants. Exit codes beside 0 that
// are no failure may be named.
func (b *bench) program(name string, args ...string) error {
	c := exec.CommandContext(b.ctx, name, args...)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	if err := c.Run(); err != nil {
		return fmt.Errorf("%s %s: %w\n%s", filepath.Base(name), strings.Join(args[:min(len(args), 4)], " "), err, stderr.String())
	}
	return nil
}

const noPoppler = "not measured: pdftotext is missing"

// pdftotext is the way of poppler with one process a file, as many at once
// as we have workers; nil where it is not installed.
func (b *bench) pdftotext(files []string) *way {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		return nil
	}
	if _, err := exec.LookPath("xargs"); err != nil {
		return nil
	}
	out := filepath.Join(b.dir, "bbox")
	return &way{
		prepare: func() error { return os.MkdirAll(out, 0o750) },
		work: func() error {
			// One file of words and places for each, as it would be kept.
			c := exec.CommandContext(b.ctx, "xargs", "-0", "-P", strconv.Itoa(b.workers), "-n", "2", "pdftotext", "-bbox")
			var in bytes.Buffer
			for _, f := range files {
				in.WriteString(f + "\x00" + filepath.Join(out, filepath.Base(f)+".html") + "\x00")
			}
			c.Stdin = &in
			if msg, err := c.CombinedOutput(); err != nil {
				return fmt.Errorf("pdftotext: %w: %s", err, msg)
			}
			return nil
		}}
}

// peak runs a program and gives the most memory that it and the processes it
// started held at one time, looked at every few milliseconds, and the highest
// mark of each by itself. It reads /proc, and is only there on Linux.
func (b *bench) peak(name string, args ...string) (mib float64, each []string, err error) {
	if _, err := os.Stat("/proc/self/status"); err != nil {
		return 0, nil, errors.ErrUnsupported
	}
	c := exec.CommandContext(b.ctx, name, args...)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	if err := c.Start(); err != nil {
		return 0, nil, err
	}
	done := make(chan error, 1)
	go func() { done <- c.Wait() }()
	marks := map[int]int{}
	most := 0
	for {
		sum := 0
		for _, pid := range append(childrenOf(c.Process.Pid), c.Process.Pid) {
			now, high := held(pid)
			sum += now
			if high > 0 {
				marks[pid] = max(marks[pid], high)
			}
		}
		most = max(most, sum)
		select {
		case err := <-done:
			if err != nil {
				return 0, nil, fmt.Errorf("%s: %w\n%s", filepath.Base(name), err, stderr.String())
			}
			var kib []int
			for _, k := range marks {
				most = max(most, k)
				kib = append(kib, k)
			}
			slices.Sort(kib)
			for _, k := range slices.Backward(kib) {
				each = append(each, fmt.Sprintf("%d", k/1024))
			}
			return float64(most) / 1024, each, nil
		case <-time.After(2 * time.Millisecond):
		}
	}
}

// childrenOf are the processes that a process started and that still run.
func childrenOf(pid int) []int {
	var out []int
	lists, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid)) // the pattern is well formed
	for _, l := range lists {
		b, err := os.ReadFile(l)
		if err != nil {
			continue // it ended
		}
		for _, f := range strings.Fields(string(b)) {
			if n, err := strconv.Atoi(f); err == nil {
				out = append(out, n)
			}
		}
	}
	return out
}

// held is the memory that a process holds and the most that it has held, in
// KiB; 0 when it has ended.
func held(pid int) (now, high int) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, 0
	}
	kib := func(v string) int {
		n, _ := strconv.Atoi(strings.TrimSuffix(strings.TrimSpace(v), " kB")) // 0 as well when it can't be read
		return n
	}
	for l := range strings.Lines(string(b)) {
		if v, ok := strings.CutPrefix(l, "VmHWM:"); ok {
			high = kib(v)
		} else if v, ok := strings.CutPrefix(l, "VmRSS:"); ok {
			now = kib(v)
		}
	}
	return now, high
}
