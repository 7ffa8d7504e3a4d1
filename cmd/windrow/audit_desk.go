package main

import (
	"context"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/audit"
)

// accountFor audits an office that is open, for its pages: as windrow audit
// does, without a word on the terminal.
func (e *env) accountFor(off *pipeline.Office) func(ctx context.Context, scope audit.Scope) (*audit.Account, audit.Binding, error) {
	quiet := *e
	quiet.global.quiet = true
	return func(ctx context.Context, scope audit.Scope) (*audit.Account, audit.Binding, error) {
		r := &auditRun{e: &quiet, archive: off.Archive}
		acc, err := r.account(ctx, nil, scope)
		if err != nil {
			return nil, audit.Binding{}, err
		}
		since, err := sinceSigned(off.Archive, acc)
		if err != nil {
			return nil, audit.Binding{}, err
		}
		b, err := binding(&quiet, off.Archive, off.Config, since)
		return acc, b, err
	}
}
