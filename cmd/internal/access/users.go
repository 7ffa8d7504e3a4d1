package access

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/mail"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// A User is one line of the list of users.
type User struct {
	strict.Spot

	Account  string `yaml:"account" rule:"required"`
	Called   string `yaml:"called"` // the full name, as decisions bear it
	Role     Role   `yaml:"role" rule:"required"`
	Office   string `yaml:"office"`   // of the role office alone: the name that its records bear
	Email    string `yaml:"email"`    // by which an OpenID provider may know the person
	Subject  string `yaml:"subject"`  // the provider's own id of the person; it outranks the address
	Password string `yaml:"password"` // its hash; "" for one who signs in at the provider only
	Disabled bool   `yaml:"disabled"`
}

// Person is the user as the desk knows it.
func (u *User) Person() Person {
	return Person{Account: u.Account, Called: u.Called, Role: u.Role, Office: u.Office}
}

// A List is all users of an office, by account.
type List struct {
	path  string
	users []*User
	read  []byte // the file as it was read; nil for one that was not there
}

var userLanguage = strict.Language{Guide: "windrow user --help"}

var accountForm = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,39}$`)

// CheckAccount says why a text can't be an account, nil where it can.
func CheckAccount(s string) *ingest.Reason {
	if accountForm.MatchString(s) {
		return nil
	}
	return &ingest.Reason{Code: "user-account", Severity: ingest.Fail, What: "this can't be the name of an account", Expected: "small letters a to z and digits, and among them dots, hyphens and underscores, 40 at most", Found: fmt.Sprintf("%q", s), Next: "choose a name such as ilse.marrow"}
}

// ReadList reads the list of users at a path. A file that is not there is an
// empty list; missing tells it.
func ReadList(path string) (l *List, missing bool, rs []*ingest.Reason) {
	fail := func(err error) []*ingest.Reason {
		return []*ingest.Reason{{Code: "users-unreadable", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)}, What: "the list of users can't be read", Found: ingest.Cause(err), Next: "see the rights of the file and of its folder"}}
	}
	fi, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &List{path: path}, true, nil
	case err != nil:
		return nil, false, fail(err)
	case !fi.Mode().IsRegular():
		return nil, false, fail(errors.New("it is no file"))
	case fi.Size() > strict.MaxBytes:
		return nil, false, fail(fmt.Errorf("it is larger than %s", ingest.Size(strict.MaxBytes)))
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, false, fail(err)
	}
	l, rs = ParseList(path, b)
	return l, false, rs
}

// ParseList reads the list of users from the bytes of its file. It gives either
// the list or every reason why there is none, each with its line.
func ParseList(path string, b []byte) (*List, []*ingest.Reason) {
	var form struct {
		strict.Spot
		Users []*User `yaml:"users" rule:"required"`
	}
	f, n := strict.Parse(filepath.Base(path), b, userLanguage)
	if n.Has() {
		n.Fill(&form)
	}
	reasons := f.Reasons
	if len(reasons) == 0 {
		reasons = checkUsers(form.Users)
	}
	for _, r := range reasons {
		r.Severity = ingest.Fail
	}
	if len(reasons) > 0 {
		return nil, reasons
	}
	return &List{path: path, users: form.Users, read: b}, nil
}

// checkUsers says what is wrong with users in themselves and beside each other.
func checkUsers(users []*User) (out []*ingest.Reason) {
	seen := map[string]bool{}
	once := func(u *User, key, value string) {
		if k := key + "\x00" + strings.ToLower(value); value != "" {
			if seen[k] {
				out = append(out, wrong(u, key, "two users have the same "+key, "one user for each", fmt.Sprintf("%q again", value), "take one of them out"))
			}
			seen[k] = true
		}
	}
	for _, u := range users {
		out = append(out, u.check()...)
		once(u, "account", u.Account)
		once(u, "email", u.Email)
		once(u, "subject", u.Subject)
	}
	return out
}

func wrong(u *User, key, what, expected, found, next string) *ingest.Reason {
	return &ingest.Reason{Code: "user-wrong", Severity: ingest.Fail, Where: u.Of(key), What: what, Expected: expected, Found: found, Next: next}
}

func (u *User) check() (out []*ingest.Reason) {
	add := func(key, what, expected, found, next string) {
		out = append(out, wrong(u, key, what, expected, found, next))
	}
	if r := CheckAccount(u.Account); r != nil {
		r.Where = u.Of("account")
		out = append(out, r)
	}
	if !u.Role.Known() {
		var names []string
		for _, r := range Roles() {
			names = append(names, string(r))
		}
		add("role", "there is no such role", strings.Join(names, ", "), fmt.Sprintf("%q", u.Role), strict.DidYouMean(string(u.Role), names))
	}
	switch {
	case u.Role == Office && u.Office == "":
		add("office", "a person of an office needs the name of the office", "the name that the office's records bear (office.name in windrow.yaml)", "nothing", "add a line with office")
	case u.Role != Office && u.Office != "" && u.Role.Known():
		add("office", "only a person of an office has one", "no office for the role "+string(u.Role), fmt.Sprintf("%q", u.Office), "take the line out, or set the role to office")
	}
	if u.Email != "" {
		if a, err := mail.ParseAddress(u.Email); err != nil || a.Address != u.Email {
			add("email", "this is not an e-mail address", "an address such as ilse@office.example", fmt.Sprintf("%q", u.Email), "correct the address")
		}
	}
	if u.Password != "" {
		if _, err := parseHash(u.Password); err != nil {
			// What stands there may be a password: it is not shown.
			add("password", "what stands under password is no hash of one", "what windrow user password writes, which begins with $argon2id$", "a text that is not shown", "give: windrow user password "+u.Account)
		}
	}
	for key, s := range map[string]string{"called": u.Called, "office": u.Office, "subject": u.Subject} {
		if strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\u2028' || r == '\u202e' }) || len(s) > 300 {
			add(key, "this can't be shown on one line", "a text of one line", "characters that can't be seen, or too many", "write it plainly")
		}
	}
	return out
}

// Users are the users, by account.
func (l *List) Users() []*User {
	out := slices.Clone(l.users)
	slices.SortFunc(out, func(a, b *User) int { return strings.Compare(a.Account, b.Account) })
	return out
}

// User is the one with an account; nil for none.
func (l *List) User(account string) *User {
	for _, u := range l.users {
		if u.Account == account {
			return u
		}
	}
	return nil
}

// bySubject is the one whom the provider knows by an id of its own; nil for
// none.
func (l *List) bySubject(id string) *User {
	for _, u := range l.users {
		if u.Subject != "" && u.Subject == id {
			return u
		}
	}
	return nil
}

// Add puts a user on the list. It refuses one that does not fit.
func (l *List) Add(u User) []*ingest.Reason {
	u.Spot = strict.Spot{At: ingest.Place{File: filepath.Base(l.path)}}
	list := append(slices.Clone(l.users), &u)
	rs := checkUsers(list)
	if len(rs) == 0 {
		l.users = list
	}
	return rs
}

// Write puts the list into its file: whole or not at all, to be read by the
// account of this program alone. It refuses when the file is no longer the one
// that was read.
func (l *List) Write() error {
	at := ingest.Place{File: filepath.Base(l.path)}
	now, err := os.ReadFile(l.path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) || err == nil && l.read == nil || !bytes.Equal(now, l.read) {
		return &ingest.Reason{Code: "users-changed", Severity: ingest.Fail, Where: at, What: "the list of users was changed by another one meanwhile", Next: "give the command again"}
	}
	text := l.text()
	if _, rs := ParseList(l.path, text); len(rs) > 0 {
		return rs[0] // a list that could not be read again would lock everybody out
	}
	if err := writeWhole(l.path, text); err != nil {
		return &ingest.Reason{Code: "users-not-written", Severity: ingest.Fail, Where: at, What: "the list of users can't be written", Found: ingest.Cause(err), Next: "see the rights of the folder, and whether its disk is full; nothing was changed"}
	}
	l.read = text
	return nil
}

// text is the list as YAML. Every text is in quotes, as JSON has them, so that
// none is taken for anything else.
func (l *List) text() []byte {
	var b bytes.Buffer
	b.WriteString("# Who may sign in to the pages of this office. Written by windrow user, which\n# keeps none of the comments that are added here. Passwords stand here as hashes.\nusers:\n")
	for _, u := range l.Users() {
		for i, x := range []struct{ key, value string }{{"account", u.Account}, {"called", u.Called}, {"role", string(u.Role)}, {"office", u.Office}, {"email", u.Email}, {"subject", u.Subject}, {"password", u.Password}} {
			if x.value == "" {
				continue
			}
			mark := "    "
			if i == 0 {
				mark = "  - "
			}
			b.WriteString(mark + x.key + ": " + quoted(x.value) + "\n")
		}
		if u.Disabled {
			b.WriteString("    disabled: yes\n")
		}
	}
	return b.Bytes()
}

func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(s) // a text always can be
	return strings.TrimSuffix(b.String(), "\n")
}

// writeWhole puts bytes into a file of mode 0600, whole or not at all.
func writeWhole(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".windrow-*.tmp")
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(0o600), ownAs(f, path), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // it is not there if it was renamed
		return err
	}
	// The name lasts once the folder is on the disk; not every system has that.
	if d, err := os.Open(filepath.Dir(path)); err == nil {
		_ = d.Sync()
		_ = d.Close()
	}
	return nil
}
