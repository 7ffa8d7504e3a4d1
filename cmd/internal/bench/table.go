package main

import (
	"cmp"
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
	why                string // it misses its bar, if it does: what the time or memory goes into
}

const missed = "MISSED"

// verdict says how the ratio stands to its bar.
func (r row) verdict() string {
	switch {
	case r.bar == 0 || r.ratio == 0:
		return ""
	case r.ratio > r.bar:
		return missed
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

func (t *table) add(r row) *row {
	t.rows = append(t.rows, r)
	return &t.rows[len(t.rows)-1]
}

// orElse says why a row misses its bar: shown if it does, and not otherwise.
func (r *row) orElse(why string) { r.why = why }

// compare adds a row of two durations. Theirs is 0 where there is nothing to
// compare with; the note then says why. The row is good until the next is
// added.
func (t *table) compare(name string, ours, theirs time.Duration, aim, bar float64, note string) *row {
	r := row{name: name, ours: span(ours), theirs: "-", aim: aim, bar: bar, note: note}
	if theirs > 0 {
		r.theirs = span(theirs)
		r.ratio = float64(ours) / float64(theirs)
	}
	return t.add(r)
}

var columns = [...]string{"what", "ours", "theirs", "ratio", "bar", "", "beside what, and why it misses"}

// of is the row as texts.
func (r row) of() [len(columns)]string {
	ratio, note := "-", r.note
	if r.ratio > 0 {
		ratio = fmt.Sprintf("%.2f", r.ratio)
	}
	if r.verdict() == missed {
		note += ". **Why:** " + cmp.Or(r.why, "not known yet")
	}
	return [...]string{r.name, r.ours, r.theirs, ratio, r.barText(), r.verdict(), note}
}

// write prints the table in Markdown, each column as wide as its longest text
// but for the last.
func (t *table) write(w io.Writer) error {
	lines := [][len(columns)]string{columns}
	for _, r := range t.rows {
		l := r.of()
		for i := range l {
			l[i] = strings.ReplaceAll(l[i], "|", "\\|")
		}
		lines = append(lines, l)
	}
	var width [len(columns)]int
	for _, l := range lines {
		for i, s := range l[:len(l)-1] {
			width[i] = max(width[i], utf8.RuneCountInString(s), 4)
		}
	}
	var b strings.Builder
	b.WriteString(t.title + "\n\n")
	for n, l := range lines {
		for i, s := range l {
			pad := strings.Repeat(" ", max(0, width[i]-utf8.RuneCountInString(s)))
			if number(i) {
				s = pad + s
			} else {
				s += pad
			}
			b.WriteString("| " + s + " ")
		}
		b.WriteString("|\n")
		if n > 0 {
			continue
		}
		for i := range l {
			dashes := strings.Repeat("-", max(width[i], 4))
			if number(i) {
				dashes = dashes[1:] + ":"
			}
			b.WriteString("| " + dashes + " ")
		}
		b.WriteString("|\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// number says whether a column is of numbers.
func number(column int) bool { return column >= 1 && column <= 3 }

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
