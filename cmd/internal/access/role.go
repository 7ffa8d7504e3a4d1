package access

import "slices"

// A Role says what a person may do at the desk.
type Role string

// The roles. What each may see is written in the table of the workbench.
const (
	// Office sees the records of its own office, and decides about them.
	Office Role = "office"
	// Steward sees and decides everything.
	Steward Role = "steward"
	// Researcher sees what no person can be told from: datasets and counties.
	Researcher Role = "researcher"
)

// Roles are all of them.
func Roles() []Role { return []Role{Office, Steward, Researcher} }

// Known reports whether it is one of the roles.
func (r Role) Known() bool { return slices.Contains(Roles(), r) }

// Words says who that is.
func (r Role) Words() string {
	switch r {
	case Office:
		return "clerk"
	case Steward:
		return "data steward"
	case Researcher:
		return "researcher"
	}
	return "nobody"
}

// A Person is who has signed in. The zero Person is nobody.
type Person struct {
	Account string // by which the person is known here, such as ilse
	Called  string // the full name, "" where it is not said
	Role    Role
	Office  string // the name of the office, of the role Office alone
}

// Title is the name by which others know the person.
func (p Person) Title() string {
	if p.Called != "" {
		return p.Called
	}
	return p.Account
}

// Sees reports whether the person may see what belongs to an office.
func (p Person) Sees(office string) bool {
	return p.Role == Steward || p.Role == Office && p.Office != "" && p.Office == office
}
