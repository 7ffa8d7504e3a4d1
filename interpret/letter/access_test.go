package letter_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"example.org/windrow/interpret/letter"
)

// luminance is the relative luminance of a color such as #1d1d1b or #fff, by
// the definition of WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance),
// from memory.
func luminance(hex string) (float64, error) {
	h := strings.TrimPrefix(hex, "#")
	if len(h) == 3 {
		h = string([]byte{h[0], h[0], h[1], h[1], h[2], h[2]})
	}
	n, err := strconv.ParseUint(h, 16, 32)
	if err != nil || len(h) != 6 {
		return 0, fmt.Errorf("%q is no color", hex)
	}
	channel := func(shift int) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(16) + 0.7152*channel(8) + 0.0722*channel(0), nil
}

// ratio is the contrast ratio of two colors, from 1 to 21; 0 where one is no
// color.
func ratio(a, b string) float64 {
	x, err := luminance(a)
	if err != nil {
		return 0
	}
	y, err := luminance(b)
	if err != nil {
		return 0
	}
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

var (
	textColor  = regexp.MustCompile(`(?:^|[;{\s])color:\s*(#[0-9a-fA-F]+)`)
	background = regexp.MustCompile(`background(?:-color)?:\s*([^;}]+)`)
	fontSize   = regexp.MustCompile(`font(?:-size)?:\s*(?:\d+ )?([\d.]+)(px|pt)`)
)

// accessible lists what of a page somebody could not perceive or find their way
// in. It goes by these success criteria of WCAG 2.2 (from memory, by number):
// 1.1.1 text alternatives, 1.3.1 structure, 1.3.2 order, 1.4.1 use of color,
// 1.4.3 contrast of text, 1.4.11 contrast of graphics, 2.4.2 title, 2.4.6
// headings, 3.1.1 and 3.1.2 language, 4.1.2 names.
func accessible(page []byte) []string {
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		return []string{err.Error()}
	}
	var bad []string
	wrong := func(format string, a ...any) { bad = append(bad, fmt.Sprintf(format, a...)) }
	all := map[string][]*html.Node{}
	ids := map[string]int{}
	rank := 0
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data != "title" || n.Parent.Data == "head") { // pictures have titles, too
			all[n.Data] = append(all[n.Data], n)
			if id := attr(n, "id"); id != "" {
				ids[id]++
			}
			if len(n.Data) == 2 && n.Data[0] == 'h' && n.Data[1] >= '1' && n.Data[1] <= '6' {
				r := int(n.Data[1] - '0')
				if r > rank+1 {
					wrong("%s %q stands under h%d (1.3.1)", n.Data, textOf(n), rank)
				}
				if rank = r; textOf(n) == "" {
					wrong("an empty %s (2.4.6)", n.Data)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	lang := attr(all["html"][0], "lang")
	if lang != "en" && lang != "es" {
		wrong("the language is %q (3.1.1)", lang)
	}
	for name, want := range map[string]int{"title": 1, "h1": 1, "header": 1, "main": 1, "footer": 1, "script": 0, "img": 0, "iframe": 0, "link": 0} {
		if n := len(all[name]); n != want {
			wrong("%d of %s, not %d (1.3.1, 2.4.2)", n, name, want)
		}
	}
	for _, t := range all["title"] {
		if textOf(t) == "" {
			wrong("the title is empty (2.4.2)")
		}
	}
	for id, n := range ids {
		if n > 1 {
			wrong("%d elements have the id %s (4.1.2)", n, id)
		}
	}
	for _, t := range all["table"] {
		if ids[attr(t, "aria-labelledby")] != 1 {
			wrong("a table has no name (4.1.2)")
		}
		tableFaults(t, wrong)
	}
	for _, l := range all["li"] {
		if p := l.Parent.Data; p != "ul" && p != "ol" {
			wrong("a li in %s (1.3.1)", p)
		} else if textOf(l) == "" {
			wrong("an empty li (1.3.1)")
		}
	}
	if len(all["dt"]) == 0 || len(all["dt"]) != len(all["dd"]) {
		wrong("%d dt and %d dd (1.3.1)", len(all["dt"]), len(all["dd"]))
	}
	for _, s := range all["svg"] {
		pictureFaults(s, wrong)
	}
	for _, s := range all["style"] {
		styleFaults(textOf(s), wrong)
	}
	if lang == "es" {
		for _, s := range all["li"] {
			if text := textOf(s); strings.Contains(text, "University of") && !strings.Contains(inner(s), `lang="en"`) {
				wrong("%q is English and does not say so (3.1.2)", text)
			}
		}
	}
	return bad
}

// tableFaults looks whether each cell can be told by its headings.
func tableFaults(t *html.Node, wrong func(string, ...any)) {
	columns := 0
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && n.Data == "tr" {
			cells, heads := 0, 0
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				switch {
				case c.Type != html.ElementNode:
					continue
				case c.Data == "th":
					heads++
					scope := attr(c, "scope")
					if n.Parent.Data == "thead" && scope != "col" || n.Parent.Data == "tbody" && scope != "row" && scope != "rowgroup" {
						wrong("the scope of th %q is %q (1.3.1)", textOf(c), scope)
					}
					if textOf(c) == "" {
						wrong("an empty th (1.3.1)")
					}
				}
				span, err := strconv.Atoi(attr(c, "colspan"))
				cells += 1
				if err == nil {
					cells += span - 1
				}
			}
			if columns == 0 {
				columns = cells
			}
			if cells != columns {
				wrong("a row has %d cells, and the table %d columns (1.3.1)", cells, columns)
			}
			if heads == 0 {
				wrong("a row without th (1.3.1)")
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(t)
}

// pictureFaults looks whether a picture has words, says nothing by color alone,
// and can be seen.
func pictureFaults(s *html.Node, wrong func(string, ...any)) {
	alt := attr(s, "aria-label")
	if attr(s, "role") != "img" || alt == "" || s.FirstChild == nil || s.FirstChild.Data != "title" || textOf(s.FirstChild) != alt {
		wrong("a picture without words (1.1.1)")
	}
	row := s.Parent.Parent // the class stands in words in the same row
	class := regexp.MustCompile(`“([^”]+)”`).FindStringSubmatch(alt)
	if row.Data != "tr" || class == nil {
		wrong("%q names no class (1.4.1)", alt)
	} else if words := strings.ToLower(textOf(s.Parent.NextSibling)); !strings.Contains(words, class[1]) {
		wrong("the words %q beside the picture do not say %q (1.4.1)", words, class[1])
	}
	marks := 0
	widths := map[string]string{}
	fill := ""
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch n.Data {
		case "rect":
			fill = attr(n, "fill")
			if w, ok := widths[fill]; ok && w != attr(n, "stroke-width") {
				wrong("boxes of one color have lines of two widths")
			}
			widths[fill] = attr(n, "stroke-width")
			if c := ratio(attr(n, "stroke"), "#ffffff"); c < 3 {
				wrong("a box's line has contrast %.1f (1.4.11)", c)
			}
		case "text":
			if c := ratio(attr(n, "fill"), fill); c < 4.5 {
				wrong("%q in a box has contrast %.1f (1.4.3)", textOf(n), c)
			}
		case "path":
			marks++
			if c := ratio(attr(n, "fill"), "#ffffff"); c < 3 {
				wrong("the mark has contrast %.1f (1.4.11)", c)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(s)
	if marks > 1 {
		wrong("%d marks in a picture", marks)
	}
	seen := map[string]bool{}
	for _, w := range widths {
		seen[w] = true
	}
	if len(widths) != len(seen) {
		wrong("the right box is told by its color alone (1.4.1)")
	}
}

// styleFaults looks whether all text can be told from its ground, which is
// white, and is large enough.
func styleFaults(css string, wrong func(string, ...any)) {
	colors := textColor.FindAllStringSubmatch(css, -1)
	for _, m := range colors {
		if c := ratio(m[1], "#ffffff"); c < 4.5 {
			wrong("text in %s has contrast %.1f (1.4.3)", m[1], c)
		}
	}
	if len(colors) < 4 {
		wrong("only %d colors were found", len(colors))
	}
	for _, m := range background.FindAllStringSubmatch(css, -1) {
		if m[1] != "#fff" {
			wrong("a ground of %s", m[1])
		}
	}
	for _, m := range fontSize.FindAllStringSubmatch(css, -1) {
		n, err := strconv.ParseFloat(m[1], 64)
		if least := map[string]float64{"px": 10, "pt": 7}[m[2]]; err != nil || n < least {
			wrong("text of %s%s", m[1], m[2])
		}
	}
	if strings.Contains(css, "display: none") || strings.Contains(css, "visibility: hidden") {
		wrong("something is hidden from those who listen")
	}
}

func textOf(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

func inner(n *html.Node) string {
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if err := html.Render(&b, c); err != nil {
			return err.Error()
		}
	}
	return b.String()
}

// Every letter, in each language, can be perceived, understood and found one's
// way in.
func TestLettersAreAccessible(t *testing.T) {
	for _, c := range cases() {
		for _, lang := range letter.Languages() {
			for _, f := range accessible(writeIn(t, c, lang)) {
				t.Errorf("%s %s: %s", c.name, lang, f)
			}
		}
	}
}

// The check finds what it is for: each page here has one fault put into it.
func TestAccessibilityCheckFinds(t *testing.T) {
	page := string(writeIn(t, cases()[1], letter.Spanish))
	if f := accessible([]byte(page)); len(f) > 0 {
		t.Fatal(f)
	}
	for _, x := range []struct{ from, to, finds string }{
		{`<html lang="es">`, `<html>`, "3.1.1"},
		{`<title>`, `<title></title><x>`, "2.4.2"},
		{`<h2 id="found">`, `<h4 id="found">`, "stands under"},
		{`scope="row"`, ``, "the scope of th"},
		{`scope="col"`, `scope="row"`, "the scope of th"},
		{`aria-labelledby="todo"`, ``, "has no name"},
		{`id="todo"`, `id="found"`, "have the id"},
		{`role="img" aria-label="pH`, `role="img" aria-label="" x="pH`, "1.1.1"},
		{`>Demasiado ácido</td>`, `>Vea el dibujo</td>`, "do not say"},
		{`stroke-width="1.4"`, `stroke-width="0.7"`, "told by its color alone"},
		{`fill="#1d1d1b"`, `fill="#b0b0b0"`, "in a box has contrast"},
		{`color: #45443e`, `color: #888888`, "contrast 3.5"},
		{`fill="#111"`, `fill="#bbb"`, "the mark has contrast"},
		{`font-size: 10.5px`, `font-size: 6px`, "text of 6px"},
		{`clip-path: inset(50%)`, `display: none`, "is hidden"},
		{`<td class="num">`, ``, "cells, and the table"},
		{`<span lang="en">University`, `<span>University`, "3.1.2"},
		{`<main>`, `<div>`, "of main"},
	} {
		if !strings.Contains(page, x.from) {
			t.Errorf("the page has no %s", x.from)
			continue
		}
		found := accessible([]byte(strings.ReplaceAll(page, x.from, x.to)))
		if !strings.Contains(strings.Join(found, "\n"), x.finds) {
			t.Errorf("%s for %s: found only %q", x.to, x.from, found)
		}
	}
	// Black on white is 21 by definition, and #767676 is the lightest gray that
	// passes 4.5 on white, as handbooks on contrast say.
	if c := ratio("#000", "#ffffff"); math.Abs(c-21) > 0.001 {
		t.Errorf("black on white: %f", c)
	}
	if a, b := ratio("#767676", "#fff"), ratio("#777777", "#fff"); a < 4.5 || b >= 4.5 {
		t.Errorf("grays: %f and %f", a, b)
	}
}
