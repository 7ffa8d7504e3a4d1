package letter

import (
	"slices"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// ask tells what is open. All doubts about numbers are one plain sentence: what
// the checks found, with its figures, is for the staff, who see it with the
// advice.
func (v *view) ask(a *interpret.Advice, rec *normalize.Record) {
	told := false
	for _, q := range a.Questions {
		switch {
		case !q.OfLaboratory():
			v.Questions = append(v.Questions, v.tr(q.Text))
		case !told:
			v.Questions = append(v.Questions, v.doubt(a, rec))
			told = true
		}
	}
}

// doubt is the sentence for all doubts about numbers, with what is not advised
// on before the laboratory has answered.
func (v *view) doubt(a *interpret.Advice, rec *normalize.Record) string {
	var names []string
	whole, of := false, map[string]int{}
	for _, q := range a.Questions {
		switch {
		case q.Code == "record-doubtful":
			whole = true
		case q.Code == "result-doubtful" && (slices.Contains(mainRows, q.Blocks) || q.Blocks == "Pb" || q.Blocks == "buffer_pH"):
			id := q.Blocks
			if id == "buffer_pH" {
				id = "lime" // what a client waits for
			}
			if n := v.plain(id); !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	disagree := whole
	for _, r := range rec.Results {
		if len(r.Findings) > 0 && (r.Status == normalize.Held || r.Status == normalize.Flagged) {
			of[r.Findings[0].Check]++
			disagree = disagree || of[r.Findings[0].Check] > 1 // one check that several numbers fail together
		}
	}
	out := []string{v.say("doubt_one")}
	if disagree {
		out[0] = v.say("doubt_apart")
	}
	if whole {
		out = append(out, v.say("doubt_all"))
	} else if len(names) > 0 {
		out = append(out, v.say("doubt_of", "names", v.join(names, "or")))
	}
	return strings.Join(out, " ")
}
