package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

type demoCmd struct {
	dir   string
	serve bool
}

func newDemo(e *env) *cobra.Command {
	o := &demoCmd{}
	c := &cobra.Command{
		Use:   "demo",
		Short: "make an office to look at, drop in reports, and run the job once",
		Long: `Makes a demonstration office in a folder of its own, drops in reports of four
invented laboratories, works on them once, and shows what came of it. The folder
must be absent, empty, or an earlier demonstration; anything else is refused.`,
		Example: "  windrow demo\n  windrow demo --dir /tmp/look --serve",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return o.run(c.Context(), e, c) },
	}
	c.Flags().StringVar(&o.dir, "dir", "windrow-demo", "`folder` to make the office in")
	c.Flags().BoolVar(&o.serve, "serve", false, "then go on: watch the inbox and serve pages, until stopped")
	config.AddFlags(c.Flags(), "listen")
	return c
}

func (o *demoCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	if err := demo.Make(o.dir); err != nil {
		return err
	}
	e.global.office = o.dir
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	off, err := e.open(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	d := &demonstration{e: e, off: off, dir: o.dir, w: e.stdout}
	off.Tell = e.reason
	err = d.tell(ctx)
	if err == nil && o.serve {
		putln(e.stderr)
		err = keepWatching(ctx, e, off, &teller{e: e}, true)
	}
	return errors.Join(err, off.Close())
}

// A demonstration is one run of the demo.
type demonstration struct {
	e   *env
	off *pipeline.Office
	dir string // as the user gave it
	w   io.Writer

	mu       sync.Mutex
	outcomes []pipeline.Outcome
}

func (d *demonstration) note(o pipeline.Outcome) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.outcomes = append(d.outcomes, o)
}

// tell does the job and tells the story.
func (d *demonstration) tell(ctx context.Context) error {
	name := d.off.Config.Office.Name
	paragraph(d.w, "", fmt.Sprintf("A demonstration office in %s: %s, in the invented state of Calder. No laboratory and no person in it is real.", d.dir, name))
	list := demo.Reports()
	for _, r := range list {
		if err := demo.Drop(d.dir, r); err != nil {
			return err
		}
	}
	d.e.say("\nworking on %s …", plural(len(list)+1, "report"))
	if err := passOnce(ctx, d.off, d.off.Config.Folders, d.note); err != nil {
		return err
	}
	slices.SortFunc(d.outcomes, func(a, b pipeline.Outcome) int { return strings.Compare(a.Name, b.Name) })
	// The copy comes later, as copies do, and is known for one.
	if err := demo.Drop(d.dir, demo.Copy()); err != nil {
		return err
	}
	if err := passOnce(ctx, d.off, d.off.Config.Folders, d.note); err != nil {
		return err
	}
	if err := d.off.WriteLetterIndex(); err != nil {
		return err
	}
	sum, err := d.dataset(ctx)
	if err != nil {
		return err
	}
	d.reports()
	d.samples()
	d.held()
	return d.places(ctx, sum)
}

func (d *demonstration) dataset(ctx context.Context) (dataset.Summary, error) {
	cfg := d.off.Config
	key, _, err := pipeline.DatasetKey(cfg)
	if err != nil {
		return dataset.Summary{}, err
	}
	o := &datasetCmd{title: "Soil test results of " + cfg.Office.Name}
	return pipeline.MakeDataset(ctx, d.off.Archive, filepath.Join(cfg.Datasets, d.e.now().Format("2006-01-02")), o.options(cfg, key))
}

func (d *demonstration) title(s string) {
	putf(d.w, "\n%s\n%s\n", s, strings.Repeat("-", len([]rune(s))))
}

func (d *demonstration) reports() {
	d.title("What came in")
	g := grid{head: []string{"OUTCOME", "FILE", "LABORATORY", "SAMPLES"}, whole: map[int]bool{0: true, 3: true}}
	for _, o := range d.outcomes {
		lab := strings.Join(o.Labs(), ", ")
		samples := fmt.Sprintf("%7d", o.Samples())
		switch o.Status {
		case pipeline.Held:
			if lab == "" {
				lab = "not known"
			}
			samples = ""
		case pipeline.Duplicate:
			lab, samples = "same bytes as "+o.First, ""
		}
		g.add(string(o.Status), o.Name, lab, samples)
	}
	g.write(d.w, "  ")
}

// samples shows two samples that two laboratories print differently, on one
// schema.
func (d *demonstration) samples() {
	var reps []*normalize.Report
	for _, want := range []string{"TG-26-01402.pdf", "OT-26-0533.pdf"} {
		for _, o := range d.outcomes {
			for _, p := range o.Parts {
				if o.Name == want && p.Report != nil && len(p.Report.Records) > 0 {
					reps = append(reps, p.Report)
				}
			}
		}
	}
	if len(reps) < 2 {
		return // told by the outcomes above
	}
	d.title("Two samples, as printed and on one schema")
	recs := []*normalize.Record{reps[0].Records[0], reps[1].Records[0]}
	for i, rec := range recs {
		s := rec.Sample
		use := s.LandUse
		if use == "" {
			use = s.LandUseText
		}
		text := fmt.Sprintf("sample %s of %s, %s", sampleName(rec), reps[i].Lab.Name, use)
		if s.ClientLabel != "" && s.ClientLabel != sampleName(rec) {
			text = fmt.Sprintf("sample %s (“%s”) of %s, %s", sampleName(rec), s.ClientLabel, reps[i].Lab.Name, use)
		}
		paragraph(d.w, fmt.Sprintf("  %c  ", 'A'+i), text)
	}
	putln(d.w)
	g := grid{head: []string{"", "A PRINTED", "A VALUE", "B PRINTED", "B VALUE", "UNIT"}, whole: map[int]bool{0: true, 2: true, 4: true}}
	for _, id := range []string{"pH", "buffer_pH", "OM", "P", "K", "Ca", "Mg", "S", "Zn", "Mn", "Cu", "B", "CEC", "Pb"} {
		a, b := find(recs[0], id), find(recs[1], id)
		if a == nil && b == nil {
			continue
		}
		unit := ""
		for _, r := range []*normalize.Result{b, a} {
			if r != nil && r.Unit != "pH" {
				unit = r.Unit
			}
		}
		ap, av := shown(a)
		bp, bv := shown(b)
		g.add(id, ap, av, bp, bv, unit)
	}
	g.write(d.w, "  ")
	for i, rec := range recs {
		p := find(rec, "P")
		if p != nil && p.Method != "" {
			putf(d.w, "  %c was tested for phosphorus by %s.\n", 'A'+i, p.MethodName)
		}
	}
	paragraph(d.w, "  ", "Values by different methods stand side by side; none is turned into the other silently.")
}

func find(rec *normalize.Record, analyte string) *normalize.Result {
	for _, r := range rec.Results {
		if r.Analyte == analyte {
			return r
		}
	}
	return nil
}

// shown is a result as printed, and its value.
func shown(r *normalize.Result) (printed, value string) {
	if r == nil {
		return "", ""
	}
	printed = strings.TrimSpace(r.Printed.Text + " " + r.Printed.Unit)
	switch {
	case r.Missing != "":
		value = "none"
	case r.Value == "":
		value = "not conv."
	default:
		value = r.Censored + string(r.Value)
	}
	return printed, value
}

func (d *demonstration) held() {
	first := true
	for _, o := range d.outcomes {
		if o.Status != pipeline.Held {
			continue
		}
		if first {
			d.title("What was held, and why")
		} else {
			putln(d.w)
		}
		first = false
		putf(d.w, "  %s\n", o.Name)
		var holds []*ingest.Reason
		for _, r := range o.Reasons {
			if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
				holds = append(holds, r)
			}
		}
		if len(holds) == 0 {
			continue
		}
		r := holds[0]
		paragraph(d.w, "    ", upper(r.What)+".")
		for _, x := range [][2]string{{"expected  ", r.Expected}, {"found     ", r.Found}, {"next      ", r.Next}} {
			if x[1] != "" {
				paragraph(d.w, "    "+x[0], x[1])
			}
		}
		more := "    The note: "
		if n := len(holds) - 1; n > 0 {
			more = fmt.Sprintf("    and %s, in the note: ", plural(n, "more reason"))
		}
		paragraph(d.w, more, filepath.Join(d.dir, "held", o.Name+".why.txt"))
	}
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (d *demonstration) places(ctx context.Context, sum dataset.Summary) error {
	problems, count, err := d.off.Archive.Verify(ctx, validDocument)
	if err != nil {
		return err
	}
	checked := "every byte verified"
	if len(problems) > 0 {
		checked = plural(len(problems), "problem")
	}
	letters := 0
	var one string
	for _, o := range d.outcomes {
		letters += len(o.Letters())
		if o.Name == "TG-26-01402.pdf" && len(o.Parts) > 0 {
			one = o.Parts[0].ID
		}
	}
	d.title("Where things lie")
	g := grid{head: []string{"", "", ""}, whole: map[int]bool{0: true, 1: true}}
	day := d.e.now().Format("2006-01-02")
	g.add("letters", filepath.Join(d.dir, "letters"), plural(letters, "letter")+", and a list of them")
	g.add("archive", filepath.Join(d.dir, "archive"), plural(count.Originals, "original")+", "+checked)
	g.add("dataset", filepath.Join(d.dir, "datasets", day), plural(sum.Rows, "result")+", a codebook and a disclosure report")
	g.add("taken", filepath.Join(d.dir, "done"), "the reports, under dated names")
	g.add("held", filepath.Join(d.dir, "held"), "those that wait, with notes")
	g.body(d.w, "  ")
	d.title("Open next")
	putf(d.w, "  %s\n", filepath.Join(d.dir, "letters", "index.html"))
	prog := quoteArg(os.Args[0])
	putf(d.w, "\n  where a value comes from, step by step:\n    %s trace --office %s %s-1 P\n", prog, quoteArg(d.dir), one)
	putf(d.w, "  the same with pages, and an inbox to drop reports into:\n    %s demo --dir %s --serve\n", prog, quoteArg(d.dir))
	if len(problems) > 0 {
		return &ingest.Reason{Code: problems[0].Code, Severity: ingest.Fail, Where: ingest.Place{File: problems[0].Path}, What: problems[0].What, Next: problems[0].Next}
	}
	return nil
}

// quoteArg quotes a path for a shell where it needs it.
func quoteArg(s string) string {
	if strings.ContainsAny(s, " \t'\"$&;()<>|*?") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}
