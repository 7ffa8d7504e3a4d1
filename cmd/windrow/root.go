package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// globals are the flags of every command.
type globals struct {
	office   string
	mappings []string
	quiet    bool
}

func newRoot(e *env) *cobra.Command {
	root := &cobra.Command{
		Use:   "windrow",
		Short: "rakes soil-test reports into rows that can be trusted",
		Long: `Windrow reads soil-test reports as laboratories send them, puts them on one
schema with the lineage of every value, and says in plain words what to do.
No number is ever wrong silently: what can't be read with confidence is held,
with a reason.

Exit codes: 0 done, 1 failed, 2 wrong use, 3 done but something is held.
Results go to stdout, everything else to stderr.`,
		Example: `  windrow demo                    make an office to look at, and run the job in it
  windrow run inbox               work on the reports in a folder, once
  windrow show results *.pdf      print the results of reports as a table`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.ArbitraryArgs,
		RunE:          group,
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	f := root.PersistentFlags()
	f.StringVar(&e.global.office, "office", os.Getenv("WINDROW_OFFICE"), "the office's `folder`, which holds windrow.yaml; the current folder if not given")
	f.StringArrayVar(&e.global.mappings, "mappings", nil, "a further `folder` of mapping files; may be given again")
	f.BoolVarP(&e.global.quiet, "quiet", "q", false, "tell nothing but results and errors")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		var r *ingest.Reason
		if errors.As(err, &r) {
			return &usageError{r.Where.File + ": " + r.What, "give " + r.Expected}
		}
		return &usageError{lower(err.Error()), "see: " + c.CommandPath() + " --help"}
	})
	for _, c := range []func(*env) *cobra.Command{newDemo, newRun, newWatch, newServe, newWork, newShow, newMapping, newRules, newChecks, newConversions, newTrace, newAudit, newReplay, newRuling, newProof, newVersions, newLetter, newRegister, newWaiting, newDataset, newSummary, newArchive, newUser, newAccess, newConfig, newDoctor, newVersion, newManual} {
		root.AddCommand(c(e))
	}
	e.keepSeen(root)
	root.SetHelpCommand(&cobra.Command{Use: "help [COMMAND]", Short: "help about a command", RunE: func(c *cobra.Command, args []string) error {
		x, _, err := c.Root().Find(args)
		if x == nil || err != nil {
			return &usageError{fmt.Sprintf("there is no command %q", strings.Join(args, " ")), "see: windrow --help"}
		}
		return x.Help()
	}})
	return root
}

// group is what a command does that only holds others.
func group(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return c.Help()
	}
	hint := "see: " + c.CommandPath() + " --help"
	if strings.TrimSpace(args[0]) == "" {
		return &usageError{c.CommandPath() + " needs the name of a command, and was given an empty one", hint}
	}
	c.SuggestionsMinimumDistance = 2
	if s := c.SuggestionsFor(args[0]); len(s) > 0 {
		hint = "did you mean " + c.CommandPath() + " " + s[0] + "?"
	}
	return &usageError{fmt.Sprintf("%s has no command %q", c.CommandPath(), args[0]), hint}
}

// args checks the number of arguments; most below 0 is any number.
func args(least, most int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < least {
			return &usageError{c.CommandPath() + " needs " + what, "see: " + c.CommandPath() + " --help"}
		}
		if most >= 0 && len(args) > most {
			return &usageError{fmt.Sprintf("%s takes %s, and no %q", c.CommandPath(), orNothing(what), args[most]), "see: " + c.CommandPath() + " --help"}
		}
		return nil
	}
}

func orNothing(s string) string {
	if s == "" {
		return "no argument"
	}
	return s
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// settings loads the office's settings. With must false a folder without an
// office gives the defaults, for commands that only read and print.
func (e *env) settings(flags *pflag.FlagSet, must bool) (cfg *config.Config, isOffice bool, err error) {
	dir := e.global.office
	if dir == "" {
		dir = "."
	}
	cfg, reasons := config.Load(dir, flags)
	if len(reasons) == 1 && reasons[0].Code == config.NoOffice && !must && e.global.office == "" {
		cfg, reasons = config.Defaults(dir, flags)
		return cfg, false, asError(reasons)
	}
	if len(reasons) == 0 {
		reasons = cfg.CheckEngine()
	}
	return cfg, true, asError(reasons)
}

// want is what the stages need, from the settings and the flags.
func (e *env) want(cfg *config.Config, isOffice bool, workers int) pipeline.Want {
	w := pipeline.Want{Limits: cfg.Limits.Ingest(), Workers: workers, Version: version, Passwords: cfg.Passwords(), Tesseract: cfg.Tesseract}
	if isOffice {
		// The settings name these folders whether or not the office has them.
		if isDir(cfg.Mappings) {
			w.MappingDirs = append(w.MappingDirs, cfg.Mappings)
		}
		if isDir(cfg.Rules) {
			w.RuleDir = cfg.Rules
		}
		w.RuleSet, w.State = cfg.RuleSet, cfg.State
	}
	w.MappingDirs = append(w.MappingDirs, e.global.mappings...)
	return w
}

// stages loads the stages for a command that only reads and prints.
func (e *env) stages(c *cobra.Command, workers int) (*pipeline.Stages, *config.Config, error) {
	cfg, isOffice, err := e.settings(c.Flags(), false)
	if err != nil {
		return nil, nil, err
	}
	st, reasons := pipeline.Load(e.want(cfg, isOffice, workers))
	if err := asError(reasons); err != nil {
		return nil, nil, err
	}
	e.tellAmiss(st)
	return st, cfg, nil
}

// tellAmiss tells the mistakes in mapping files and reports whether there are
// any.
func (e *env) tellAmiss(st *pipeline.Stages) bool {
	for _, r := range st.Amiss {
		e.reason(r)
	}
	return len(st.Amiss) > 0
}

func isDir(p string) bool {
	fi, err := os.Stat(p)
	return err == nil && fi.IsDir()
}

// source reads one file.
func source(path string, limit int64) (*ingest.Source, error) {
	fi, err := os.Stat(path)
	if err != nil {
		return nil, notThere(path, err)
	}
	if fi.IsDir() {
		return nil, &usageError{path + " is a folder", "name one file"}
	}
	// Reading a pipe would wait for whoever writes to it; an empty device, such
	// as /dev/null, gives nothing.
	if fi.Mode()&(os.ModeNamedPipe|os.ModeSocket) != 0 {
		return nil, &usageError{path + " is not an ordinary file", "name a file that holds a report"}
	}
	if fi.Size() > limit {
		return nil, &ingest.Reason{Code: "too-large", Severity: ingest.Hold, Where: ingest.Place{File: filepath.Base(path)}, What: "the file is larger than the office allows", Expected: fmt.Sprintf("at most %d bytes", limit), Found: fmt.Sprintf("%d bytes", fi.Size()), Next: "if it is a report, raise limits.size in windrow.yaml"}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, notThere(path, err)
	}
	return ingest.NewSource(filepath.Base(path), b), nil
}

func notThere(path string, err error) error {
	r := &ingest.Reason{Code: "file-not-readable", Severity: ingest.Fail, Where: ingest.Place{File: path}, What: "the file can't be opened", Expected: "a file that may be read", Found: ingest.Cause(err), Next: "check the name and the rights of the file"}
	if !errors.Is(err, fs.ErrNotExist) {
		return r
	}
	r.What, r.Expected, r.Next = "there is no such file", "the name of a file, with its folder", "check the name and the folder"
	if near := strict.Nearest(filepath.Base(path), listed(filepath.Dir(path)), 1); len(near) > 0 {
		r.Next = "did you mean " + filepath.Join(filepath.Dir(path), near[0]) + "?"
	}
	return r
}

// listed are the names in a folder, none where it can't be looked into or is
// too large to look for a similar name.
func listed(dir string) []string {
	f, err := os.Open(dir)
	if err != nil {
		return nil
	}
	defer f.Close()
	names, err := f.Readdirnames(2000)
	if err != nil {
		return nil
	}
	return names
}
