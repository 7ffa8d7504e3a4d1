package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/difference"
)

// mostDifferences is how many results that differ a page lists of a version.
const mostDifferences = 200

// A versionLine is one version of a report and how it differs from the one
// before.
type versionLine struct {
	archive.Written
	Status   normalize.Status
	Mapping  normalize.MappingRef
	Software string
	Damaged  bool
	Diff     *difference.Report // nil of the first
	Changes  []changeLine       // of the report as a whole
	Records  []recordChange
	Results  []resultChange
	More     int // results that differ and are not listed
}

// A changeLine is a field that differs, in words. Without Old and New all there is
// to say of it is that it differs.
type changeLine struct{ Name, Old, New string }

type recordChange struct {
	difference.Record
	Changes []changeLine
}

type resultChange struct {
	difference.Result
	Changes []changeLine
	Because []string
}

// longestChange is how many characters of a content are shown of each version.
const longestChange = 60

// changeNames are the fields of a record as a person calls them; "" for what
// another field or another column says.
var changeNames = map[string]string{
	"status": "state", "value": "", "unit": "", "number": "", "method": "", "method_name": "method", "basis": "expressed as", "detail": "kind of the test", "rating": "rated", "printed.text": "printed", "printed.unit": "printed unit", "printed.rating": "the laboratory says", "printed.place": "place on the page", "printed.number": "", "why": "why there is no value",
	"steps": "steps", "form_steps": "", "forms": "", "estimates": "what other methods would find", "findings": "what the checks found", "checks": "what the checks found", "land_use": "use of the land", "land_use_text": "use of the land, as printed", "lab_id": "number of the sample", "client_label": "label of the sample", "date_sampled": "date sampled", "date_received": "date received", "date_reported": "date reported", "county": "county", "depth": "depth", "report_no": "report number",
}

// causeWords are why two versions differ.
var causeWords = map[difference.Cause]string{difference.ByMapping: "the mapping", difference.ByTables: "the tables of units and methods", difference.BySoftware: "the program", difference.BySettings: "the settings of the office", difference.ByOthers: "other reports", difference.Unexplained: "not known"}

// changesOf says fields that differ in words.
func changesOf(fields []difference.Field) []changeLine {
	var out []changeLine
	for _, f := range fields {
		last := f.Name[strings.LastIndex(f.Name, ".")+1:]
		first, _, _ := strings.Cut(f.Name, ".")
		name, known := changeNames[f.Name]
		if !known {
			name, known = changeNames[last]
		}
		if first == "forms" {
			continue // the value in other units follows from the value
		}
		if !known {
			name = strings.NewReplacer("_", " ", ".", ", ").Replace(f.Name)
		}
		c := changeLine{Name: name, Old: f.Old, New: f.New}
		switch {
		case name == "" || slices.ContainsFunc(out, func(x changeLine) bool { return x.Name == name }):
			continue
		case last == "status":
			c.Old, c.New = became(f.Old), became(f.New)
		case (last == "findings" || last == "checks") && f.Old == "" && !strings.Contains(f.New, "; "):
			_, c.New, _ = strings.Cut(f.New, ": ") // without the name of the check
		case last == "steps" || last == "estimates" || len([]rune(f.Old)) > longestChange || len([]rune(f.New)) > longestChange:
			c.Old, c.New = "", ""
		}
		out = append(out, c)
	}
	return out
}

func (l *versionLine) compare(before, now *normalize.Report) {
	l.Diff = difference.Compare(before, now)
	l.Changes = changesOf(l.Diff.Fields)
	for _, r := range l.Diff.Records {
		l.Records = append(l.Records, recordChange{r, changesOf(r.Fields)})
	}
	list := l.Diff.Results
	if n := len(list); n > mostDifferences {
		list, l.More = list[:mostDifferences], n-mostDifferences
	}
	for _, r := range list {
		x := resultChange{Result: r, Changes: changesOf(r.Fields)}
		if r.OldStat != r.NewStat && r.OldStat != "" && r.NewStat != "" {
			x.Changes = append([]changeLine{{Name: "state", Old: became(r.OldStat), New: became(r.NewStat)}}, slices.DeleteFunc(x.Changes, func(c changeLine) bool { return c.Name == "state" })...)
		}
		for _, c := range r.Because {
			if words := causeWords[c]; words != "" {
				x.Because = append(x.Because, words)
			}
		}
		l.Results = append(l.Results, x)
	}
}

// versions lists what the archive keeps of a report, the latest first.
func (d *Desk) versions(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	list, err := d.off.Archive.History(archive.Reports, rep.ID)
	if err != nil {
		return nil, err
	}
	var lines []versionLine
	var before *normalize.Report
	for _, w := range list {
		l := versionLine{Written: w}
		now, err := d.version(rep.ID, w.Version)
		if err != nil {
			l.Damaged = true // the others can be shown all the same
		} else {
			l.Status, l.Mapping, l.Software = now.Status, now.Mapping, now.Version
			if before != nil {
				l.compare(before, now)
			}
			before = now
		}
		lines = append([]versionLine{l}, lines...)
	}
	return &answer{page: "versions", title: h.Title() + ", versions", nav: "/reports", body: struct {
		Head     reportHead
		Versions []versionLine
	}{h, lines}}, nil
}

func (d *Desk) version(id string, n int) (*normalize.Report, error) {
	b, err := d.off.Archive.Version(archive.Reports, id, n)
	if err != nil {
		return nil, err
	}
	rep := &normalize.Report{}
	if err := json.Unmarshal(b, rep); err != nil {
		return nil, fmt.Errorf("version %d of report %s in the archive: %w", n, id, err)
	}
	return rep, nil
}
