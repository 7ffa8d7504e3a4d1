package interpret

import "strings"

// A Registered is what the office's register of samples says of the one that a
// record is about, and how sure it is that it is the same. It holds no
// personal data.
type Registered struct {
	Row        string // id of the row
	Confidence string // "exact" or "likely"
	Why        string // a clause, such as "same label, date fits"
	LandUse    string // in anyone's words, "" when not written down
	AreaSqFt   string // plain decimal number, "" when not written down
	Language   string // of letters to the client, "" when not written down
}

// A RegisterUse says which row of the office's register an advice was given
// by, how sure it is that the row is about this sample, and what was taken.
type RegisterUse struct {
	Row        string   `json:"row"`
	Confidence string   `json:"confidence"`
	Why        string   `json:"why"`
	Took       []string `json:"took"` // "land_use", "area"; empty when asked or reported otherwise
	// Differs is the use of the land that the register has where the report
	// says another one, by which advice was given.
	Differs string `json:"differs,omitempty"`
	// Language is what the client reads, where the row is sure and says it.
	Language string `json:"language,omitempty"`
}

// register fills in what was not asked from the register. The report's own use
// of the land comes first, unless it is the folder's, which is for all of its
// reports alike, or one that the tables don't know and the row is sure.
func (a *adviser) register(ask Ask) Ask {
	g := ask.Register
	if g == nil {
		return ask
	}
	u := &RegisterUse{Row: g.Row, Confidence: g.Confidence, Why: g.Why, Took: []string{}}
	a.out.Register = u
	sure := g.Confidence == "exact"
	if sure {
		u.Language = g.Language
	}
	own, said := a.useReported()
	if ask.LandUse == "" && g.LandUse != "" {
		mine, theirs := a.rs.Use(g.LandUse), a.rs.Use(own)
		switch {
		case !said, theirs == nil && mine != nil && sure:
			ask.LandUse = g.LandUse
			u.Took = append(u.Took, "land_use")
		case strings.EqualFold(strings.TrimSpace(own), strings.TrimSpace(g.LandUse)): // the same words, whatever they mean to us
		case mine == nil || theirs == nil || mine.ID != theirs.ID:
			u.Differs = g.LandUse
		}
	}
	if ask.AreaSqFt == "" && g.AreaSqFt != "" {
		ask.AreaSqFt = g.AreaSqFt
		u.Took = append(u.Took, "area")
	}
	a.discloseRegister(u, own)
	return ask
}

// discloseRegister says in words what is the register's. A row that is only
// likely is never used without saying so.
func (a *adviser) discloseRegister(u *RegisterUse, own string) {
	words := map[string]string{"land_use": "what you grow", "area": "the size of your area"}
	var took []string
	for _, t := range u.Took {
		took = append(took, words[t])
	}
	if len(took) > 0 {
		text := sentence("we took " + list(took) + " from our list of samples (row " + u.Row + ": " + u.Why + ")")
		if u.Confidence != "exact" {
			text += " Most likely that row is your sample, but we are not sure. Tell us if it is not right."
		}
		a.out.Disclosure = append(a.out.Disclosure, text)
	}
	if u.Differs != "" {
		a.out.Disclosure = append(a.out.Disclosure, "The report says that you use this ground for “"+own+"”, and our list of samples says “"+u.Differs+"” (row "+u.Row+"). This letter goes by the report. Tell us if the list is right.")
	}
}

// useReported is the use of the land that the report itself says.
func (a *adviser) useReported() (text string, said bool) {
	s := a.rec.Sample
	for _, used := range s.DefaultsUsed {
		if used == "land_use" {
			return "", false
		}
	}
	if s.LandUse != "" {
		return s.LandUse, true
	}
	return s.LandUseText, s.LandUseText != ""
}

// took reports whether something was taken from the register.
func (u *RegisterUse) took(what string) bool {
	if u == nil {
		return false
	}
	for _, t := range u.Took {
		if t == what {
			return true
		}
	}
	return false
}

// whoSays begins a sentence about the use of the land.
func (a *adviser) whoSays() string {
	if a.out.LandUse.From == "register" {
		return "Our list of samples says"
	}
	return "The report says"
}
