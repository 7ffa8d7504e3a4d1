package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize/register"
)

// register is the register of an office that is in force, for a command that
// reads and prints; nil for none. What is amiss with it is told.
func (e *env) register(ctx context.Context, st *pipeline.Stages, cfg *config.Config) *register.Register {
	reg, reasons := st.RegisterInForce(ctx, cfg)
	for _, r := range reasons {
		e.reason(r)
	}
	return reg
}

// matches is what the office's register says of the records of a report.
// Outside an office there is none. What is amiss is told once.
func (t *target) matches(ctx context.Context, e *env) []register.Match {
	if _, err := os.Stat(t.cfg.File()); err == nil && t.matched == nil {
		t.matched = e.register(ctx, t.stages, t.cfg).Match(t.report)
	}
	return t.matched
}

// registered is what the office's register says of the records of a report to
// advice, by id.
func (t *target) registered(ctx context.Context, e *env) map[string]*interpret.Registered {
	out := map[string]*interpret.Registered{}
	for _, m := range t.matches(ctx, e) {
		out[m.Record] = pipeline.Registered(m)
	}
	return out
}

// contacts are the addresses of the clients that the register is sure of, by
// record: personal, for a letter's envelope and nothing else.
func (t *target) contacts(ctx context.Context, e *env) map[string]string {
	out := map[string]string{}
	for _, m := range t.matches(ctx, e) {
		if to := m.Contact(); to != "" {
			out[m.Record] = to
		}
	}
	return out
}

func newRegister(e *env) *cobra.Command {
	c := &cobra.Command{Use: "register", Short: "the office's list of the samples that it sent out", Args: cobra.ArbitraryArgs, RunE: group}
	asJSON, clients := false, false
	check := &cobra.Command{
		Use:   "check",
		Short: "check the register, and list each sample with the report that was taken for it",
		Long: `Reads the register as it is now: the file that register: names, or register.csv
or register.xlsx in the office folder, or the one of --register, a path from the
current folder. Its first line has headings: label,
client and date sent must be there; land use, area (sq ft), county, lab, e-mail
and language may be. Each mistake is told with its place. A register with a
mistake is not used: until it is corrected the last good one stays in force, from
a copy, .windrow-register in the office folder. It is not in the archive, from
which no name could be taken out again.

Then each sample is listed with the record that it was taken for. "exact" means
that label and client are the same and the dates fit; "likely", that the label
is the same and client or dates speak for it. Where several lines fit equally
well none is taken.`,
		Example: "  windrow register check\n  windrow register check --json | jq '.samples[] | select(.taken == [])'",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return registerCheck(c, e, asJSON, clients) },
	}
	check.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	check.Flags().BoolVar(&clients, "with-clients", false, "with the names of clients")
	registerFlag(check.Flags())
	c.AddCommand(check)
	return c
}

// A registerLine is one sample of the register as register check shows it.
type registerLine struct {
	*register.Row
	ClientName string           `json:"client_name,omitempty"` // with --with-clients
	Taken      []pipeline.Taken `json:"taken"`
	Perhaps    []string         `json:"perhaps,omitempty"` // records that fit this and another line equally well
}

func registerCheck(c *cobra.Command, e *env, asJSON, clients bool) error {
	reg, done, cmp, err := e.compared(c, false)
	if err != nil {
		return err
	}
	defer done()
	lines := []registerLine{}
	count, behind := map[register.Confidence]int{}, 0
	for _, x := range reg.Rows {
		l := registerLine{Row: x, Taken: cmp.Taken[x], Perhaps: cmp.Perhaps[x]}
		if clients {
			l.ClientName = x.Client
		}
		if len(l.Taken) == 0 {
			l.Taken = []pipeline.Taken{}
			count[register.None]++
		} else {
			count[best(l.Taken).Confidence]++
			if best(l.Taken).Behind {
				behind++
			}
		}
		lines = append(lines, l)
	}
	if asJSON {
		notes := reg.Notes
		if notes == nil {
			notes = []*ingest.Reason{}
		}
		return writeJSON(e.stdout, struct {
			File    string           `json:"file"`
			SHA256  string           `json:"sha256"`
			Samples []registerLine   `json:"samples"`
			Notes   []*ingest.Reason `json:"notes"`
		}{reg.File, reg.SHA256, lines, notes})
	}
	for _, n := range reg.Notes {
		e.reason(n)
	}
	head := []string{"AT", "LABEL", "SENT", "TAKEN FOR", "HOW SURE", "WHY"}
	g := grid{head: head, whole: map[int]bool{0: true, 2: true, 3: true, 4: true}, wide: 120}
	if clients {
		g.head = append(head, "CLIENT")
	}
	for _, l := range lines {
		rec, sure, why := "", "", "no report yet"
		switch {
		case len(l.Taken) > 0:
			t := best(l.Taken)
			rec, sure, why = t.Record, string(t.Confidence), t.Why
			switch {
			case t.Status == "held":
				why = "held; " + why
			case t.Behind:
				why = "advice is behind; " + why
			}
			for _, o := range l.Taken {
				if o.Record == t.Record {
					continue
				}
				why += "; also " + o.Record
				if o.Status == "held" {
					why += ", held"
				}
			}
		case len(l.Perhaps) > 0:
			why = l.Perhaps[0] + " fits this and another line or sample equally well"
		}
		cells := []string{l.Place.Inside(), l.Label, l.Sent, rec, sure, why}
		if clients {
			cells = append(cells, l.ClientName)
		}
		g.add(cells...)
	}
	g.write(e.stdout, "")
	e.say("windrow: %s: %s; taken for a report: exact %d, likely %d; without a report: %d", reg.File, plural(len(lines), "sample"), count[register.Exact], count[register.Likely], count[register.None])
	if behind > 0 {
		e.say("windrow: %s advised on before the register was as it is now; \"windrow replay\" shows what would change", were(behind, "sample"))
	}
	return nil
}

// registerFlag adds the flag that names another register. Like every file on
// the command line, and unlike the setting, it is taken from the current folder.
func registerFlag(flags *pflag.FlagSet) {
	config.AddFlags(flags, "register")
	f := flags.Lookup("register")
	f.Usage = "the `file` to read as the register, from the current folder; nothing means the office's own"
	f.Value = &hereValue{f.Value}
}

// A hereValue is the value of a flag that is a path from the current folder.
type hereValue struct{ pflag.Value }

func (v *hereValue) Set(s string) error {
	if s != "" {
		if here, err := filepath.Abs(s); err == nil {
			s = here
		}
	}
	return v.Value.Set(s)
}

// were is "1 sample was" or "2 samples were".
func were(n int, what string) string {
	if n == 1 {
		return "1 " + what + " was"
	}
	return plural(n, what) + " were"
}

// best is the record that a row was most surely taken for; of several one that
// is not held, and of those the first.
func best(list []pipeline.Taken) pipeline.Taken {
	worth := func(t pipeline.Taken) (n int) {
		if t.Confidence == register.Exact {
			n = 2
		}
		if t.Status != "held" {
			n++
		}
		return n
	}
	out := list[0]
	for _, t := range list[1:] {
		if worth(t) > worth(out) {
			out = t
		}
	}
	return out
}

// compared is the register of this office, as it is now or as it is in force,
// compared with its archive. Call done after use.
func (e *env) compared(c *cobra.Command, inForce bool) (reg *register.Register, done func(), cmp *pipeline.Compared, err error) {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return nil, nil, nil, err
	}
	st, reasons := pipeline.Load(e.want(cfg, true, 1))
	if err := asError(reasons); err != nil {
		return nil, nil, nil, err
	}
	done = func() { _ = st.Close() } // nothing is read by it any more
	if inForce {
		reg, reasons = st.RegisterInForce(c.Context(), cfg)
	} else {
		reg, reasons = st.RegisterFile(c.Context(), cfg)
	}
	if reg == nil && len(reasons) == 0 {
		reasons = append(reasons, &ingest.Reason{Code: "no-register", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(cfg.Dir)}, What: "this office has no register of samples", Expected: "register.csv or register.xlsx in the office folder, or the file that register: names in " + config.FileName,
			Found: "none of them", Next: "make a table with a line for each sample that is sent out, with the headings label, client, date sent; see windrow register check --help"})
	}
	if reg == nil {
		done()
		return nil, nil, nil, asError(reasons)
	}
	for _, r := range reasons { // of one that is in force
		e.reason(r)
	}
	asked := st
	if inForce {
		asked = nil // whoever only waits does not ask about advice
	}
	cmp, err = e.compareArchive(c.Context(), cfg, reg, asked)
	if err != nil {
		done()
		return nil, nil, nil, err
	}
	return reg, done, cmp, nil
}

func (e *env) compareArchive(ctx context.Context, cfg *config.Config, reg *register.Register, st *pipeline.Stages) (*pipeline.Compared, error) {
	none := &pipeline.Compared{Register: reg, Times: register.UsualTimes(nil)}
	if _, err := os.Stat(cfg.Archive); errors.Is(err, os.ErrNotExist) && !cfg.Engine.Used() {
		return none, nil // nothing has come yet
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return nil, err
	}
	ix, err := indexBeside(ctx, cfg.Index)
	if err != nil {
		return nil, err
	}
	if ix == nil {
		return nil, &ingest.Reason{Code: "no-index", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(cfg.Index)}, What: "the archive has no index, by which the reports of samples are found", Expected: "the index of the archive", Found: "no such file",
			Next: "run windrow archive rebuild"}
	}
	usual, err := pipeline.KnownSpans(ctx, ix)
	if err != nil {
		return nil, errors.Join(err, ix.Close())
	}
	cmp, err := pipeline.CompareRegister(ctx, a, ix, reg, st, usual)
	return cmp, errors.Join(err, ix.Close())
}
