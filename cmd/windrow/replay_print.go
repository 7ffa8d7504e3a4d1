package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"example.org/windrow/cmd/internal/pipeline"
)

// printReplay writes the sum of a replay for a person.
func printReplay(w io.Writer, t *pipeline.ReplayTally, applied bool) {
	differ := t.Outcomes[pipeline.ReplayChanged] + t.Outcomes[pipeline.ReplayNew] + t.Outcomes[pipeline.ReplayUnfinished]
	verb := "would change"
	if applied {
		verb = "changed"
	}
	paragraph(w, "", fmt.Sprintf("%s read anew, %d %s", plural(t.Reports, "report"), differ, verb))
	for _, o := range []struct {
		outcome pipeline.ReplayOutcome
		words   string
	}{
		{pipeline.ReplaySame, "the same, byte for byte"},
		{pipeline.ReplayAlike, "the same, read by another mapping file, tables or software; the old version stands"},
		{pipeline.ReplayChanged, "with a difference"},
		{pipeline.ReplayNew, "new in a file whose other reports are archived"},
		{pipeline.ReplayUnfinished, "with advice or a letter that a replay cut short left out"},
		{pipeline.ReplayNotMade, "no longer made of their file; the archived ones stand"},
		{pipeline.ReplayNotRead, "not read; see above"},
	} {
		if n := t.Outcomes[o.outcome]; n > 0 {
			paragraph(w, fmt.Sprintf("  %6d  ", n), o.words)
		}
	}
	if t.Held > 0 {
		text := plural(t.Held, "report") + " held as read today"
		if t.Newly > 0 {
			text += fmt.Sprintf(", %d of them newly", t.Newly)
		}
		putf(w, "%s\n", text)
	}
	if t.Freed > 0 {
		putf(w, "%s held until now and not as read today\n", plural(t.Freed, "report"))
	}
	if applied && t.Applied+t.Letters > 0 {
		putf(w, "%s written, %s made, %d replaced\n", plural(t.Applied, "version"), plural(t.Letters, "letter"), t.Kept)
	}
	for _, l := range t.Labs {
		printLab(w, l)
	}
}

func printLab(w io.Writer, l *pipeline.LabTally) {
	name := l.Lab.Name
	if name == "" {
		name = "laboratory not known"
	} else {
		name += " (" + l.Lab.ID + ")"
	}
	putln(w)
	paragraph(w, "", fmt.Sprintf("%s: %d of %d reports differ", name, l.Differ, l.Reports))
	line := func(title string, m map[string]int, unit string) {
		if len(m) > 0 {
			paragraph(w, "  "+title+": ", counted(m, unit))
		}
	}
	line("because of", l.Causes, "")
	line("reports", l.Status, "")
	line("reasons", l.Reasons, "")
	line("advice", l.Advice, "")
	if l.Samples > 0 {
		putf(w, "  samples new, gone or with other facts: %d\n", l.Samples)
	}
	g := grid{head: []string{"ANALYTE", "VALUES", "LEAST", "MEDIAN", "MOST", "OTHER", "NEW", "GONE"}, whole: map[int]bool{0: true, 1: true, 2: true, 3: true, 4: true, 5: true, 6: true, 7: true}}
	for _, a := range l.Analytes {
		if a.Moved+a.Other+a.New+a.Gone > 0 {
			g.add(a.Analyte, dash(a.Moved), orDash(a.Least), orDash(a.Median), orDash(a.Most), dash(a.Other), dash(a.New), dash(a.Gone))
		}
	}
	if len(g.rows) > 0 {
		putln(w, "  results, with the ratio of the new value to the old:")
		g.write(w, "    ")
	}
	for _, a := range l.Analytes {
		for _, x := range []struct {
			m    map[string]int
			what string
		}{{a.Status, "status"}, {a.Ratings, "rated"}, {otherFields(a.Fields), "also"}} {
			if len(x.m) > 0 {
				paragraph(w, "    "+a.Analyte+" "+x.what+": ", counted(x.m, ""))
			}
		}
	}
	if len(l.Examples) > 0 {
		putln(w, "  for example:")
	}
	for _, e := range l.Examples {
		what := e.Analyte
		if e.Field != "" {
			what = strings.TrimSpace(what + " " + e.Field)
		}
		was, is := apart(e.Old, e.New)
		text := fmt.Sprintf("%s, sample %s, %s: %s → %s", e.File, e.Sample, what, orNothingThere(was), orNothingThere(is))
		if at := e.Place.Inside(); at != "" {
			text += " (at " + at + ")"
		}
		paragraph(w, "    ", text+"; because of "+causes(e.Because)+"; "+e.Report)
	}
}

// otherFields leaves out the fields that the table above says already.
func otherFields(m map[string]int) map[string]int {
	out := map[string]int{}
	for k, n := range m {
		if !slices.Contains([]string{"value", "unit", "status"}, k) && !strings.HasPrefix(k, "forms.") {
			out[k] = n
		}
	}
	return out
}

// apart is two texts without the long stretches in which they are the same.
func apart(a, b string) (string, string) {
	const long = 60 // characters that may stand whole
	if len([]rune(a)) <= long && len([]rune(b)) <= long {
		return a, b
	}
	x, y := strings.Fields(a), strings.Fields(b)
	front := 0
	for front < min(len(x), len(y)) && x[front] == y[front] {
		front++
	}
	back := 0
	for back < min(len(x), len(y))-front && x[len(x)-1-back] == y[len(y)-1-back] {
		back++
	}
	// A few words on either side say where it is.
	front, back = max(0, front-3), max(0, back-3)
	middle := func(w []string) string {
		text := strings.Join(w[front:len(w)-back], " ")
		if front > 0 {
			text = "… " + text
		}
		if back > 0 {
			text += " …"
		}
		return text
	}
	return middle(x), middle(y)
}

// counted is a map of counts in words, the most frequent first.
func counted(m map[string]int, unit string) string {
	keys := slices.SortedFunc(maps.Keys(m), func(a, b string) int {
		return cmp.Or(cmp.Compare(m[b], m[a]), cmp.Compare(a, b))
	})
	var out []string
	for _, k := range keys {
		out = append(out, fmt.Sprintf("%s %d%s", k, m[k], unit))
	}
	return strings.Join(out, ", ")
}

func dash(n int) string {
	if n == 0 {
		return "–"
	}
	return fmt.Sprint(n)
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func orNothingThere(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}
