package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// choices are what a person can decide about a report.
type choices struct {
	Count, Aside, Withdraw bool
	WhyNot                 string // why it can't be decided to count; "" when it can, or when nothing holds it
}

// Any reports whether there is anything to decide.
func (c choices) Any() bool { return c.Count || c.Aside || c.Withdraw }

// choices are what makes sense for a report; the conductor decides again when
// it is asked.
func (h reportHead) choices() choices {
	var c choices
	if h.Erased {
		return c
	}
	c.Aside = !normalize.SetAside(h.Report)
	c.Withdraw = h.Ruling != nil && h.Ruling.Decision != normalize.Withdrawn
	for _, x := range h.Holds {
		if !normalize.Releasable(x.Code) {
			if x.Code != normalize.AsideCode {
				c.WhyNot = "That it counts can’t be decided here: a number that could not be read or accounted for is settled by the page, the mapping or the laboratory, and not by a decision."
			}
			return c
		}
	}
	c.Count = len(h.Holds) > 0
	return c
}

// decides is the name under which one who has signed in decides; "" where
// nobody signs in.
func decides(ctx context.Context) string {
	v := visitOf(ctx)
	if v == nil {
		return ""
	}
	if v.person.Called == "" {
		return v.person.Account
	}
	return v.person.Called + " (" + v.person.Account + ")"
}

// longestWords is how many characters a name or a reason may have.
const longestWords = 2000

// rule keeps what a person decided and has it carried out.
func (d *Desk) rule(r *http.Request) (*answer, error) {
	id := r.PathValue("id")
	if !reportID.MatchString(id) {
		return nil, notHere("that is not the id of a report")
	}
	by, because := strings.TrimSpace(r.PostForm.Get("by")), strings.TrimSpace(r.PostForm.Get("because"))
	if who := decides(r.Context()); who != "" {
		by = who // who has signed in decides under no other name
	}
	decision := normalize.Decision(r.PostForm.Get("decision"))
	switch {
	case decision != normalize.Count && decision != normalize.Aside && decision != normalize.Withdrawn:
		return nil, badInput("nothing was decided", "go back and choose one of the decisions")
	case by == "" || because == "":
		return nil, badInput("a decision needs the name of the one who decides, and why", "go back and give both: they are kept with the decision")
	case len(by) > longestWords || len(because) > longestWords:
		return nil, badInput("that is too long", "say it in fewer words")
	}
	d.work.Lock()
	defer d.work.Unlock()
	ids, err := d.off.Rule(r.Context(), id, decision, by, because, d.today())
	var refusal *ingest.Reason
	if errors.As(err, &refusal) && refusal.Code == "ruling-refused" {
		t := &tale{Title: "Not decided: " + refusal.What + ".", Bad: true}
		for _, s := range []string{refusal.Found, refusal.Next} {
			if s != "" {
				t.Lines = append(t.Lines, sentence(s))
			}
		}
		return &answer{to: "/report/" + id + "/look?told=" + d.told.put(t)}, nil
	}
	if err != nil {
		return nil, err
	}
	t := &tale{Title: fmt.Sprintf("Decided by %s: %s.", by, decided(decision))}
	err = d.off.ReadAnew(r.Context(), ids, d.today(), func(x string, list []*pipeline.Replayed) {
		for _, y := range list {
			if y.ID != x && !y.Differs() {
				continue
			}
			now := string(y.Status)
			if y.ID == id && decision == normalize.Aside && y.Status == normalize.Held {
				now = index.Aside
			}
			line := fmt.Sprintf("%s: %s", y.Name, became(now))
			if n := len(y.Letters); n > 0 {
				line += fmt.Sprintf("; %s made", count(n, "letter"))
			}
			if n := len(y.Kept); n > 0 {
				line += fmt.Sprintf("; %s put aside", count(n, "letter"))
			}
			folders := map[string]bool{} // one that came twice has several files
			for _, to := range y.Moved {
				if in := filepath.Base(filepath.Dir(to)); !folders[in] {
					folders[in] = true
					line += "; its file lies in " + in + " now"
				}
			}
			t.Lines = append(t.Lines, line+".")
			if y.ID == id && decision == normalize.Count && y.Status == normalize.Held {
				t.Bad = true
				for _, reason := range y.Reasons {
					t.Lines = append(t.Lines, "It waits all the same: "+reason.What+".")
				}
			}
		}
	})
	d.readings.forget()
	d.changed()
	if err != nil {
		return nil, err
	}
	if decision == normalize.Count && !t.Bad {
		rep, _, err := d.archived(id)
		if err != nil {
			return nil, err
		}
		same, err := d.sameNumber(r.Context(), rep)
		if err != nil {
			return nil, err
		}
		t.Lines = append(t.Lines, alsoUsed(same)...)
	}
	return &answer{to: "/report/" + id + "/look?told=" + d.told.put(t)}, nil
}

// decided is a decision in words.
func decided(x normalize.Decision) string {
	switch x {
	case normalize.Count:
		return "this report counts"
	case normalize.Aside:
		return "this report is not used"
	}
	return "the decision before counts no more"
}
