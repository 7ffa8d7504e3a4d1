package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

type eraseCmd struct {
	client, by, because string
	apply, finish       bool
}

func newArchiveErase(e *env) *cobra.Command {
	o := &eraseCmd{}
	c := &cobra.Command{
		Use:   "erase [ID…]",
		Short: "erase a person's data from the archive, on request",
		Long: `Erases, of the reports or samples with these ids or of all samples of a client:
the original, also of the mail or archive it came in; the client, the numbers and
labels of the sample, and every version that had them; advice, rulings, proofs, the notes
of arrival, and the letters. The results stay, as a version without the person,
and a tombstone stays, which says who erased, when, why, and what went, by hash.

Without --apply it only says what would go. An original goes whole: samples of
others in it stay as they were read, and can't be read anew. The same file coming
again is a new arrival. An erasure that was cut short is completed when the office
is next opened for work, or by --finish, which windrow archive verify asks for;
--finish also erases again what was brought back from an old backup. A copy made
by windrow archive export loses the same at its next export, and an archive that
imports the tombstone erases too. Disks may still hold what was deleted from them
until they write over it.

What Windrow can't remove is listed at the end: see to it yourself.`,
		Example: `  windrow archive erase --client "Ilse Marrow"
  windrow archive erase R0123456789abcdef-1 --by "Records Desk" --because "request of 20 November" --apply
  windrow archive erase --finish`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error { return o.run(c, e, args) },
	}
	f := c.Flags()
	f.StringVar(&o.client, "client", "", "all samples of the client of this `name`, as printed")
	f.StringVar(&o.by, "by", "", "the `person` who erases")
	f.StringVar(&o.because, "because", "", "why, in `words` that name nobody, since they stay")
	f.BoolVar(&o.apply, "apply", false, "erase, and not only say what would go")
	f.BoolVar(&o.finish, "finish", false, "complete erasures that were cut short")
	return c
}

func (o *eraseCmd) check(ids []string) error {
	if o.finish {
		if len(ids) > 0 || o.client != "" || o.apply {
			return &usageError{"--finish completes what was begun, and takes nothing else", "give it alone"}
		}
		return nil
	}
	if len(ids) == 0 && o.client == "" {
		return &usageError{"nothing was named to erase", `give the id of a report or sample, or --client "First Last"`}
	}
	for _, id := range ids {
		if !recordID.MatchString(id) {
			return &usageError{id + " is not the id of a report or sample", "letters print it at their foot, such as R0123456789abcdef-1"}
		}
	}
	if o.apply && (strings.TrimSpace(o.by) == "" || strings.TrimSpace(o.because) == "") {
		return &usageError{"an erasure needs who erases, and why", `give --by "First Last" --because "request of 20 November"`}
	}
	return nil
}

func (o *eraseCmd) run(c *cobra.Command, e *env, ids []string) (err error) {
	if err := o.check(ids); err != nil {
		return err
	}
	if _, _, err := e.archive(c); err != nil { // there must be one already
		return err
	}
	st, cfg, err := e.stages(c, 1)
	if err != nil {
		return err
	}
	if cfg.Engine.Used() {
		return errors.Join(o.central(c.Context(), e, cfg, st, ids), st.Close())
	}
	defer st.Close()
	unlock, err := pipeline.LockOffice(cfg)
	if err != nil {
		return err
	}
	locked := true
	defer func() {
		if locked {
			unlock()
		}
	}()
	a, err := archive.Open(cfg.Archive)
	if err != nil {
		return err
	}
	begun, left, err := o.begin(c.Context(), e, cfg, st, a, ids)
	if err != nil || !begun {
		return err
	}
	done, err := pipeline.FinishErasures(cfg, a)
	if err != nil {
		return err
	}
	e.tellFinished(done)
	unlock()
	locked = false
	err = e.writeLetterIndex(c.Context(), cfg) // makes the index anew as well
	tellLeft(e, left)
	return err
}

func (e *env) tellFinished(done pipeline.Finished) {
	putf(e.stdout, "%s completed (%s in the archive), %s removed\n", plural(done.Completed, "erasure"), plural(done.Tombstones, "tombstone"), plural(len(done.Letters), "letter"))
}

// begin says what goes and, with --apply, writes the tombstones of it. begun
// says that there is something to finish; left is what Windrow can't remove.
func (o *eraseCmd) begin(ctx context.Context, e *env, cfg *config.Config, st *pipeline.Stages, a *archive.Archive, ids []string) (begun bool, left []string, err error) {
	if o.finish {
		return true, nil, nil
	}
	list, err := o.plan(ctx, st, a, ids)
	if err != nil {
		return false, nil, err
	}
	if len(list) == 0 {
		putln(e.stdout, "nothing to erase: the archive has nothing of this person, or it was erased before")
		return false, nil, nil
	}
	e.tellErasures(list, o.apply)
	if left, err = leftOutside(ctx, cfg, a, list); err != nil {
		return false, nil, err
	}
	if !o.apply {
		tellLeft(e, left)
		putln(e.stdout, "nothing was erased; give --by, --because and --apply to do it")
		return false, nil, nil
	}
	for _, x := range list {
		if err := x.Begin(a, o.by, o.because, e.now()); err != nil {
			return false, nil, err
		}
	}
	return true, left, nil
}

// central erases from the archive of a central engine, in which nobody else is
// at work meanwhile. Offices remove the letters that they have when they next
// look, within a minute.
func (o *eraseCmd) central(ctx context.Context, e *env, cfg *config.Config, st *pipeline.Stages, ids []string) (err error) {
	off, err := pipeline.OpenErasing(ctx, cfg, st)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, off.Close()) }()
	erase := off.Sole
	if !o.apply && !o.finish {
		erase = func(ctx context.Context, do func(context.Context) error) error { return do(ctx) } // it only looks
	}
	return erase(ctx, func(ctx context.Context) error {
		begun, left, err := o.begin(ctx, e, cfg, st, off.Archive, ids)
		if err != nil || !begun {
			return err
		}
		done, err := off.FinishCentral(ctx)
		if err != nil {
			return err
		}
		e.tellFinished(done)
		left = append(left, "files in the folders of the other offices of the engine; their letters go when their watch or serve next looks, within a minute")
		left = append(left, "the database's own copies and its log of changes, for as long as its owner keeps them")
		if kept := off.Kept(ctx); kept != "" {
			left = append(left, kept)
		}
		tellLeft(e, left)
		return off.WriteLetterIndex()
	})
}

func (o *eraseCmd) plan(ctx context.Context, st *pipeline.Stages, a *archive.Archive, ids []string) ([]*pipeline.Erasure, error) {
	if o.client != "" {
		of, err := pipeline.ClientRecords(ctx, a, o.client)
		if err != nil {
			return nil, err
		}
		ids = append(slices.Clone(ids), of...)
	}
	list, err := pipeline.PlanErasures(ctx, st, a, ids)
	return slices.DeleteFunc(list, func(x *pipeline.Erasure) bool { return x.Done }), err
}

func (e *env) tellErasures(list []*pipeline.Erasure, apply bool) {
	verb := "would go"
	if apply {
		verb = "go"
	}
	for _, x := range list {
		what := "all samples"
		if len(x.Records) > 0 {
			what = strings.Join(x.Records, ", ")
		}
		putf(e.stdout, "%s (%s): %s; %s, %s and %s of advice %s\n", x.Report, x.Name, what, plural(len(x.Originals), "original"), plural(len(x.Arrivals), "note"), plural(len(x.Advice), "document"), verb)
		if x.Others > 0 {
			putf(e.stdout, "  %s of others in the same file can't be read anew afterwards\n", plural(x.Others, "sample"))
		}
		for _, id := range x.Orphans {
			putf(e.stdout, "  report %s came in the same mail or archive and can't be read anew afterwards; name it too if it is this person's\n", id)
		}
	}
}

// leftOutside lists what belongs to some erasures and isn't Windrow's to
// remove.
func leftOutside(ctx context.Context, cfg *config.Config, a *archive.Archive, list []*pipeline.Erasure) (left []string, err error) {
	hashes, rows := map[string]bool{}, map[string]bool{}
	for _, x := range list {
		for _, h := range x.Originals {
			hashes[h] = true
		}
		for _, r := range x.Rows {
			rows[r] = true
		}
	}
	dirs := []string{cfg.Done, cfg.Held}
	for _, f := range cfg.Folders {
		dirs = append(dirs, f.Path)
	}
	for _, dir := range dirs {
		err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			b, err := os.ReadFile(p)
			if err != nil {
				return err
			}
			if h := sha256.Sum256(b); hashes[hex.EncodeToString(h[:])] {
				left = append(left, "the file itself, and what lies beside it under its name: "+p)
			}
			return ctx.Err()
		})
		if err != nil {
			return nil, &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, Where: ingest.Place{File: dir}, What: "a folder of the office can't be looked through for copies of what is to be erased", Found: ingest.Cause(err), Next: "check the rights of the folder, then run again; nothing was erased"}
		}
	}
	for r := range rows {
		left = append(left, "the office's register, row "+r)
	}
	said, err := pipeline.Mentions(ctx, a, list)
	for _, m := range said {
		left = append(left, "in the archive, a name or the name of a file in "+m)
	}
	slices.Sort(left)
	return append(left, "datasets in "+cfg.Datasets+" and copies of them (make them anew), datasets in parts (run windrow dataset parts again), and the accounts of audits",
		"mail boxes, letters that were printed or sent, and the laboratory itself", "backups: run windrow archive export to each again, and let older ones expire"), err
}

func tellLeft(e *env, left []string) {
	if len(left) == 0 {
		return
	}
	putln(e.stdout, "not removed by Windrow, and to be seen to by the office:")
	for _, l := range left {
		putln(e.stdout, "  "+l)
	}
}
