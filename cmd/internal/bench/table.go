package main

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// A row is one comparison. Ours and theirs are as a person reads them; ratio
// is 0 where nothing was measured or nothing is comparable.
type row struct {
	name, ours, theirs string
	ratio              float64
	bar                float64 // the most that ratio may be, 0 for none
	aim                float64 // what it ought to be, 0 for none
	note               string
}

// verdict says how the ratio stands to its bar.
func (r row) verdict() string {
	switch {
	case r.bar == 0 || r.ratio == 0:
		return ""
	case r.ratio > r.bar:
		return "MISSED"
	case r.aim == 0 || r.ratio <= r.aim:
		return "met"
	}
	return "met, not aim"
}

func (r row) barText() string {
	switch {
	case r.bar == 0:
		return ""
	case r.aim == 0:
		return fmt.Sprintf("%.4g", r.bar)
	}
	return fmt.Sprintf("%.4g, aim %.4g", r.bar, r.aim)
}

// A table is all that was measured.
type table struct {
	title string
	rows  []row
}

func (t *table) add(r row) { t.rows = append(t.rows, r) }

// compare adds a row of two durations. Theirs is 0 where there is nothing to
// compare with; the note then says why.
func (t *table) compare(name string, ours, theirs time.Duration, aim, bar float64, note string) {
	r := row{name: name, ours: span(ours), theirs: "-", aim: aim, bar: bar, note: note}
	if theirs > 0 {
		r.theirs = span(theirs)
		r.ratio = float64(ours) / float64(theirs)
	}
	t.add(r)
}

var columns = [...]string{"what", "ours", "theirs", "ratio", "bar", "", "note"}

// write prints the table, each column as wide as its longest text.
func (t *table) write(w io.Writer) error {
	lines := [][len(columns)]string{columns}
	for _, r := range t.rows {
		ratio := "-"
		if r.ratio > 0 {
			ratio = fmt.Sprintf("%.2f", r.ratio)
		}
		lines = append(lines, [...]string{r.name, r.ours, r.theirs, ratio, r.barText(), r.verdict(), r.note})
	}
	var width [len(columns)]int
	for _, l := range lines {
		for i, s := range l {
			width[i] = max(width[i], utf8.RuneCountInString(s))
		}
	}
	var b strings.Builder
	b.WriteString(t.title + "\n\n")
	for n, l := range lines {
		var text strings.Builder
		for i, s := range l {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(s))
			if i >= 1 && i <= 3 {
				text.WriteString(pad + s + "  ")
			} else {
				text.WriteString(s + pad + "  ")
			}
		}
		b.WriteString(strings.TrimRight(text.String(), " ") + "\n")
		if n == 0 {
			total := 0
			for _, x := range width {
				total += x + 2
			}
			b.WriteString(strings.Repeat("-", total) + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// span is a duration with three digits.
func span(d time.Duration) string {
	switch {
	case d <= 0:
		return "-"
	case d < time.Millisecond:
		return fmt.Sprintf("%.3g µs", float64(d)/1e3)
	case d < time.Second:
		return fmt.Sprintf("%.3g ms", float64(d)/1e6)
	}
	return fmt.Sprintf("%.3g s", d.Seconds())
}
