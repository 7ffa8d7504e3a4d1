package config

import (
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// A complaint is a reason on its way: the setting it is about, which gives it
// its place.
type complaint struct {
	key, code, what, expected, found, next string
}

// validate checks what the type of a value cannot say of it. When some value
// was refused already, its default stands in its place, and the checks of
// several values against each other would complain of what nobody wrote: then
// broken is true and they are left out.
func (c *Config) validate(places map[string]ingest.Place, broken bool) []*ingest.Reason {
	var all []complaint
	all = append(all, c.Office.validate()...)
	all = append(all, validateState(c.State)...)
	all = append(all, c.validateListen()...)
	all = append(all, c.SignIn.validate()...)
	all = append(all, c.OpenID.validate()...)
	all = append(all, c.Engine.validate()...)
	all = append(all, validateListenMetrics(c.ListenMetrics, c.Listen)...)
	if !broken {
		all = append(all, c.validatePaths()...)
		all = append(all, c.Watch.validate()...)
	}
	var out []*ingest.Reason
	for _, x := range all {
		where := places[x.key]
		if o, ok := c.from[x.key]; ok {
			where = o.place()
		}
		if where.IsZero() {
			where = ingest.Place{File: FileName}
		}
		out = append(out, &ingest.Reason{Code: x.code, Severity: ingest.Fail, Where: where,
			What: x.what, Expected: x.expected, Found: x.found, Next: x.next})
	}
	return out
}

func (o Office) validate() []complaint {
	var out []complaint
	if o.Email != "" {
		a, err := mail.ParseAddress(o.Email)
		if err != nil || a.Address != o.Email {
			out = append(out, complaint{"office.email", "setting-wrong", "this is not an e-mail address", "an address such as office@example.org", quoted(o.Email), "correct the address"})
		}
	}
	if o.Web != "" {
		u, err := url.Parse(o.Web)
		switch {
		case err == nil && u.User != nil:
			// It goes out on letters, so a password in it would too; it is not shown here either.
			out = append(out, complaint{"office.web", "setting-wrong", "the web address holds a user name or password, which letters would print", "an address such as https://office.example.org", "", "take out what stands before the @"})
		case err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "":
			out = append(out, complaint{"office.web", "setting-wrong", "this is not a web address", "an address such as https://office.example.org", quoted(o.Web), "write it with https:// in front"})
		}
	}
	return out
}

// validate refuses an address with a password in it: it would be shown by
// config check, and stand in a file that others read.
func (e Engine) validate() []complaint {
	var out []complaint
	for _, x := range []struct{ key, value, scheme, expected, secret string }{
		{"engine.database", e.Database, "postgres postgresql", "an address such as postgres://windrow@db.example/windrow", "put the password into the variable PGPASSWORD, or into the file that PGPASSFILE names"},
		{"engine.store", e.Store, "s3", "an address such as s3://bucket?region=REGION", "put the keys into the variables AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or into the file that AWS_SHARED_CREDENTIALS_FILE names"},
	} {
		if x.value == "" {
			continue
		}
		u, err := url.Parse(x.value)
		switch {
		case err != nil || !slices.Contains(strings.Fields(x.scheme), u.Scheme):
			out = append(out, complaint{x.key, "setting-wrong", "this is not the address of what the setting is for", x.expected, "", "correct the address"})
		case u.Query().Has("password"), u.User != nil && x.key == "engine.store":
			out = append(out, complaint{x.key, "setting-secret", "the address holds a password or a key, which must not stand here", x.expected, "", x.secret})
		case u.User != nil:
			if _, has := u.User.Password(); has {
				out = append(out, complaint{x.key, "setting-secret", "the address holds a password, which must not stand here", x.expected, "", x.secret})
			}
		}
	}
	return out
}

var stateForm = regexp.MustCompile(`^[A-Z]{2}$`)

func validateState(s string) []complaint {
	if s == "" || stateForm.MatchString(s) {
		return nil
	}
	return []complaint{{"state", "setting-wrong", "the state is not written as it must be", "two capital letters", quoted(s), "write the state's two letters, such as CX"}}
}

func (w Watch) validate() []complaint {
	if w.Poll <= w.Settle {
		return nil
	}
	return []complaint{{"watch.poll", "setting-wrong", "the folders are looked at less often than a file needs to settle, so no file could be seen to have settled in time",
		"at most watch.settle, " + short(w.Settle), short(w.Poll), "make watch.poll shorter or watch.settle longer"}}
}

// validateListenMetrics lets any address pass: what is answered there holds no
// names.
func validateListenMetrics(s, listen string) []complaint {
	if s == "" {
		return nil
	}
	host, port, err := net.SplitHostPort(s)
	if n, ok := wholeNumber(port); err == nil && (!ok || n > 65535) || err == nil && host != "" && strings.ContainsAny(host, " /") {
		err = strconv.ErrRange
	}
	if err != nil {
		return []complaint{{"listen_metrics", "setting-wrong", "this is not an address to listen on", "an address such as 0.0.0.0:8471", quoted(s), "write the address, a colon and the number of the port"}}
	}
	if _, other, err := net.SplitHostPort(listen); err == nil && other == port && port != "0" {
		return []complaint{{"listen_metrics", "setting-wrong", "the metrics can't have the port of the pages, which are for this computer only", "another port than that of listen", quoted(s), "write another port, such as 8471"}}
	}
	return nil
}

// A used path and the setting that names it.
type used struct{ key, path string }

// validatePaths refuses folders that would get into each other's way: an
// inbox inside the archive would be swallowed, a held folder inside an inbox
// would be read again for ever.
func (c *Config) validatePaths() []complaint {
	var out []complaint
	dirs := []used{{"done", c.Done}, {"held", c.Held}, {"archive", c.Archive}, {"letters", c.Letters},
		{"datasets", c.Datasets}, {"mappings", c.Mappings}, {"rules", c.Rules}}
	if len(c.Folders) == 0 {
		return []complaint{{"folders", "setting-wrong", "no folder is watched", "at least one folder", "none", "write \"folders:\" and below it \"  - path: inbox\""}}
	}
	for i, f := range c.Folders {
		key := fmt.Sprintf("folders[%d].path", i)
		if f.Path == "" {
			out = append(out, complaint{strings.TrimSuffix(key, ".path"), "setting-wrong", "a watched folder has no path", "\"path:\" and the folder", "nothing", "write where the folder is"})
			continue
		}
		dirs = append(dirs, used{key, f.Path})
	}
	files := []used{{"index", c.Index}}
	for _, u := range slices.Concat(dirs[:7], files) {
		if u.path == "" {
			out = append(out, complaint{u.key, "setting-wrong", u.key + " has no path", "a path, relative to the office folder or absolute", "nothing", "write a path, or take the line out to use the default"})
		}
	}
	// The place of a complaint about two settings is the one that someone
	// wrote, the later one if both.
	written := func(a, b string) string {
		top, _, _ := strings.Cut(a, "[")
		if _, ok := c.from[top]; !ok {
			return b
		}
		return a
	}
	around := func(d string) bool { return d == c.Dir || inside(c.Dir, d) }
	for i, a := range dirs {
		if a.path == "" {
			continue
		}
		if around(a.path) {
			out = append(out, complaint{a.key, "folders-overlap", "a folder of the office must not be the office folder itself or lie around it", "a folder of its own", quoted(a.path), "give it a folder inside the office folder or somewhere else"})
			continue
		}
		for _, b := range dirs[:i] {
			if b.path != "" && !around(b.path) && (a.path == b.path || inside(a.path, b.path) || inside(b.path, a.path)) {
				out = append(out, complaint{written(a.key, b.key), "folders-overlap", "two folders get into each other's way: " + name(b.key) + " and " + name(a.key), "folders apart from each other",
					quoted(c.rel(b.path)) + " and " + quoted(c.rel(a.path)), "give one of them another place"})
			}
		}
	}
	for _, d := range dirs {
		if c.Index != "" && !around(d.path) && d.path != "" && (c.Index == d.path || inside(c.Index, d.path) && d.key != "archive") {
			out = append(out, complaint{"index", "folders-overlap", "the index lies in " + name(d.key), "a file apart from the folders of reports", quoted(c.rel(c.Index)), "put the index into the office folder"})
		}
	}
	for _, f := range c.Folders {
		if c.Register != "" && f.Path != "" && inside(c.Register, f.Path) {
			out = append(out, complaint{"register", "folders-overlap", "the register lies in a watched folder, where it would be taken for a report", "a file apart from the folders of reports", quoted(c.rel(c.Register)), "put the register into the office folder"})
		}
	}
	return out
}

// name is a setting's key as a sentence says it.
func name(key string) string {
	if strings.HasPrefix(key, "folders[") {
		return "a watched folder"
	}
	return key
}

// inside reports whether a lies somewhere under b.
func inside(a, b string) bool {
	r, err := filepath.Rel(b, a)
	return err == nil && r != "." && r != ".." && !strings.HasPrefix(r, ".."+string(filepath.Separator))
}

// rel is a path as the operator wrote it, for messages.
func (c *Config) rel(p string) string {
	if inside(p, c.Dir) {
		if r, err := filepath.Rel(c.Dir, p); err == nil {
			return filepath.ToSlash(r)
		}
	}
	return p
}

// CheckEngine complains of a central engine of which only a half is set: to
// work without it would put into a folder what should go there.
func (c *Config) CheckEngine() []*ingest.Reason {
	if (c.Engine.Database == "") == (c.Engine.Store == "") {
		return nil
	}
	key := "engine.database"
	if c.Engine.Store != "" {
		key = "engine.store"
	}
	return []*ingest.Reason{{Code: "setting-wrong", Severity: ingest.Fail, Where: c.from[key].place(), What: "a central engine has a database and a store, and only one of them is set",
		Expected: "engine.database and engine.store", Found: key + " alone", Next: "set both, or neither"}}
}

// CheckLandUses complains of a watched folder whose land use is not one of
// known, the words that the rule sets know.
func (c *Config) CheckLandUses(known []string) []*ingest.Reason {
	var out []*ingest.Reason
	for i, f := range c.Folders {
		if f.LandUse == "" || slices.Contains(known, f.LandUse) {
			continue
		}
		next := "the uses of the land are " + strings.Join(known, ", ")
		if n := near(f.LandUse, known); n != "" {
			next = "did you mean " + n + "? " + next
		}
		where := c.from[fmt.Sprintf("folders[%d].land_use", i)].place()
		if where.IsZero() {
			where = ingest.Place{File: FileName}
		}
		out = append(out, &ingest.Reason{Code: "setting-wrong", Severity: ingest.Fail, Where: where,
			What: "the folder " + quoted(c.rel(f.Path)) + " has a use of the land that no rule set knows", Expected: "a use of the land, in the words of the tables", Found: quoted(f.LandUse), Next: next})
	}
	return out
}

// Unsaid lists what an office should say of itself and does not, each as a
// sentence with what to write. Nothing of it stops the work.
func (c *Config) Unsaid() []string {
	if c.Office.Name != "" {
		return nil
	}
	const write = `write into it "office:" and, below it and two spaces further in, "name: " with the office's name`
	if c.empty {
		return []string{FileName + " says nothing yet, so every setting has its default and letters bear no office's name; " + write + "; \"windrow demo\" makes an office with every setting explained"}
	}
	return []string{"office.name is not set in " + FileName + ", so letters bear no office's name; " + write}
}
