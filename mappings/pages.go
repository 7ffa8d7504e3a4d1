package mappings

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// pageOf is a page's own number in a text: "page 1 of 2", "sheet 1 / 2". What
// stands before the word is kept, as "see page 2 of 4" is no such number.
var pageOf = regexp.MustCompile(`(?i)(?:^|(\pL*)[^\pL\d]*)\b(page|sheet|pg\.?)[ :#]*(\d{1,3}) ?(?:of|/) ?(\d{1,3})\b`)

// mayCount reports whether a text may have a page's number, which takes a
// twentieth of the time of looking for one.
func mayCount(text string) bool {
	text = strings.ToLower(text)
	return (strings.Contains(text, "page") || strings.Contains(text, "sheet") || strings.Contains(text, "pg")) &&
		(strings.Contains(text, "of") || strings.Contains(text, "/"))
}

// pointing are words before a page's number that point at a page elsewhere.
var pointing = []string{"see", "on", "to", "from", "in", "of", "and", "also", "at", "the", "with"}

// edgesOf are the lines on which a page may give its number: all of a page,
// and the first and last of a sheet, which may have as many rows as it likes.
func (v *view) edgesOf() []*line {
	const most = 40
	if v.grid && len(v.lines) > 2*most {
		return append(v.lines[:most:most], v.lines[len(v.lines)-most:]...)
	}
	return append(v.lines[:len(v.lines):len(v.lines)], &line{atoms: v.turned})
}

// missingPages holds a report that counts its pages ("page 1 of 2") and lacks
// some of them. A file may hold several reports that each count their own: for
// each length there must then be as many first pages as second ones.
func (r *reader) missingPages() {
	type counted struct {
		at    ingest.Place
		text  string
		times map[int]int
	}
	by := map[int]*counted{}
	var lengths []int
	for _, v := range r.views {
		onPage := map[[2]int]bool{} // a head and a foot may both say it
		for _, l := range v.edgesOf() {
			text := joined(l.atoms)
			if !mayCount(text) {
				continue
			}
			for _, m := range pageOf.FindAllStringSubmatch(text, -1) {
				n, _ := strconv.Atoi(m[3])
				of, _ := strconv.Atoi(m[4])
				if n < 1 || n > of || onPage[[2]int{n, of}] || slices.Contains(pointing, strings.ToLower(m[1])) {
					continue
				}
				onPage[[2]int{n, of}] = true
				if by[of] == nil {
					by[of] = &counted{at: v.placeOf(l.atoms), text: strings.TrimSpace(m[2] + " " + m[3] + " of " + m[4]), times: map[int]int{}}
					lengths = append(lengths, of)
				}
				by[of].times[n]++
			}
		}
	}
	for _, of := range lengths {
		c := by[of]
		most := 0
		for _, k := range c.times {
			most = max(most, k)
		}
		var gone []string
		for n := 1; n <= of; n++ {
			if c.times[n] < most {
				gone = append(gone, strconv.Itoa(n))
			}
		}
		if len(gone) == 0 {
			continue
		}
		what := "page " + gone[0]
		if len(gone) > 1 {
			what = "pages " + strings.Join(gone[:min(len(gone), 10)], ", ")
		}
		if len(gone) > 10 {
			what += fmt.Sprintf(" and %d more", len(gone)-10)
		}
		r.hold("pages-missing", c.at, ingest.Place{}, fmt.Sprintf("the report counts %d pages and %s of them is not in this file", of, what), fmt.Sprintf("pages 1 to %d", of), "only "+strings.ToLower(c.text)+" and the like", "ask for the whole report, and drop all its pages in as one file")
	}
}
