package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// newManual makes the command for whoever packs the program: it isn't listed,
// as nobody else needs it.
func newManual(*env) *cobra.Command {
	return &cobra.Command{
		Use:    "manual DIR",
		Short:  "write the manual pages, and what shells need to complete commands",
		Long:   "Writes a manual page for each command below man1 in the folder, and what bash,\nzsh and fish need to complete commands below completions. Made from the same\ntexts as --help, they are for packages of the program.",
		Hidden: true,
		Args:   args(1, 1, "a folder"),
		RunE: func(c *cobra.Command, args []string) error {
			return writeManual(c.Root(), args[0])
		},
	}
}

func writeManual(root *cobra.Command, dir string) error {
	root.InitDefaultCompletionCmd()
	root.DisableAutoGenTag = true // it would bear the day
	pages, shells := filepath.Join(dir, "man1"), filepath.Join(dir, "completions")
	for _, d := range []string{pages, shells} {
		if err := os.MkdirAll(d, 0o755); err != nil {
			return err
		}
	}
	head := &doc.GenManHeader{Section: "1", Date: dayOfCommit(), Source: "Windrow " + version, Manual: "Windrow"}
	if err := doc.GenManTree(root, head, pages); err != nil {
		return fmt.Errorf("the manual pages: %w", err)
	}
	for _, s := range []struct {
		name  string
		write func(string) error
	}{
		{"windrow.bash", func(p string) error { return root.GenBashCompletionFileV2(p, true) }},
		{"_windrow", root.GenZshCompletionFile},
		{"windrow.fish", func(p string) error { return root.GenFishCompletionFile(p, true) }},
	} {
		if err := s.write(filepath.Join(shells, s.name)); err != nil {
			return err
		}
	}
	return nil
}

// dayOfCommit dates what is made of a commit, so that it is the same on
// whatever day it is made; nil, which means today, where no commit is known.
func dayOfCommit() *time.Time {
	if bi, ok := debug.ReadBuildInfo(); ok {
		for _, s := range bi.Settings {
			if s.Key != "vcs.time" {
				continue
			}
			if t, err := time.Parse(time.RFC3339, s.Value); err == nil {
				t = t.UTC()
				return &t
			}
		}
	}
	return nil
}
