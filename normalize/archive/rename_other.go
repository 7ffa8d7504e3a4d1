//go:build !linux

package archive

import "errors"

// renameNew has no portable form; the caller has another way.
func renameNew(_, _ string) error { return errors.ErrUnsupported }
