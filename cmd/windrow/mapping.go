package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

func newMapping(e *env) *cobra.Command {
	c := &cobra.Command{
		Use:   "mapping",
		Short: "draft, check, test and explain the files that say how reports are read",
		Args:  cobra.ArbitraryArgs,
		RunE:  group,
	}
	c.AddCommand(newMappingDraft(e), newMappingCheck(e), newMappingTest(e), newMappingExplain(e), newMappingWords(e))
	return c
}

func newMappingCheck(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "check [FILE|DIR…]",
		Short: "check mapping files, and tell each mistake with its place",
		Long: `Checks mapping files for mistakes of writing: unknown keys, analytes, units and
methods, each with file, line and column and what may have been meant. Lists
the questions that a draft left open. Without an argument it checks the
mappings of the office and the built-in ones.`,
		Example: "  windrow mapping check\n  windrow mapping check mappings/quarry-ag.yaml",
		Args:    args(0, -1, ""),
		RunE: func(c *cobra.Command, args []string) error {
			list, reasons, err := e.mappingsOf(c, args)
			if err != nil {
				return err
			}
			g := grid{head: []string{"FILE", "LABORATORY", "LAYOUTS", "TESTS", "EXAMPLES"}, whole: map[int]bool{2: true, 3: true, 4: true}}
			for _, m := range list {
				g.add(m.File, m.Lab, fmt.Sprint(len(m.Layouts)), fmt.Sprint(len(m.Tests)), fmt.Sprint(len(m.Examples)))
			}
			if len(g.rows) > 0 {
				g.write(e.stdout, "")
			}
			asked := false
			for _, m := range list {
				asked = e.tellQuestions(m) || asked
			}
			if err := asError(reasons); err != nil || !asked {
				return err
			}
			return errTold
		},
	}
}

// tellQuestions lists the open questions of a mapping, a line each, and
// reports whether there are any.
func (e *env) tellQuestions(m *mappings.Mapping) bool {
	if len(m.Questions) == 0 {
		return false
	}
	e.reason(&ingest.Reason{Code: "question-open", Severity: ingest.Hold, Where: ingest.Place{File: m.File},
		What: fmt.Sprintf("%s not answered yet, so the mapping holds every report", pluralIs(len(m.Questions), "question")), Expected: "lines that the laboratory's guide bears out", Found: "the questions below, by their lines",
		Next: "correct each line if need be, and then take the QUESTION away"})
	for _, q := range m.Questions {
		paragraph(e.stderr, fmt.Sprintf("    %5d  ", q.Where.Line), q.Found)
	}
	return true
}

func pluralIs(n int, word string) string {
	if n == 1 {
		return "a " + word + " is"
	}
	return plural(n, word) + " are"
}

// mappingsOf loads the mappings that arguments name, or all that are in use.
func (e *env) mappingsOf(c *cobra.Command, args []string) ([]*mappings.Mapping, []*ingest.Reason, error) {
	if len(args) == 0 {
		cfg, isOffice, err := e.settings(c.Flags(), false)
		if err != nil {
			return nil, nil, err
		}
		set, reasons := pipeline.LoadMappings(e.want(cfg, isOffice, 1).MappingDirs)
		return set.Mappings(), reasons, nil
	}
	var list []*mappings.Mapping
	var reasons []*ingest.Reason
	for _, a := range args {
		files := []string{a}
		if isDir(a) {
			var err error
			if files, err = filepath.Glob(filepath.Join(a, "*.yaml")); err != nil || len(files) == 0 {
				return nil, nil, &usageError{a + " holds no .yaml file", "name a mapping file, or a folder of them"}
			}
		}
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil {
				return nil, nil, notThere(f, err)
			}
			m, rs := mappings.Decode(filepath.Base(f), b, normalize.Vocabulary())
			if m != nil {
				list = append(list, m)
			}
			reasons = append(reasons, rs...)
		}
	}
	return list, reasons, nil
}

func newMappingTest(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "test [FILE|DIR…]",
		Short: "read the examples of each mapping, and compare",
		Long: `Reads the report that each example of a mapping names, and compares what is
read with what the example says. Paths of examples count from the folder of
their mapping. Without an argument the office's own mappings are tested; in a clone of
the program's source, the built-in ones are.`,
		Example: "  windrow mapping test\n  windrow mapping test mappings/quarry-ag.yaml",
		Args:    args(0, -1, ""),
		RunE:    func(c *cobra.Command, args []string) error { return testMappings(e, c, args) },
	}
}

// builtInHome is where the built-in mappings lie in a clone of the source,
// with their examples.
const builtInHome = "mappings/labs"

func testMappings(e *env, c *cobra.Command, paths []string) error {
	// A file stands for its folder, of which it alone is then tested.
	var dirs []string
	only := map[string]bool{}
	for _, p := range paths {
		if fi, err := os.Stat(p); err == nil && !fi.IsDir() {
			only[filepath.Base(p)] = true
			p = filepath.Dir(p)
		}
		if !slices.Contains(dirs, p) {
			dirs = append(dirs, p)
		}
	}
	cfg, isOffice, err := e.settings(c.Flags(), false)
	if err != nil {
		return err
	}
	w := e.want(cfg, isOffice, 1)
	if len(dirs) == 0 {
		dirs = w.MappingDirs
		if isDir(builtInHome) {
			dirs = append([]string{builtInHome}, dirs...)
		}
	}
	if len(dirs) == 0 {
		return &usageError{"there are no mappings to test here", "name a folder of mappings; the built-in ones are tested in a clone of the source"}
	}
	w.MappingDirs = append(w.MappingDirs, dirs...)
	st, reasons := pipeline.Load(w)
	if err := asError(reasons); err != nil {
		return err
	}
	defer st.Close()
	tested, failed := 0, e.tellAmiss(st)
	for _, m := range st.Mappings().Mappings() {
		dir, ok := homeOf(m, dirs)
		if !ok || len(only) > 0 && !only[m.File] {
			continue
		}
		if len(m.Examples) == 0 {
			failed = true
			e.reason(&ingest.Reason{Code: "no-example", Severity: ingest.Fail, Where: ingest.Place{File: m.File}, What: "the mapping has no example, so that nothing shows that it reads its reports rightly", Expected: "at least one under examples:", Found: "none",
				Next: "put a report beside the mapping, copy some values from its page, and write under examples: a line such as - {file: ../april.pdf, readings: 14, expect: {Soil pH: \"6.4\"}}"})
		}
		for _, res := range st.Mappings().TestExamples(m, func(p string) ([]*ingest.Document, []*ingest.Reason, error) {
			at := filepath.FromSlash(p)
			if !filepath.IsAbs(at) {
				at = filepath.Join(dir, at)
			}
			src, err := source(at, st.Limits.Bytes)
			if err != nil {
				return nil, nil, err
			}
			rds, err := st.ReadAll(c.Context(), src, pipeline.Defaults{})
			if err != nil {
				return nil, nil, err
			}
			rd := mostRead(rds)
			if len(rd.Docs) == 0 {
				return nil, nil, rd.Report.Reasons[0]
			}
			return rd.Docs, rd.Report.Reasons, nil
		}) {
			tested++
			name := m.File + ": " + filepath.Base(res.Example.File)
			switch {
			case len(res.Problems) > 0:
				failed = true
				putf(e.stdout, "FAILED  %s: %d of %d as expected\n", name, res.Right, res.Expected)
				for _, r := range res.Problems {
					e.reason(r)
				}
			case res.Example.Held != "":
				putf(e.stdout, "ok      %s: held, as it must be [%s]\n", name, res.Example.Held)
			default:
				putf(e.stdout, "ok      %s: %d of %d as expected, %s\n", name, res.Right, res.Expected, plural(res.Readings, "reading"))
			}
		}
	}
	if failed {
		return errTold
	}
	if tested == 0 {
		return &usageError{"no mapping in " + strings.Join(dirs, ", "), "name a folder of mapping files"}
	}
	e.say("windrow: %s as expected", plural(tested, "example"))
	return nil
}

// homeOf finds the folder that a mapping was read from.
func homeOf(m *mappings.Mapping, dirs []string) (string, bool) {
	for _, d := range slices.Backward(dirs) {
		b, err := os.ReadFile(filepath.Join(d, m.File))
		if err != nil {
			continue
		}
		if h := sha256.Sum256(b); hex.EncodeToString(h[:]) == m.SHA256 {
			return d, true
		}
	}
	return "", false
}
