package main

import (
	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize"
)

func newConfig(e *env) *cobra.Command {
	c := &cobra.Command{Use: "config", Short: "the settings of an office", Args: cobra.ArbitraryArgs, RunE: group}
	asJSON := false
	check := &cobra.Command{
		Use:   "check",
		Short: "check the settings, and print each value and where it came from",
		Long: `Reads windrow.yaml, the environment (WINDROW_…) and the flags, and prints every
effective value with where it came from. A mistake is told with its place. Where
people sign in to the pages, or they have a certificate, the list of users, the
certificate with its key, and the log of who saw and changed what are looked at.`,
		Example: `  windrow config check --office /srv/soil-desk
  WINDROW_WORKERS=4 windrow config check`,
		Args: args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, _, err := e.settings(c.Flags(), true)
			if err != nil {
				return err
			}
			if err := asError(cfg.CheckLandUses(normalize.LandUses())); err != nil {
				return err
			}
			defer e.hint(cfg)
			print := cfg.Check
			if asJSON {
				print = cfg.CheckJSON
			}
			if err := print(e.stdout); err != nil {
				return err
			}
			return e.tellPages(cfg)
		},
	}
	check.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	var keys []string
	for _, f := range config.Spec() {
		// The folder of mappings has a flag of every command already.
		if f.Flag() != "" && f.Key != "mappings" {
			keys = append(keys, f.Key)
		}
	}
	config.AddFlags(check.Flags(), keys...)
	c.AddCommand(check)
	return c
}
