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
	namesNobody  naming = iota // it shows and changes nothing of a client
	namesShown                 // it shows something of one
	namesChanged               // it changes something of one, or shows and changes
)

// namings is the table of all commands that do something: what a command that
// is not in it does would be kept nowhere, and a test fails for it before that.
// What works on files that come in, shows nothing that wasn't given to it, and is
// in the archive by its arrival, is for nobody.
var namings = map[string]naming{
	"windrow demo": namesNobody, "windrow run": namesNobody, "windrow watch": namesNobody, "windrow work": namesNobody,
	"windrow serve":         namesNobody, // the pages keep their own
	"windrow show document": namesShown, "windrow show readings": namesShown, "windrow show record": namesShown, "windrow show results": namesShown, "windrow show advice": namesShown,
	"windrow mapping draft": namesShown, "windrow mapping explain": namesShown, "windrow mapping check": namesNobody, "windrow mapping test": namesShown, "windrow mapping words": namesNobody,
	"windrow rules check": namesNobody, "windrow rules explain": namesNobody, "windrow rules reference": namesNobody, "windrow rules compare": namesShown,
	"windrow checks": namesNobody, "windrow conversions": namesNobody,
	"windrow trace": namesShown, "windrow audit": namesShown, "windrow audit sign": namesChanged, "windrow audit list": namesNobody,
	"windrow replay": namesChanged, "windrow ruling": namesChanged, "windrow proof": namesChanged, "windrow versions": namesShown, "windrow letter": namesShown,
	"windrow register check": namesShown, "windrow waiting": namesShown,
	"windrow dataset": namesNobody, "windrow dataset new-key": namesNobody, "windrow dataset parts": namesNobody, "windrow summary": namesShown,
	"windrow archive verify": namesNobody, "windrow archive rebuild": namesNobody, "windrow archive export": namesShown, "windrow archive import": namesChanged, "windrow archive erase": namesChanged,
	"windrow user add": namesNobody, "windrow user list": namesNobody, "windrow user password": namesNobody, "windrow user disable": namesNobody, "windrow user enable": namesNobody,
	"windrow access verify": namesNobody, "windrow access list": namesNobody,
	"windrow config check": namesNobody, "windrow doctor": namesNobody, "windrow version": namesNobody, "windrow manual": namesNobody, "windrow help": namesNobody,
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
	if run == nil || how == namesNobody {
		return
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		cfg, isOffice, err := e.settings(c.Flags(), false)
		if err != nil || !isOffice || !cfg.SignIn.Used() {
			return run(c, args) // it says itself what is wrong with the settings
		}
		did, change := access.Saw, how == namesChanged && !onlyLooks(c)
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
