package main

import (
	"os"
	"path/filepath"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

// auditFiles are what --workbook writes.
const (
	auditWorkbook = "audit.xlsx"
	auditPage     = "audit.html"
)

// writeWorkbook writes an account as a workbook and as a page. Neither is
// ever half there.
func writeWorkbook(e *env, a *archive.Archive, cfg *config.Config, dir string, acc *audit.Account, since []audit.SinceSigned) error {
	b, err := binding(e, a, cfg, since)
	if err != nil {
		return err
	}
	book, err := audit.Workbook(acc, b)
	if err != nil {
		return err
	}
	page, err := audit.Page(acc, b)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return accountNotWritten(dir, err)
	}
	for _, f := range []struct {
		name  string
		bytes []byte
	}{{auditWorkbook, book}, {auditPage, page}} {
		at := filepath.Join(dir, f.name)
		if err := pipeline.Replace(at, f.bytes); err != nil {
			return accountNotWritten(at, err)
		}
		e.say("windrow: %s", at)
	}
	return nil
}

// binding is what an account's cover says beside it.
func binding(e *env, a *archive.Archive, cfg *config.Config, since []audit.SinceSigned) (audit.Binding, error) {
	signed, err := signOffs(a)
	return audit.Binding{Office: cfg.Office.Name, Software: version, Made: e.now(), Signed: signed, Since: since}, err
}

func accountNotWritten(path string, err error) error {
	return &ingest.Reason{Code: "account-not-written", Severity: ingest.Fail, Where: ingest.Place{File: path}, What: "the account can't be written there", Expected: "a folder that may be written to, and room on the disk", Found: ingest.Cause(err),
		Next: "close the file in other programs, check the rights of the folder and the room on the disk, and run again"}
}
