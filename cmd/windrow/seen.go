package main

import (
	"fmt"
	"os"
	"os/user"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/access"
)

// A naming says whether a command names people.
type naming int

const (
	nobody  naming = iota // it shows and changes nothing of a client
	shows                 // it shows something of one
	changes               // it changes something of one, or shows and changes
)

// namings is the table of all commands that do something: what a command that
// is not in it does would be kept nowhere, and a test fails for it before that.
// What works on files that come in, shows nothing that wasn't given to it, and is
// in the archive by its arrival, is for nobody.
var namings = map[string]naming{
	"windrow demo": nobody, "windrow run": nobody, "windrow watch": nobody, "windrow work": nobody,
	"windrow serve":         nobody, // the pages keep their own
	"windrow show document": shows, "windrow show readings": shows, "windrow show record": shows, "windrow show results": shows, "windrow show advice": shows,
	"windrow mapping draft": shows, "windrow mapping explain": shows, "windrow mapping check": nobody, "windrow mapping test": shows, "windrow mapping words": nobody,
	"windrow rules check": nobody, "windrow rules explain": nobody, "windrow rules reference": nobody, "windrow rules compare": shows,
	"windrow checks": nobody, "windrow conversions": nobody,
	"windrow trace": shows, "windrow audit": shows, "windrow audit sign": changes, "windrow audit list": nobody,
	"windrow replay": changes, "windrow ruling": changes, "windrow proof": changes, "windrow versions": shows, "windrow letter": shows,
	"windrow register check": shows, "windrow waiting": shows,
	"windrow dataset": nobody, "windrow dataset new-key": nobody,
	"windrow archive verify": nobody, "windrow archive rebuild": nobody, "windrow archive export": shows, "windrow archive import": changes, "windrow archive erase": changes,
	"windrow user add": nobody, "windrow user list": nobody, "windrow user password": nobody, "windrow user disable": nobody, "windrow user enable": nobody,
	"windrow access verify": nobody, "windrow access list": nobody,
	"windrow config check": nobody, "windrow doctor": nobody, "windrow version": nobody, "windrow help": nobody,
}

// atTerminal is where somebody is who gives a command, as the log of who saw
// and changed what says it in the place of an address.
const atTerminal = "terminal"

// osPrefix stands before the account of the operating system in that log. No
// account of the list of users has a colon.
const osPrefix = "os:"

// keepSeen has each command below c that names people write into the office's
// log of who saw and changed what, where there is one, before it does anything;
// and how a change ended.
func (e *env) keepSeen(c *cobra.Command) {
	for _, x := range c.Commands() {
		e.keepSeen(x)
	}
	run, how := c.RunE, namings[c.CommandPath()]
	if run == nil || how == nobody {
		return
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		cfg, isOffice, err := e.settings(c.Flags(), false)
		if err != nil || !isOffice || !cfg.SignIn.Used() {
			return run(c, args) // it says itself what is wrong with the settings
		}
		did, change := access.Saw, how == changes && !onlyLooks(c)
		if change {
			did = access.Asked
		}
		x := access.Entry{Who: osPrefix + osUser(), From: atTerminal, Did: did, What: c.CommandPath()}
		x.Reports, x.Records = idsAmong(args)
		if err := e.keepEntry(cfg.SignIn.Log, x); err != nil {
			return err
		}
		if !change {
			return run(c, args)
		}
		err = run(c, args)
		// As of a page the status tells how it ended: here by the exit code.
		x.Did, x.What = access.Changed, fmt.Sprintf("%s, exit code %d", x.What, exitOf(err))
		if kerr := e.keepEntry(cfg.SignIn.Log, x); kerr != nil && err == nil {
			err = kerr
		}
		return err
	}
}

// onlyLooks reports whether a command that can change something was not told to.
func onlyLooks(c *cobra.Command) bool {
	known, told := false, false
	for _, name := range []string{"apply", "finish", "take"} {
		if f := c.Flags().Lookup(name); f != nil {
			known, told = true, told || f.Changed
		}
	}
	return known && !told
}

// keepEntry writes one line, which is on the disk when it returns. Its error
// says that nothing may be shown.
func (e *env) keepEntry(path string, x access.Entry) error {
	l, err := access.OpenLog(path, e.now)
	if err != nil {
		return err
	}
	if err = l.Add(x, true); err != nil {
		_ = l.Close() // why it could not be written is told
		return err
	}
	return l.Close()
}

// osUser is the account of the operating system. One that used sudo is told,
// since everybody would be root else.
func osUser() string {
	name := fmt.Sprint(os.Getuid())
	if u, err := user.Current(); err == nil && u.Username != "" {
		name = u.Username
	}
	if by := os.Getenv("SUDO_USER"); by != "" && by != name {
		name += " by " + by
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return '-'
		}
		return r
	}, name[:min(len(name), 200)])
}

// idsAmong are the ids of reports and of samples among the arguments.
func idsAmong(args []string) (reports, records []string) {
	for _, a := range args {
		if !recordID.MatchString(a) || len(reports) >= 200 {
			continue
		}
		report, _, one := strings.Cut(a, "-")
		if !slices.Contains(reports, report) {
			reports = append(reports, report)
		}
		if one {
			records = append(records, a)
		}
	}
	return reports, records
}
