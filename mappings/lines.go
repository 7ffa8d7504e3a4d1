package mappings

import (
	"sort"
	"strings"
)

// groupLines puts level atoms, ordered by height on the page, into lines:
// two atoms share a line when their base lines differ by less than 0.45 of
// the smaller text's size, so that a superscript or a slightly larger number
// stays on its line and the next line does not.
func groupLines(atoms []*atom) []*line {
	var lines []*line
	for _, a := range atoms {
		var home *line
		for i := len(lines) - 1; i >= 0 && i >= len(lines)-4; i-- {
			l := lines[i]
			ref := l.atoms[len(l.atoms)-1]
			if sameLine(a, ref) || sameLine(a, l.atoms[0]) {
				home = l
				break
			}
		}
		if home == nil {
			home = &line{}
			lines = append(lines, home)
		}
		home.atoms = append(home.atoms, a)
		home.box = home.box.Union(a.box)
		a.line = home
	}
	for _, l := range lines {
		sort.SliceStable(l.atoms, func(i, j int) bool { return l.atoms[i].box.X0 < l.atoms[j].box.X0 })
	}
	sort.SliceStable(lines, func(i, j int) bool { return lines[i].atoms[0].base < lines[j].atoms[0].base })
	return lines
}

// sameLine reports whether two atoms stand on one line. The base line of a
// word in a picture is a guess, as the picture may be a little askew; there,
// words that share most of their height are on one line.
//
// A star or a degree sign of a picture has ink in the upper part of its line
// alone: it belongs to the line whose height, and a third more above it, holds
// its middle.
func sameLine(a, b *atom) bool {
	if a.ocr != nil && b.ocr != nil {
		if raised(a) != raised(b) {
			if raised(b) {
				a, b = b, a
			}
			return a.box.CenterY() > b.box.Y0-0.35*b.box.Height() && a.box.CenterY() < b.box.Y1
		}
		return a.box.OverlapY(b.box) > 0.6*min(a.box.Height(), b.box.Height())
	}
	return abs(a.base-b.base) < 0.45*min(a.size, b.size)
}

// raised reports whether all signs of an atom stand in the upper part of a line.
func raised(a *atom) bool { return strings.Trim(a.text, "*°'\"^") == "" }
