package dataset

import (
	"bytes"
	"fmt"
	"html"
	"strings"
)

// A page is a text for people that is written twice, as Markdown and as HTML,
// in the same words. A text between backquotes is code.
type page struct {
	title  string
	blocks []block
}

// A block is one of a heading, a paragraph, a list and a table.
type block struct {
	heading, text string
	list          []string
	head          []string
	rows          [][]string
}

func (p *page) heading(s string) { p.blocks = append(p.blocks, block{heading: s}) }
func (p *page) say(format string, args ...any) {
	p.blocks = append(p.blocks, block{text: fmt.Sprintf(format, args...)})
}
func (p *page) points(list ...string) { p.blocks = append(p.blocks, block{list: list}) }
func (p *page) table(rows [][]string, head ...string) {
	p.blocks = append(p.blocks, block{head: head, rows: rows})
}

// numeric says which columns hold numbers alone, and stand to the right.
func (b *block) numeric(i int) bool {
	for _, r := range b.rows {
		if strings.Trim(r[i], "0123456789,. %") != "" || r[i] == "" {
			return false
		}
	}
	return len(b.rows) > 0
}

func (p *page) markdown() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %s\n", markdownText(p.title))
	for _, bl := range p.blocks {
		b.WriteString("\n")
		switch {
		case bl.heading != "":
			fmt.Fprintf(&b, "## %s\n", markdownText(bl.heading))
		case bl.text != "":
			fmt.Fprintf(&b, "%s\n", markdownText(bl.text))
		case len(bl.list) > 0:
			for _, s := range bl.list {
				fmt.Fprintf(&b, "- %s\n", markdownText(s))
			}
		default:
			for i, s := range bl.head {
				fmt.Fprintf(&b, "| %s ", markdownText(s))
				if i == len(bl.head)-1 {
					b.WriteString("|\n")
				}
			}
			for i := range bl.head {
				if bl.numeric(i) {
					b.WriteString("|---:")
				} else {
					b.WriteString("|---")
				}
			}
			b.WriteString("|\n")
			for _, r := range bl.rows {
				for _, s := range r {
					fmt.Fprintf(&b, "| %s ", strings.ReplaceAll(markdownText(s), "|", `\|`))
				}
				b.WriteString("|\n")
			}
		}
	}
	return b.Bytes()
}

// markdownText keeps a text on its line and from being taken for a tag.
func markdownText(s string) string {
	return strings.NewReplacer("\n", " ", "\r", " ", "<", "&lt;", ">", "&gt;").Replace(s)
}

const pageStyle = `body{font:16px/1.5 system-ui,sans-serif;color:#222;max-width:52rem;margin:2rem auto;padding:0 1rem}
h1{font-size:1.7rem;line-height:1.2}h2{font-size:1.2rem;margin-top:2rem}
table{border-collapse:collapse;margin:1rem 0;width:100%}th,td{border-bottom:1px solid #ccc;padding:.3rem .6rem;text-align:left;vertical-align:top}
td:first-child{min-width:11rem}th{border-bottom:2px solid #666}.n{text-align:right}code{background:#f2f2ee;padding:0 .2em;overflow-wrap:anywhere}
@media print{body{max-width:none;margin:0}}`

func (p *page) html() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>%s</title>\n<style>%s</style>\n<h1>%s</h1>\n", html.EscapeString(p.title), pageStyle, htmlText(p.title))
	for _, bl := range p.blocks {
		switch {
		case bl.heading != "":
			fmt.Fprintf(&b, "<h2>%s</h2>\n", htmlText(bl.heading))
		case bl.text != "":
			fmt.Fprintf(&b, "<p>%s</p>\n", htmlText(bl.text))
		case len(bl.list) > 0:
			b.WriteString("<ul>\n")
			for _, s := range bl.list {
				fmt.Fprintf(&b, "<li>%s</li>\n", htmlText(s))
			}
			b.WriteString("</ul>\n")
		default:
			cell := func(tag string, i int, s string) {
				class := ""
				if bl.numeric(i) {
					class = ` class="n"`
				}
				fmt.Fprintf(&b, "<%s%s>%s</%s>", tag, class, htmlText(s), tag)
			}
			b.WriteString("<table>\n<tr>")
			for i, s := range bl.head {
				cell("th", i, s)
			}
			b.WriteString("</tr>\n")
			for _, r := range bl.rows {
				b.WriteString("<tr>")
				for i, s := range r {
					cell("td", i, s)
				}
				b.WriteString("</tr>\n")
			}
			b.WriteString("</table>\n")
		}
	}
	b.WriteString("</html>\n")
	return b.Bytes()
}

// htmlText escapes a text; what stands between backquotes is code.
func htmlText(s string) string {
	parts := strings.Split(s, "`")
	for i := range parts {
		parts[i] = html.EscapeString(parts[i])
		if i%2 == 1 && i < len(parts)-1 {
			parts[i] = "<code>" + parts[i] + "</code>"
		} else if i%2 == 1 {
			parts[i] = "`" + parts[i] // one backquote alone is itself
		}
	}
	return strings.Join(parts, "")
}
