package web

import (
	"strings"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/interpret/letter"
)

// Routes are all patterns that the desk answers, for tests.
func (d *Desk) Routes() []string { return d.mux.list }

// Listed reports whether a pattern is in the table of rights, and which roles
// may ask for it; open is for anybody, here for this computer.
func Listed(pattern string) (roles []access.Role, open, here, names, of, listed bool) {
	x, ok := rights[pattern]
	return x.roles, x.open, x.here, x.names, x.of != "", ok
}

// ByItself reports whether a page that lies open asks for a route by itself.
func ByItself(pattern string) bool { return rights[pattern].itself }

// Forget drops what is remembered of how things stand.
func (d *Desk) Forget() { d.changed() }

// Rendered is a part of a page as it says something in a language.
func (d *Desk) Rendered(lang letter.Language, page, part string, data any) (string, error) {
	var b strings.Builder
	err := d.tongues[lang].pages[page].ExecuteTemplate(&b, part, data)
	return b.String(), err
}

// Tried is how a mapping is tried on reports of which so many would go on waiting.
func Tried(holding int) any { return &trialView{Kind: "trial", Holding: holding} }
