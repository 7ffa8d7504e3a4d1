package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

func newVersion(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:   "version",
		Short: "print the version, and the formats it writes",
		Args:  args(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			v := struct {
				Version string `json:"version"`
				Commit  string `json:"commit,omitempty"`
				Go      string `json:"go"`
				Record  string `json:"record"`
				Advice  string `json:"advice"`
				Archive string `json:"archive"`
				Rules   string `json:"rules"`
				Tables  string `json:"tables"`
			}{version, commit, runtime.Version(), normalize.SchemaVersion, interpret.AdviceSchema, archive.Format, interpret.RulesFormat, normalize.TablesHash()}
			if v.Commit == "" {
				if bi, ok := debug.ReadBuildInfo(); ok {
					for _, s := range bi.Settings {
						if s.Key == "vcs.revision" {
							v.Commit = s.Value[:min(12, len(s.Value))]
						}
					}
				}
			}
			if asJSON {
				return writeJSON(e.stdout, v)
			}
			putf(e.stdout, "windrow %s\n", v.Version)
			for _, x := range [][2]string{{"commit", v.Commit}, {"go", v.Go}, {"record", v.Record}, {"advice", v.Advice}, {"archive", v.Archive}, {"rules", v.Rules}, {"tables", v.Tables}} {
				if x[1] != "" {
					putf(e.stdout, "  %-8s %s\n", x[0], x[1])
				}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}
