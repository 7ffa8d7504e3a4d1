package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
)

func newUser(e *env) *cobra.Command {
	c := &cobra.Command{Use: "user", Short: "who may sign in to the office's pages", Args: cobra.ArbitraryArgs, RunE: group,
		Long: `Keeps the list of those who may sign in to the pages of windrow serve: the file
that sign_in.users names in windrow.yaml. The program that serves reads it again
when it changes: who is disabled, gets another role or another password, is so
at the next page.

Roles: office sees the records of its own office and decides about what is held
of them; steward sees and decides everything; researcher sees datasets and the
county view, and no page with a name.`}
	c.AddCommand(newUserAdd(e), newUserList(e), newUserPassword(e), newUserDisable(e, true), newUserDisable(e, false))
	return c
}

// userList opens the list of users of an office.
func (e *env) userList(c *cobra.Command) (*access.List, *config.Config, error) {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return nil, nil, err
	}
	if !cfg.SignIn.Used() {
		return nil, nil, &ingest.Reason{Code: "users-none", Severity: ingest.Fail, Where: ingest.Place{File: config.FileName}, What: "this office has no list of users, so that nobody signs in to its pages", Expected: "its path under sign_in.users",
			Next: "write two lines into " + config.FileName + ": \"sign_in:\" and below it \"  users: users.yaml\""}
	}
	l, _, rs := access.ReadList(cfg.SignIn.Users)
	return l, cfg, asError(rs)
}

// knownUser is the user with an account.
func knownUser(l *access.List, cfg *config.Config, account string) (*access.User, error) {
	if u := l.User(account); u != nil {
		return u, nil
	}
	return nil, &ingest.Reason{Code: "user-unknown", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(cfg.SignIn.Users)}, What: "there is no such user", Found: fmt.Sprintf("%q", account), Next: "see: windrow user list"}
}

func newUserAdd(e *env) *cobra.Command {
	u := access.User{}
	role, without := "", false
	c := &cobra.Command{
		Use:   "add ACCOUNT",
		Short: "add a user",
		Long: `Adds a user to the list. The password is asked for at the terminal, where it is
not shown, or is the first line of standard input; never an argument, which other
accounts of the computer could read. It must have 15 characters or more, and more
in it than names, well-known words and rows of keys.

Who signs in at the OpenID provider alone needs none (--no-password), but an
e-mail address that the provider has verified, or the provider's own id of the
person (--subject).`,
		Example: `  windrow user add ilse --called "Ilse Marrow" --role office
  windrow user add rolf --role steward --email rolf@office.example --no-password`,
		Args: args(1, 1, "the account, such as ilse"),
		RunE: func(c *cobra.Command, args []string) error {
			l, cfg, err := e.userList(c)
			if err != nil {
				return err
			}
			u.Account, u.Role = args[0], access.Role(role)
			if r := access.CheckAccount(u.Account); r != nil {
				return r
			}
			if role == "" {
				return &usageError{"windrow user add needs the role", "give --role office, steward or researcher"}
			}
			if u.Role == access.Office && u.Office == "" {
				u.Office = cfg.Office.Name
			}
			if without && u.Email == "" && u.Subject == "" {
				return &usageError{"nobody could ever sign in as " + u.Account, "give --email or --subject, by which the OpenID provider knows the person, or leave --no-password out"}
			}
			if rs := l.Add(u); len(rs) > 0 {
				return asError(rs)
			}
			if !without {
				if err := e.setPassword(l.User(u.Account), cfg); err != nil {
					return err
				}
			}
			if err := l.Write(); err != nil {
				return err
			}
			e.say("windrow: %s may sign in to the pages as %s", u.Account, l.User(u.Account).Role.Words())
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&role, "role", "", "office, steward or researcher")
	f.StringVar(&u.Office, "for", "", "the `office` whose records one of the role office sees, as they bear it; that of windrow.yaml if not given")
	f.StringVar(&u.Called, "called", "", "the full `name`, which decisions bear")
	f.StringVar(&u.Email, "email", "", "`address` by which the OpenID provider knows the person")
	f.StringVar(&u.Subject, "subject", "", "the provider's own `id` of the person")
	f.BoolVar(&without, "no-password", false, "the person signs in at the OpenID provider only")
	return c
}

// setPassword asks for a password and keeps its hash.
func (e *env) setPassword(u *access.User, cfg *config.Config) error {
	p, err := e.askPassword(os.Stdin, "Password of "+u.Account+": ")
	if err != nil {
		return err
	}
	if r := access.Weak(p, u.Account, u.Called, u.Email, u.Office, cfg.Office.Name); r != nil {
		return r
	}
	u.Password, err = access.Standard.Hash(p)
	return err
}

// changeUser changes a user of the list, who must be on it, and writes the list.
func (e *env) changeUser(c *cobra.Command, account string, change func(*access.User, *config.Config) error) (*access.User, error) {
	l, cfg, err := e.userList(c)
	if err != nil {
		return nil, err
	}
	u, err := knownUser(l, cfg, account)
	if err == nil {
		err = change(u, cfg)
	}
	if err == nil {
		err = l.Write()
	}
	return u, err
}

func newUserPassword(e *env) *cobra.Command {
	return &cobra.Command{
		Use:     "password ACCOUNT",
		Short:   "give a user another password",
		Long:    "Gives a user another password, asked for as by windrow user add. Sessions that\nbegan with the one before end.",
		Example: "  windrow user password ilse",
		Args:    args(1, 1, "the account"),
		RunE: func(c *cobra.Command, args []string) error {
			u, err := e.changeUser(c, args[0], e.setPassword)
			if err != nil {
				return err
			}
			e.say("windrow: %s has another password; sessions that began with the one before end", u.Account)
			return nil
		},
	}
}

func newUserDisable(e *env, disable bool) *cobra.Command {
	verb, short, then := "enable", "let a user in again", "may sign in again"
	if disable {
		verb, short, then = "disable", "let a user in no more", "may sign in no more; sessions end at the next page"
	}
	return &cobra.Command{
		Use:     verb + " ACCOUNT",
		Short:   short,
		Long:    "A user who is disabled stays on the list, so that the log of who saw what can be\nread, and nobody else gets the account.",
		Example: "  windrow user " + verb + " ilse",
		Args:    args(1, 1, "the account"),
		RunE: func(c *cobra.Command, args []string) error {
			u, err := e.changeUser(c, args[0], func(u *access.User, _ *config.Config) error { u.Disabled = disable; return nil })
			if err != nil {
				return err
			}
			e.say("windrow: %s %s", u.Account, then)
			return nil
		},
	}
}

// A userLine is a user as user list shows it.
type userLine struct {
	Account  string      `json:"account"`
	Called   string      `json:"called"`
	Role     access.Role `json:"role"`
	Office   string      `json:"office"`
	Email    string      `json:"email"`
	Subject  string      `json:"subject"`
	Password bool        `json:"has_password"`
	Disabled bool        `json:"disabled"`
}

func newUserList(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:     "list",
		Short:   "list the users",
		Long:    "Lists the users by account; never a password or its hash.",
		Example: "  windrow user list\n  windrow user list --json",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			l, _, err := e.userList(c)
			if err != nil {
				return err
			}
			lines := []userLine{}
			g := grid{head: []string{"ACCOUNT", "CALLED", "ROLE", "OFFICE", "SIGNS IN BY", ""}, whole: map[int]bool{0: true, 2: true}, wide: 120}
			for _, u := range l.Users() {
				x := userLine{u.Account, u.Called, u.Role, u.Office, u.Email, u.Subject, u.Password != "", u.Disabled}
				lines = append(lines, x)
				by, state := "password", ""
				switch {
				case !x.Password && x.Email == "" && x.Subject == "":
					by = "nothing yet"
				case !x.Password:
					by = "provider"
				case x.Email != "" || x.Subject != "":
					by = "password, provider"
				}
				if x.Disabled {
					state = "disabled"
				}
				g.add(x.Account, x.Called, string(x.Role), x.Office, by, state)
			}
			if asJSON {
				return writeJSON(e.stdout, lines)
			}
			if len(lines) > 0 {
				g.write(e.stdout, "")
			}
			e.say("windrow: %s", plural(len(lines), "user"))
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}
