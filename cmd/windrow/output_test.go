package main

import (
	"bytes"
	"context"
	"io"
	"strings"
	"syscall"
	"testing"
)

// A full takes some bytes and then is a full disk.
type full struct {
	room int
	got  bytes.Buffer
}

func (f *full) Write(b []byte) (int, error) {
	n := min(f.room, len(b))
	f.room -= n
	f.got.Write(b[:n])
	if n < len(b) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

// Results that a disk has no room for fail the command, also where it prints
// line by line; nothing is written behind the gap.
func TestLostResultsFail(t *testing.T) {
	for _, args := range [][]string{{"version"}, {"version", "--json"}, {"rules", "explain"}, {"mapping", "words"}} {
		var whole bytes.Buffer
		if code := execute(context.Background(), &env{stdout: &whole, stderr: io.Discard, now: fixedNow}, args); code != exitDone {
			t.Fatalf("%v: ended with %d where there was room", args, code)
		}
		for _, room := range []int{0, 10, whole.Len() - 1} {
			disk, told := &full{room: room}, &bytes.Buffer{}
			code := execute(context.Background(), &env{stdout: disk, stderr: told, now: fixedNow}, args)
			if code != exitFailed {
				t.Errorf("%v with room for %d of %d bytes: ended with %d, want %d", args, room, whole.Len(), code, exitFailed)
			}
			if !strings.Contains(told.String(), "not written to their end") || !strings.Contains(told.String(), syscall.ENOSPC.Error()) {
				t.Errorf("%v with room for %d bytes: told %q", args, room, told)
			}
			if !bytes.Equal(disk.got.Bytes(), whole.Bytes()[:room]) {
				t.Errorf("%v with room for %d bytes: wrote %q", args, room, disk.got.String())
			}
		}
	}
}
