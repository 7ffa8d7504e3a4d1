package mappings

import (
	"fmt"

	"example.org/windrow/mappings/strict"
)

// companions decodes the list of what is no report. One text alone says too
// little: a report of a new layout may have it, and would be lost.
func (d *decoder) companions(n strict.Node) []*Companion {
	var out []*Companion
	for _, v := range n.Items() {
		c := &Companion{Place: v.Place(), What: d.need(v, "what", "what it is, such as invoice")}
		c.File = d.pattern(v.Get("file"), false)
		c.Texts = d.patterns(v.Get("texts"), false)
		c.Numbers = v.Get("numbers").Bool()
		signs := len(c.Texts)
		if c.File != nil {
			signs++
		}
		for _, p := range append([]*Pattern{c.File}, c.Texts...) {
			if p != nil && letters(p.Src) < 3 {
				v.Complain("this sign stands in too many documents", "a text of three letters or more", p.Src, "write more of the text")
			}
		}
		if len(c.Texts) == 0 || signs < 2 {
			v.Complain("too little says that a document is no report", "two texts that stand in it, or one and the name of its file", fmt.Sprintf("%d of these signs", signs), "add to texts what stands on every one of these documents and on no report")
		}
		v.Done()
		out = append(out, c)
	}
	return out
}

func letters(s string) (n int) {
	for _, r := range s {
		if r != '*' && r != '#' && r != ' ' && r != '.' && r != '\\' {
			n++
		}
	}
	return n
}
