package mappings

import (
	"fmt"
	"regexp"
	"slices"

	"example.org/windrow/ingest"
)

// again is in a note on a second measurement, or on one that was wrong.
var again = regexp.MustCompile(`(?i)\b(?:re-?(?:check|test|run|analy[sz])\w*|repeat(?:ed)?|dup(?:licate|\.)?|correct(?:ed|ion)?|should (?:be|read))\b.*\d`)

// A box is a few lines that stand apart from what is beside them, such as what
// the laboratory notes for itself beside a table. The mapping names the words
// that it begins with; it goes down line by line as far as there is one right
// below that stands under what is already in it.

// apartBy is how much white, in sizes of the letters, a box has on its sides:
// as much as parts two pieces of a line.
const apartBy = 1.0

// declareBox marks the lines of a box, and holds the report where it is not
// plain that they are one: where something stands too near, or where a line
// says something of a result.
func (r *reader) declareBox(v *view, n *NotResult, mark Mark) {
	var box ingest.Box
	var in [][]*atom
	for _, l := range v.lines {
		if len(in) == 0 {
			for _, run := range v.pieces(l, apartBy) {
				if hits := find(n.Box, run); len(hits) > 0 && hits[0].first == 0 {
					in, box = append(in, run), boxOf(run)
				}
			}
			continue
		}
		if l.box.CenterY() <= box.Y1 {
			continue // beside what is in the box already
		}
		low := max(in[len(in)-1][0].size, 1)
		if v.grid {
			low = 0.5
		}
		if l.box.Y0-box.Y1 > low {
			break
		}
		for _, run := range v.pieces(l, apartBy) {
			if boxOf(run).OverlapX(box) > 0 {
				in = append(in, run)
			}
		}
		for _, run := range in {
			box = box.Union(boxOf(run))
		}
	}
	if len(in) == 0 {
		return
	}
	for _, l := range v.lines {
		if l.box.CenterY() < box.Y0 || l.box.CenterY() > box.Y1 {
			continue
		}
		for _, run := range v.pieces(l, apartBy) {
			if b := boxOf(run); b.OverlapX(box) > 0 && !slices.ContainsFunc(in, func(as []*atom) bool { return as[0] == run[0] }) {
				r.hold("box-not-apart", v.placeOf(run), n.Place, fmt.Sprintf("the box that begins with %q does not stand apart from what is beside it", n.Box.Src), "white on both sides of the box, from its first line to its last", joined(run),
					"look at the page; if the box has moved, say otherwise in the mapping what is no result, such as by its texts")
				return
			}
		}
	}
	for _, run := range in {
		if what := r.saysOfResult(run); what != "" {
			r.hold("result-in-box", v.placeOf(run), n.Place, fmt.Sprintf("the box that begins with %q, which holds no results by the mapping, %s", n.Box.Src, what), n.Why, shorten(joined(run)),
				"look at the page, and ask the laboratory what the line means; if it changes nothing, add its words under not results (text)")
		}
		r.remark(joined(run), v.placeOf(run))
		use(run, mark)
	}
	var all []*atom
	for _, run := range in {
		all = append(all, run...)
	}
	r.remark(joined(all), v.placeOf(all)) // a sentence over several lines
}

// saysOfResult is what a line that should be no result says of one: it begins
// with a test's label and has a number, or it says that results are not what
// is printed; "" for nothing. What the mapping declares by its words is known.
func (r *reader) saysOfResult(as []*atom) string {
	as = free(as)
	if len(as) == 0 {
		return ""
	}
	text := joined(as)
	if limits.MatchString(text) || limits.MatchString(gloss(text)) {
		return "says that a result is not what is printed"
	}
	if again.MatchString(text) {
		return "has a number of a second measurement"
	}
	for k := range as {
		if t := r.l.mapping.Test(joined(as[:k+1])); t != nil && hasDigit(joined(as[k+1:])) {
			return fmt.Sprintf("has a number for the test %q", t.Label)
		}
	}
	return ""
}
