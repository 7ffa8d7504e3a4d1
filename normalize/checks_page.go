package normalize

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/method"
)

// SeverityWords is what a severity does, for a clerk.
func SeverityWords(s ingest.Severity) string {
	switch s {
	case ingest.Note:
		return "worth knowing; changes nothing"
	case ingest.Flag:
		return "the result stands, with a mark"
	case ingest.Hold:
		return "the report waits for a person"
	}
	return "nothing could be read"
}

const sameDayWords = "## Reports of one day\n\nThe checks above look at earlier days alone, so that it does not matter in which order files are read. In an office's archive every report is also set against the others of its laboratory and day (`" + AgainCode + "`): where a sample of one laboratory number, and of one report number, client or label, has a result that differs by more than a page is rounded (3 %), each of the reports is held, whichever came first. One that was taken before gets a new version, and its letters are put aside. Common practice, no source: a laboratory that finds a mistake on the day of a report sends it again under the same numbers, mostly without a word.\n\n"

// ChecksPage is the list of checks as a page in Markdown, made from the same
// data that the checks run by. normalize/CHECKS.md is this text.
func ChecksPage() string {
	var b strings.Builder
	all, counts := check.All(), map[ingest.Severity]int{}
	for _, c := range all {
		counts[c.Severity]++
	}
	fmt.Fprintf(&b, `# The cross-examination

What the numbers of a report say about each other, and about those that came before. This page is made from normalize/check/checks.yaml and the tables beside it; change those, not this.

There are %d checks: %d hold a report until a person has looked, %d flag a result or a sample, %d note something. None ever edits a value. Printed numbers are rounded, so each is taken for anything that is printed alike; what is still apart after that is found.

`, len(all), counts[ingest.Hold], counts[ingest.Flag], counts[ingest.Note])
	about := ""
	for _, c := range all {
		if c.About != about {
			about = c.About
			fmt.Fprintf(&b, "## %s%s\n\n| check | severity | what must hold | when it speaks | why | source |\n|---|---|---|---|---|---|\n", strings.ToUpper(about[:1]), about[1:])
			for _, d := range all {
				if d.About == about {
					fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s |\n", d.Code, d.Severity, d.Title, d.When, d.Why, d.Source)
				}
			}
			b.WriteString("\n")
		}
	}
	b.WriteString(sameDayWords)
	b.WriteString("## Usual ranges by method\n\nFor `unusual-value`. A method that is not listed has the range of its kind, and an analyte without one the range in the table of analytes.\n\n| analyte | method | from | to | unit | source | note |\n|---|---|---|---|---|---|---|\n")
	for _, r := range check.Ranges() {
		unit := ""
		if a, ok := method.Standard().Analyte(r.Analyte); ok {
			unit = a.Unit
		}
		fmt.Fprintf(&b, "| %s | %s | %g | %g | %s | %s | %s |\n", r.Analyte, r.Method, r.Low, r.High, unit, r.Source, r.Note)
	}
	b.WriteString("\n## Weak and strong extracts\n\nFor `extract-order`.\n\n| analytes | weaker | stronger | allowed above | on lime | why | source |\n|---|---|---|---|---|---|---|\n")
	for _, o := range check.Orders() {
		lime := "too"
		if o.NotOnLime {
			lime = "not"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %.0f %% | %s | %s | %s |\n", strings.Join(o.Analytes, " "), strings.Join(o.Weaker, ", "), strings.Join(o.Stronger, ", "), 100*o.Slack, lime, o.Reason, o.Source)
	}
	b.WriteString("\n## Typical amounts\n\nFor `exchanged-amounts`. The spread is a logarithm of ten. A row without a method is for whatever extract is not named before it.\n\n| analyte | methods | middle | spread | unit | source | note |\n|---|---|---|---|---|---|---|\n")
	for _, y := range check.Typicals() {
		unit := ""
		if a, ok := method.Standard().Analyte(y.Analyte); ok {
			unit = a.Unit
		}
		fmt.Fprintf(&b, "| %s | %s | %g | %g | %s | %s | %s |\n", y.Analyte, strings.Join(y.Methods, ", "), y.Middle, y.Spread, unit, y.Source, y.Note)
	}
	b.WriteString("\n## Sources\n\n")
	used := map[string]bool{}
	for _, c := range all {
		used[c.Source] = true
	}
	for _, r := range check.Ranges() {
		used[r.Source] = true
	}
	for _, o := range check.Orders() {
		used[o.Source] = true
	}
	for _, y := range check.Typicals() {
		used[y.Source] = true
	}
	n := map[string]int{}
	for _, k := range slices.Sorted(maps.Keys(used)) {
		s := bibliography()[k]
		fmt.Fprintf(&b, "- `%s` (%s): %s\n", k, s.Provenance, s.Text)
	}
	for _, c := range all {
		n[bibliography()[c.Source].Provenance]++
	}
	b.WriteString("\nThe checks by what they rest on: ")
	var parts []string
	for _, p := range []string{"seen", "computed", "definition", "common practice", "from memory"} {
		if n[p] > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", p, n[p]))
		}
	}
	b.WriteString(strings.Join(parts, ", ") + ".\n")
	return b.String()
}
