package main

import (
	"io"
	"strings"
	"unicode/utf8"
)

// width is how wide a table for people may be: the narrowest terminal that
// is still common.
const width = 80

// A grid is a table for people: columns of text, padded to line up. The
// widest columns are cut until the table fits its width, with an ellipsis
// where something was cut.
type grid struct {
	head []string
	rows [][]string
	// whole names the columns, from 0, that are never cut: numbers.
	whole map[int]bool
	wide  int // 0 means width
}

func (g *grid) add(cells ...string) { g.rows = append(g.rows, cells) }

// write writes the heading and the rows.
func (g *grid) write(w io.Writer, indent string) {
	g.lines(w, indent, append([][]string{g.head}, g.rows...))
}

// body writes the rows alone.
func (g *grid) body(w io.Writer, indent string) { g.lines(w, indent, g.rows) }

func (g *grid) lines(w io.Writer, indent string, rows [][]string) {
	n := len(g.head)
	size := make([]int, n)
	for _, row := range rows {
		for i, c := range row {
			size[i] = max(size[i], utf8.RuneCountInString(c))
		}
	}
	most := g.wide
	if most == 0 {
		most = width
	}
	total := func() int {
		t := utf8.RuneCountInString(indent) + 2*(n-1)
		for _, s := range size {
			t += s
		}
		return t
	}
	for total() > most {
		widest := -1
		for i, s := range size {
			if !g.whole[i] && s > 6 && (widest < 0 || s > size[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break // better too wide than not readable
		}
		size[widest]--
	}
	line := func(row []string) {
		var b strings.Builder
		for i, c := range row {
			c = cut(c, size[i])
			b.WriteString(c + strings.Repeat(" ", size[i]-utf8.RuneCountInString(c)+2))
		}
		putln(w, indent+strings.TrimRight(b.String(), " "))
	}
	for _, row := range rows {
		line(row)
	}
}

// cut shortens a text to n characters, the last an ellipsis.
func cut(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return string([]rune(s)[:max(0, n-1)]) + "…"
}

// wrap breaks a text into lines of at most n characters, at spaces.
func wrap(s string, n int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > n {
			out = append(out, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}

// paragraph writes a text wrapped, the first line behind first and the
// others behind as many spaces.
func paragraph(w io.Writer, first, s string) {
	in := strings.Repeat(" ", utf8.RuneCountInString(first))
	for i, l := range wrap(s, width-len(in)) {
		if i > 0 {
			first = in
		}
		putln(w, strings.TrimRight(first+l, " "))
	}
}
