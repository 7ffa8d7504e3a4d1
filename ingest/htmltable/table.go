package htmltable

import (
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"example.org/windrow/ingest"
)

// A tableRow is a row of a table with the look that its cells inherit.
type tableRow struct {
	node  *html.Node
	look  look
	group int // of rows, where spans over rows end
	left  int // rows of the group from this one on
}

// table takes a table into the grid, from the next row on. Its rows are in the
// order in which they are shown: head, bodies, foot.
func (b *builder) table(n *html.Node, l look) {
	var heads, bodies, feet []tableRow
	group := 0
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode {
			b.walk(c, l, &flow{line: b.paragraph})
			continue
		}
		switch c.Data {
		case "caption":
			f := &flow{line: b.paragraph}
			b.walk(c, l, f)
			f.end()
		case "thead", "tbody", "tfoot":
			group++
			gl := b.look(c, l)
			if gl.gone {
				b.hide(textOf(c))
				continue
			}
			rows := b.rowsOf(c, gl, group)
			switch {
			case c.Data == "thead" && heads == nil:
				heads = rows
			case c.Data == "tfoot" && feet == nil:
				feet = rows
			default:
				bodies = append(bodies, rows...)
			}
		case "tr":
			if rl := b.look(c, l); rl.gone {
				b.hide(textOf(c))
			} else {
				bodies = append(bodies, tableRow{node: c, look: rl, group: group})
			}
		}
	}
	rows := append(append(heads, bodies...), feet...)
	for i := len(rows) - 1; i >= 0; i-- {
		rows[i].left = 1
		if i+1 < len(rows) && rows[i+1].group == rows[i].group {
			rows[i].left = rows[i+1].left + 1
		}
	}
	var taken []int // of a column, the last row that a cell from above covers
	wide, widths := 0, map[int]int{}
	defer func() {
		for row, w := range widths {
			if w < wide {
				b.short = append(b.short, row)
			}
		}
	}()
	for i, r := range rows {
		if b.reason == nil {
			b.reason = b.lim.Over(b.ctx.Err(), "the web page")
		}
		if b.reason != nil {
			return
		}
		if i > 0 && rows[i-1].group != r.group {
			taken = nil
		}
		if b.apart[r.node] {
			b.takeApart(r)
			taken = nil
			continue
		}
		b.row++
		taken = b.tableRow(r, taken)
		for k, last := range taken {
			if last >= b.row {
				widths[b.row] = k + 1
			}
		}
		wide = max(wide, widths[b.row])
	}
}

// The bounds that the HTML standard sets to spans.
const (
	mostAcross = 1000
	mostSpan   = 65_534
)

func (b *builder) rowsOf(n *html.Node, l look, group int) []tableRow {
	var out []tableRow
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode || c.Data != "tr" {
			continue
		}
		rl := b.look(c, l)
		if rl.gone {
			b.hide(textOf(c))
			continue
		}
		out = append(out, tableRow{node: c, look: rl, group: group})
	}
	return out
}

func isCell(n *html.Node) bool {
	return n.Type == html.ElementNode && (n.Data == "td" || n.Data == "th")
}

// span reads a colspan or rowspan; 1 where there is none or it can't be read.
func span(n *html.Node, name string, most int) int {
	v, ok := attr(n, name)
	if !ok {
		return 1
	}
	v = strings.TrimSpace(v)
	end := 0
	for end < len(v) && v[end] >= '0' && v[end] <= '9' {
		end++
	}
	k, err := strconv.Atoi(v[:end])
	switch {
	case end == 0:
		return 1
	case err != nil || k > most:
		return most
	}
	return k
}

// tableRow puts one row into the grid. No cell reaches beyond its group.
func (b *builder) tableRow(r tableRow, taken []int) []int {
	col := 0
	for c := r.node.FirstChild; c != nil; c = c.NextSibling {
		if !isCell(c) {
			continue
		}
		l := b.look(c, r.look)
		if l.gone {
			b.hide(textOf(c)) // takes no room
			continue
		}
		for col < len(taken) && taken[col] >= b.row {
			col++
		}
		across, down := max(1, span(c, "colspan", mostAcross)), span(c, "rowspan", mostSpan)
		if down == 0 || down > r.left {
			down = r.left
		}
		if col+across > lastCol {
			b.reason = ingest.TooLarge("a table of the web page is wider than a table may be", "16384 columns", "more than that", "columns, which is fixed,")
			return taken
		}
		for len(taken) < col+across {
			taken = append(taken, 0)
		}
		for k := col; k < col+across; k++ {
			taken[k] = max(taken[k], b.row+down-1)
		}
		b.cell(c, l, col+1, across, down)
		col += across
		if b.reason != nil {
			return taken
		}
	}
	return taken
}

func (b *builder) cell(n *html.Node, l look, col, across, down int) {
	var lines []string
	f := &flow{line: func(s string) { lines = append(lines, s) }}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.inCell(c, l, f)
	}
	f.end()
	text := strings.Join(lines, "\n")
	if text == "" {
		return
	}
	c := ingest.Cell{Row: b.row, Col: col, Text: text, Kind: ingest.TextCell}
	if across > 1 || down > 1 {
		c.Across, c.Down = across, down
	}
	if v, ok := attr(n, "x:num"); ok {
		b.stored(&c, v)
	}
	b.add(c)
}

// inCell walks what is in a cell. A table in it has but one text, and is run
// on as a block of that text: takeApart deals with the others.
func (b *builder) inCell(n *html.Node, l look, f *flow) {
	if n.Type == html.ElementNode && !unread[n.Data] {
		if n.Data == "table" || b.holds[n] {
			l = b.look(n, l)
			if l.gone {
				b.hide(textOf(n))
				return
			}
			f.end()
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				b.inCell(c, l, f)
			}
			f.end()
			return
		}
	}
	b.walk(n, l, f)
}

// measured is what measure found below a node.
type measured struct {
	text  bool // outside any table below
	table bool
	texts int // cells with text of their own, in tables below
	most  int // of them in one table
}

// measure looks once at the whole document, so that tables in tables cost no
// more than others: it notes which elements hold a table, and which rows are
// there for the layout, that is, hold in one of their cells a table with more
// than one text.
func (b *builder) measure(n *html.Node) measured {
	var m measured
	if n.Type == html.TextNode {
		m.text = strings.TrimSpace(n.Data) != ""
		return m
	}
	if n.Type == html.ElementNode && unread[n.Data] {
		return m
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		k := b.measure(c)
		m.text = m.text || k.text
		m.table = m.table || k.table
		m.texts += k.texts
		m.most = max(m.most, k.most)
	}
	if n.Type != html.ElementNode {
		return m
	}
	if m.table {
		b.holds[n] = true
	}
	switch {
	case isCell(n) && m.text:
		m.text = false
		m.texts++
	case n.Data == "tr" && m.most > 1:
		b.apart[n] = true
	case n.Data == "table":
		m.table, m.text = true, false
		m.most = max(m.most, m.texts)
	}
	return m
}

// takeApart lets what is in a row of the layout follow row by row.
func (b *builder) takeApart(r tableRow) {
	for c := r.node.FirstChild; c != nil; c = c.NextSibling {
		if !isCell(c) {
			continue
		}
		f := &flow{line: b.paragraph}
		b.walk(c, r.look, f)
		f.end()
	}
}

// stored takes the stored number that spreadsheet programs leave beside the
// one that is shown, if the two agree to the places shown.
func (b *builder) stored(c *ingest.Cell, v string) {
	v = strings.TrimSpace(v)
	shownText := strings.ReplaceAll(c.Text, ",", "")
	full, err := strconv.ParseFloat(v, 64)
	shown, err2 := strconv.ParseFloat(shownText, 64)
	if err != nil || err2 != nil || strings.Trim(v, "0123456789.-") != "" || strings.Trim(shownText, "0123456789.-") != "" {
		return
	}
	places := 0
	if i := strings.IndexByte(shownText, '.'); i >= 0 {
		places = len(shownText) - i - 1
	}
	half := 0.5000001
	for range min(places, 300) {
		half /= 10
	}
	if d := full - shown; d > half || d < -half {
		return
	}
	c.Kind = ingest.NumberCell
	if v != c.Text {
		c.Raw = v
	}
}
