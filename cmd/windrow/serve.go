package main

import (
	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
)

func newServe(e *env) *cobra.Command {
	c := &cobra.Command{
		Use:   "serve",
		Short: "serve the workbench, and watch the folders beside",
		Long: `Serves the office's pages to the browser of this computer: what came, what waits
and why, each report with its page and every number marked, the samples and
their letters. The folders are watched meanwhile, as windrow watch does.

The pages show clients' names. Where nobody signs in they answer this computer
alone, and an address that another one could reach is refused. For other
computers it takes a list of users (sign_in.users, windrow user), a certificate
(tls.certificate and tls.key) or a proxy that has one (sign_in.proxies), and the
address by which browsers come (sign_in.address). Then each sees what the role
is for, and the log says who saw and changed what (windrow access).
One serve, watch or run at a time works in an office.`,
		Example: "  windrow serve --office soil-desk\n  windrow serve --listen 127.0.0.1:8480",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return watch(c.Context(), e, c, false, true) },
	}
	config.AddFlags(c.Flags(), "listen", "listen_metrics", "watch.settle", "watch.poll", "watch.grace", "workers", "log.level", "log.format")
	return c
}
