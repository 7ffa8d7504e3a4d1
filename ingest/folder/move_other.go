//go:build !linux

package folder

import (
	"errors"
	"syscall"
)

func moveNoReplace(from, to string) error { return moveReserving(from, to) }

// errorNotSameDevice is what Windows says instead of EXDEV.
const errorNotSameDevice = syscall.Errno(17)

func isOtherDevice(err error) bool {
	return errors.Is(err, syscall.EXDEV) || errors.Is(err, errorNotSameDevice)
}

func notSupported(err error) bool { return errors.Is(err, syscall.EINVAL) }
