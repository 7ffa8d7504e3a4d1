package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

func newArchiveExport(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "export DIR|FILE.tar",
		Short: "copy the archive into a folder or a tar file, also while reports are worked on",
		Long: `Copies the archive, checked byte by byte on the way. It may run while reports are
being worked on: no file in an archive is ever changed, so that copying what is
written last first gives a copy in which nothing is named that isn't there.

A folder is made where it is absent. Where it holds an earlier copy, what is new
is added, and what was erased since is erased there too. A tar file is written
anew and must not exist; every program that reads tar files can unpack it, and
the page FORMAT.md in it says what is what. Neither letters nor datasets nor the
index are copied: they can be made again. It holds names and addresses.`,
		Example: "  windrow archive export /media/backup/archive\n  windrow archive export 2026-11-25.tar",
		Args:    args(1, 1, "a folder, or a file whose name ends with .tar"),
		RunE: func(c *cobra.Command, args []string) error {
			a, cfg, err := e.archive(c)
			if err != nil {
				return err
			}
			if within(a.Dir(), args[0]) {
				return &usageError{args[0] + " lies in the archive itself", "name a place outside " + a.Dir()}
			}
			var n archive.Transfer
			if strings.HasSuffix(args[0], ".tar") {
				n, err = exportTar(c.Context(), a, args[0])
			} else {
				n, err = a.ExportTo(c.Context(), args[0])
			}
			e.noteJob(cfg, pipeline.Exported, err, 0)
			if err != nil {
				return err
			}
			e.tellTransfer(n)
			return nil
		},
	}
}

// within reports whether a path is a folder or lies below it, by name.
func within(dir, p string) bool {
	d, err1 := filepath.Abs(dir)
	q, err2 := filepath.Abs(p)
	rel, err3 := filepath.Rel(d, q)
	return errors.Join(err1, err2, err3) == nil && filepath.IsLocal(rel)
}

// exportTar writes a tar file whole or not at all.
func exportTar(ctx context.Context, a *archive.Archive, at string) (archive.Transfer, error) {
	amiss := func(what string, err error) error {
		return &ingest.Reason{Code: "export-failed", Severity: ingest.Fail, Where: ingest.Place{File: at}, What: what, Found: ingest.Cause(err), Next: "name a new file in a folder that is there and has room"}
	}
	if _, err := os.Lstat(at); err == nil {
		err = fs.ErrExist
		return archive.Transfer{}, amiss("there is something under this name already, and an export replaces nothing", err)
	}
	f, err := os.CreateTemp(filepath.Dir(at), ".windrow-*.part") // for its owner alone: it holds names and addresses
	if err != nil {
		return archive.Transfer{}, amiss("the file can't be written", err)
	}
	defer func() { _ = os.Remove(f.Name()) }() // gone already where all went well
	n, err := a.WriteTar(ctx, f)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return n, err
	}
	// A link replaces nothing; where there are none, a rename has to do.
	if err := os.Link(f.Name(), at); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return n, amiss("there is something under this name already, and an export replaces nothing", err)
		}
		if err := os.Rename(f.Name(), at); err != nil {
			return n, amiss("the file can't be written", err)
		}
	}
	return n, nil
}

func (e *env) tellTransfer(n archive.Transfer) {
	putf(e.stdout, "%s, %s, %s looked at; %s new, %d bytes\n", plural(n.Originals, "original"), plural(n.Documents, "document"), plural(n.Arrivals, "arrival"), plural(n.New, "file"), n.Bytes)
	if n.Erasures > 0 {
		putf(e.stdout, "%s carried over and carried out\n", plural(n.Erasures, "erasure"))
	}
	if n.Skipped > 0 {
		putf(e.stdout, "%s left out, since it was erased here\n", plural(n.Skipped, "file"))
	}
	if n.Unvouched > 0 {
		putf(e.stdout, "%s without a checksum, as of a report that is just being archived; windrow archive verify tells which\n", plural(n.Unvouched, "document"))
	}
}

func newArchiveImport(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "import DIR|FILE.tar",
		Short: "bring a copy of an archive into the archive of this office",
		Long: `Reads a copy of an archive, in a folder or a tar file, and brings into the archive
of this office what it lacks; an office without an archive gets one. Before
anything is written every byte of the copy is checked against its hash, every
document against its form, and all of it against what is here: if the copy is
not sound, or holds other content under the same name, nothing is imported. Run
it again after it was cut short, or twice: the outcome is the same.

What was erased here stays erased, also if an old copy still has it. What was
erased there is erased here. Afterwards the index is made anew; letters are made
by windrow letter.`,
		Example: "  windrow archive import /media/backup/archive\n  windrow archive import 2026-11-25.tar",
		Args:    args(1, 1, "the folder of a copy, or a tar file"),
		RunE:    func(c *cobra.Command, args []string) error { return e.importFrom(c, args[0]) },
	}
}

func (e *env) importFrom(c *cobra.Command, from string) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	if cfg.Engine.Used() {
		return e.importCentral(c.Context(), cfg, from)
	}
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
	other, done, err := copyAt(cfg, from)
	if err != nil {
		return err
	}
	defer done()
	a, err := archive.Open(cfg.Archive)
	if err != nil {
		return err
	}
	n, err := e.bring(c.Context(), a, other)
	if err != nil {
		return err
	}
	if n.Erasures > 0 {
		// The index may hold what was erased; begun anew it does not.
		if err := index.Remove(cfg.Index); err != nil {
			return err
		}
		if _, err := pipeline.RemoveErasedLetters(cfg, a); err != nil {
			return err
		}
	}
	if err := rebuild(c.Context(), e, a, cfg.Index); err != nil || n.Erasures == 0 {
		return err
	}
	unlock()
	locked = false
	return e.writeLetterIndex(c.Context(), cfg)
}

// copyAt opens the copy of an archive that an argument names.
func copyAt(cfg *config.Config, from string) (other *archive.Archive, done func(), err error) {
	done = func() {}
	info, err := os.Stat(from)
	switch {
	case err != nil:
		return nil, nil, &ingest.Reason{Code: "import-missing", Severity: ingest.Fail, Where: ingest.Place{File: from}, What: "there is nothing to import under this name", Found: ingest.Cause(err), Next: "name the folder of a copy, or a tar file"}
	case info.IsDir():
		if here, err := os.Stat(cfg.Archive); err == nil && os.SameFile(here, info) && !cfg.Engine.Used() {
			return nil, nil, &usageError{"this is the archive of this office itself", "name a copy of it, or of another one"}
		}
		other, err = archive.OpenExisting(from)
		return other, done, err
	}
	f, err := os.Open(from)
	if err != nil {
		return nil, nil, err
	}
	if other, err = archive.OpenTar(f); err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return other, func() { _ = f.Close() }, nil // only read
}

// bring imports a copy into an archive and tells of it.
func (e *env) bring(ctx context.Context, a, other *archive.Archive) (archive.Transfer, error) {
	n, problems, err := a.ImportFrom(ctx, other, validDocument)
	for _, p := range problems {
		putln(e.stdout, p.String())
	}
	if err == nil {
		e.tellTransfer(n)
	}
	return n, err
}

// importCentral brings a copy into the archive of a central engine, in which
// nobody else is at work meanwhile.
func (e *env) importCentral(ctx context.Context, cfg *config.Config, from string) (err error) {
	other, done, err := copyAt(cfg, from)
	if err != nil {
		return err
	}
	defer done()
	st, err := e.loadStages(cfg)
	if err != nil {
		return err
	}
	defer st.Close()
	off, err := pipeline.OpenImporting(ctx, cfg, st)
	if err != nil {
		return err
	}
	off.Today = e.now
	defer func() { err = errors.Join(err, off.Close()) }()
	return off.Sole(ctx, func(ctx context.Context) error {
		n, err := e.bring(ctx, off.Archive, other)
		if err != nil {
			return err
		}
		if n.Erasures > 0 {
			if _, err := off.FinishCentral(ctx); err != nil { // the index, too, forgets
				return err
			}
		}
		if err := rebuild(ctx, e, off.Archive, cfg.Index); err != nil || n.Erasures == 0 {
			return err
		}
		return off.WriteLetterIndex()
	})
}

// writeLetterIndex makes the page of letters anew, which names clients. The
// office must not be locked.
func (e *env) writeLetterIndex(ctx context.Context, cfg *config.Config) error {
	off, err := e.open(context.WithoutCancel(ctx), cfg)
	if err != nil {
		return err
	}
	return errors.Join(off.WriteLetterIndex(), off.Close(), off.Stages.Close())
}
