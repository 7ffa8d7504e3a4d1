package web

import "example.org/windrow/cmd/internal/access"

// Routes are all patterns that the desk answers, for tests.
func (d *Desk) Routes() []string { return d.mux.list }

// Listed reports whether a pattern is in the table of rights, and which roles
// may ask for it; open is for anybody, here for this computer.
func Listed(pattern string) (roles []access.Role, open, here, names, of, listed bool) {
	x, ok := rights[pattern]
	return x.roles, x.open, x.here, x.names, x.of != "", ok
}

// Forget drops what is remembered of how things stand.
func (d *Desk) Forget() { d.changed() }
