package letter

import (
	"slices"

	"example.org/windrow/interpret"
)

// bottom is the bottom line: what matters most, in two sentences.
func (v *view) bottom(a *interpret.Advice) {
	if len(a.Alarms) > 0 {
		for _, x := range a.Alarms {
			v.Bottom = append(v.Bottom, v.tr(x.Text))
		}
		v.Bottom = append(v.Bottom, v.tr(a.Alarms[0].Do))
		return
	}
	if a.Outcome == interpret.AskOnly {
		v.Bottom = []string{v.say("not_yet"), v.say("see_below")}
		if waits(a) {
			v.Bottom[1] = v.say("nothing_needed")
		}
		if a.Lead != nil && a.Lead.NoFood {
			v.Bottom[0] = v.say("no_food")
		}
		return
	}
	var one string
	var add, none []string
	var wait []interpret.Line
	limeOpen, feedOpen := false, false
	for _, q := range a.Questions {
		limeOpen = limeOpen || q.Blocks == "lime"
		feedOpen = feedOpen || q.Blocks != "lime" && q.Blocks != "area"
	}
	acid, much, salty, hopeless := false, false, false, false
	for _, l := range a.Lines {
		name := v.plain(l.ID)
		switch {
		case l.ID == "lime" && l.When == interpret.First:
			one = v.say("lime_first")
		case l.ID == "sulfur" && l.When == interpret.First:
			one = v.say("sulfur_first")
		case l.ID == "sulfur" && l.When == interpret.Not:
			one, hopeless = v.say("sulfur_no"), true
		case slices.Contains([]string{"N", "P2O5", "K2O", "Mg", "Zn"}, l.ID) && l.When == interpret.Season:
			if len(l.Each) > 0 {
				name = v.say("fertilizer") // it may carry more than nitrogen
			}
			add = append(add, name)
			if l.NotBefore != "" {
				wait = append(wait, l)
			}
		case l.ID == "OM-much":
			much = true
		case l.ID == "salts":
			salty = true
		case slices.Contains([]string{"P2O5", "K2O"}, l.ID):
			none = append(none, name)
		}
	}
	if limeOpen {
		acid, one = true, v.say("lime_open")
	}
	if a.Lead != nil && a.Lead.NoFood {
		v.Bottom = []string{v.say("no_food"), v.say("call_health")}
		return
	}
	if a.Lead != nil && a.Lead.Refer != "" {
		one = v.say("lead_care")
	}
	two := v.say("nothing")
	if len(a.Questions) > 0 {
		two = v.say("none_now")
	}
	if len(add) > 0 {
		two = v.say("add", "what", v.join(add, "and"))
		if len(none) > 0 {
			two = v.say("add_not", "what", v.join(add, "and"), "none", v.join(none, "or"))
		}
		two += v.waiting(wait, len(add))
	} else if one != "" {
		two = v.say("no_feed")
		if feedOpen || hopeless {
			two = v.say("no_feed_now")
		}
	}
	if one == "" {
		one = v.say("fair")
		if !rated(a, "pH", "P", "K") {
			one = v.say("part_only")
		} else if sweet(a) {
			one = v.say("sweet")
		} else if much {
			one = v.say("plenty")
		} else if !short(a) && !salty {
			one = v.say("good")
		}
		if len(add) == 0 && len(a.Questions) == 0 && short(a) && !a.LandUse.Established {
			one, two = v.say("none_now"), ""
		}
		if len(add) == 0 && a.LandUse.Established {
			one = v.say("leave")
			if a.LandUse.ID == "lawn" {
				one = v.say("leave_lawn")
			}
		}
	}
	if len(a.Questions) > 0 && !acid {
		open := "part_open_one"
		if len(v.Questions) > 1 {
			open = "part_open_few"
		}
		if waits(a) {
			open = "part_waits"
		}
		two += " " + v.say(open)
	}
	v.Bottom = slices.DeleteFunc([]string{one, two}, func(s string) bool { return s == "" })
}

// waiting says until when the law has the lines wait, of so many that are
// advised.
func (v *view) waiting(lines []interpret.Line, of int) string {
	if len(lines) == 0 {
		return ""
	}
	var days []string
	names := map[string][]string{}
	for _, l := range lines {
		day := l.Since()
		if names[day] == nil {
			days = append(days, day)
		}
		names[day] = append(names[day], v.plain(l.ID))
	}
	if len(days) == 1 && len(lines) == of {
		return " " + v.say("wait_all", "date", v.longDate(days[0]))
	}
	said := ""
	for _, day := range days {
		said += " " + v.say("wait_for", "date", v.longDate(day), "names", v.join(names[day], "and"))
	}
	return said
}

// rated reports whether all of the analytes have a class.
func rated(a *interpret.Advice, analytes ...string) bool {
	for _, id := range analytes {
		if !slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool { return r.Analyte == id && r.Class != "" }) {
			return false
		}
	}
	return true
}

// sweet reports whether the pH is above the range.
func sweet(a *interpret.Advice) bool {
	return slices.ContainsFunc(a.Ratings, func(r interpret.Rating) bool {
		return r.Analyte == "pH" && r.Class == interpret.TooAlkaline
	})
}

// short reports whether any nutrient is below optimum.
func short(a *interpret.Advice) bool {
	for _, r := range a.Ratings {
		switch r.Class {
		case interpret.VeryLow, interpret.Low, interpret.Medium:
			if r.Analyte != "OM" && r.Analyte != "Ca" {
				return true
			}
		}
	}
	return false
}

// waits reports whether the office has to look at the report first, and asks
// nothing of the client.
func waits(a *interpret.Advice) bool {
	for _, q := range a.Questions {
		if q.Code != "record-held" && !q.OfLaboratory() {
			return false
		}
	}
	return len(a.Questions) > 0
}
