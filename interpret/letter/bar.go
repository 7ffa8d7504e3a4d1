package letter

import (
	"strings"

	"example.org/windrow/interpret"
)

// A bar is the simple picture of where a value lies: one box for each class,
// the right ones shaded and outlined, a mark at the value. It only draws;
// the class stands in words beside it. Sizes are in the units of its SVG.
type bar struct {
	Width, Height int
	Boxes         []box
	Mark          int    // middle of the mark
	Alt           string // the picture in words
}

type box struct {
	X, W int
	Good bool
	Text string
}

const (
	barWidth  = 210
	barHeight = 23
)

// newBar draws a rating that has a class and bands; otherwise nil.
func (v *view) newBar(r interpret.Rating) *bar {
	if r.Class == "" || len(r.Bands) == 0 {
		return nil
	}
	n := len(r.Bands)
	w := barWidth / n
	b := &bar{Width: w*n + 2, Height: barHeight, Mark: -1}
	for i, band := range r.Bands {
		b.Boxes = append(b.Boxes, box{X: i*w + 1, W: w, Good: good(r.Analyte, band.Class), Text: v.shortClass(r.Analyte, band.Class)})
		if band.Class == r.Class && b.Mark < 0 {
			b.Mark = i*w + int(within(r, band)*float64(w-10)) + 5
		}
	}
	b.Alt = v.say("picture_alt", "name", v.rowName(r.Analyte), "class", strings.ToLower(v.class(r)), "box", digit(rankOf(r)), "boxes", digit(n))
	return b
}

func digit(n int) string { return string(rune('0' + n)) }

func rankOf(r interpret.Rating) int {
	for i, b := range r.Bands {
		if b.Class == r.Class {
			return i + 1
		}
	}
	return 0
}

func good(analyte, class string) bool {
	switch class {
	case interpret.Optimum, interpret.InRange:
		return true
	case interpret.Medium, interpret.High, interpret.Excessive:
		return analyte == "OM"
	}
	return false
}

func (v *view) shortClass(analyte, class string) string {
	if key := "box.organic " + class; analyte == "OM" && v.has(key) {
		return v.say(key)
	}
	return v.say("box." + class)
}

// within is how far into its band a value lies, from 0 to 1. Open bands are
// drawn as if they ended at twice their lower bound; a pH below or above its
// range as if the soil could go two units further.
func within(r interpret.Rating, band interpret.Band) float64 {
	v, ok := number(r.Value)
	if !ok {
		return 0.5
	}
	lo, _ := number(band.From)
	hi, open := number(band.Below)
	if !open {
		hi = lo * 2
	}
	switch r.Class {
	case interpret.TooAcid:
		lo = hi - 2
	case interpret.TooAlkaline:
		hi = lo + 2
	}
	if hi <= lo {
		return 0.5
	}
	return min(1, max(0, (v-lo)/(hi-lo)))
}
