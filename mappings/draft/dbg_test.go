package draft

import (
	"fmt"
	"os"
	"testing"

	"example.org/windrow/normalize"
)

func TestDbg(t *testing.T) {
	f := os.Getenv("DBG")
	if f == "" {
		t.Skip("no file named")
	}
	doc := readWays(t, f)[0]
	d := newDrafter(Options{Vocabulary: normalize.Vocabulary()})
	s := newSheet(doc, doc.Pages[0])
	for i := 0; i < 25 && i < len(s.lines); i++ {
		l := &s.lines[i]
		fmt.Printf("%d y=%.0f-%.0f size=%.1f:", i, l.box.Y0, l.box.Y1, l.size)
		for _, r := range l.runs {
			fmt.Printf(" [%.0f-%.0f %s]", r.box.X0, r.box.X1, r.text)
		}
		fmt.Println()
	}
	for _, w := range s.turned {
		fmt.Printf("turned %d %s %v\n", w.Turn, w.Text, w.Box)
	}
	for _, i := range d.seeds(s) {
		top, y := d.regionTop(s, i)
		fmt.Println("seed", i, "top", top, y)
		tb := d.build(s, i, len(s.lines))
		if tb == nil {
			fmt.Println("no table")
			continue
		}
		fmt.Println(d.decide(s, tb), tb.kind, tb.last, d.endsOf(s, tb))
		for i := tb.last; i < len(s.lines); i++ {
			fmt.Println(i, s.lines[i].text(), len(s.lines[i].runs))
		}
		for _, c := range tb.cols {
			fmt.Println(c.under, c.heading, c.unit, c.role, c.m.analyte, c.cells[:min(3, len(c.cells))])
		}
	}
}
