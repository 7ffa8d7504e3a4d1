package web

import (
	"slices"

	"example.org/windrow/cmd/internal/access"
)

// A right says who may ask for a route, where people sign in.
type right struct {
	roles  []access.Role // who have signed in
	open   bool          // anybody, also who has not: nothing of an office is there
	here   bool          // whoever is at this computer: it names nobody
	names  bool          // something of a client may be shown or changed; the log says to whom, and by whom
	again  bool          // a page that lies open asks for it by itself; the log says so once for what it shows, or of what is changed once a visit
	itself bool          // nobody asks for it: a page that lies open does, which keeps no session from ending
	opens  string        // the route of that kind of which asking for this page begins a visit
	of     string        // "report" or "sample": what {id} is; "letter": the file is that of one; it must belong to the person's office
}

var (
	everybody = access.Roles()
	offices   = []access.Role{access.Office, access.Steward}
	stewards  = []access.Role{access.Steward}
)

// typedRoute is where the text of a draft goes as somebody types it.
const typedRoute = "POST /report/{id}/mapping/typed"

// rights is the table of all routes. A route that is not in it is for nobody
// where people sign in; a test fails for it before that.
var rights = map[string]right{
	"GET /static/":                       {open: true},
	"GET /sign-in":                       {open: true},
	"POST /sign-in":                      {open: true},
	"GET /sign-in/go":                    {open: true}, // to the provider
	"GET /sign-in/return":                {open: true}, // from there
	"POST /language":                     {open: true},
	"POST /sign-out":                     {roles: everybody},
	"GET /metrics":                       {here: true},
	"GET /healthz":                       {here: true},
	"GET /readyz":                        {here: true},
	"GET /livez":                         {here: true},
	"/":                                  {roles: everybody}, // there is no such page
	"GET /{$}":                           {roles: offices, names: true},
	"GET /held":                          {roles: offices, names: true},
	"GET /intake":                        {roles: offices, names: true},
	"GET /intake/state":                  {roles: offices, names: true, again: true, itself: true},
	"GET /intake/moves":                  {roles: offices, itself: true}, // that something moved, and not what
	"POST /intake":                       {roles: offices, names: true},
	"GET /reports":                       {roles: offices, names: true},
	"GET /labs":                          {roles: offices},
	"GET /lab/{id}":                      {roles: offices, names: true},
	"GET /audit":                         {roles: stewards, names: true}, // of all offices at once
	"GET /audit/workbook":                {roles: stewards, names: true},
	"POST /audit/sign":                   {roles: stewards, names: true},
	"GET /letters/":                      {roles: offices, names: true, of: "letter"},
	"GET /letters/{$}":                   {roles: stewards, names: true}, // of all offices at once
	"GET /report/{id}":                   {roles: offices, names: true, of: "report"},
	"GET /sample/{id}":                   {roles: offices, names: true, of: "sample"},
	"GET /report/{id}/original":          {roles: offices, names: true, of: "report"},
	"GET /report/{id}/look":              {roles: offices, names: true, of: "report"},
	"GET /report/{id}/page/{page}":       {roles: offices, names: true, of: "report"},
	"POST /report/{id}/rule":             {roles: offices, names: true, of: "report"},
	"GET /report/{id}/versions":          {roles: offices, names: true, of: "report"},
	"GET /sample/{id}/letter":            {roles: offices, names: true, of: "sample"},
	"GET /sample/{id}/letter.pdf":        {roles: offices, names: true, of: "sample"},
	"GET /report/{id}/proof":             {roles: offices, names: true, of: "report"},
	"GET /report/{id}/proof/word/{word}": {roles: offices, names: true, of: "report"},
	"POST /report/{id}/proof":            {roles: offices, names: true, of: "report"},
	// Of counties nothing is shown that a person could be told from.
	"GET /county":          {roles: everybody},
	"GET /county/dataset":  {roles: everybody},
	"POST /county/dataset": {roles: everybody},
	"GET /dataset/{name}":  {roles: everybody},
	// A mapping reads the reports of all offices.
	"GET /report/{id}/mapping":           {roles: stewards, names: true, of: "report", opens: typedRoute},
	"GET /report/{id}/mapping/trial":     {roles: stewards, names: true, of: "report", itself: true},
	"GET /report/{id}/mapping/saved":     {roles: stewards, names: true, of: "report", itself: true},
	"POST /report/{id}/mapping/draft":    {roles: stewards, names: true, of: "report"},
	"POST /report/{id}/mapping/drop":     {roles: stewards, names: true, of: "report"},
	typedRoute:                           {roles: stewards, names: true, of: "report", again: true},
	"POST /report/{id}/mapping/examples": {roles: stewards, names: true, of: "report"},
	"POST /report/{id}/mapping/trial":    {roles: stewards, names: true, of: "report"},
	"POST /report/{id}/mapping/save":     {roles: stewards, names: true, of: "report"},
}

// may reports whether a person may ask for a route at all.
func (x right) may(p access.Person) bool { return x.open || slices.Contains(x.roles, p.Role) }
