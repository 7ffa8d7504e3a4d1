package apart

import (
	"os"
	"os/exec"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// tie makes the system end the child when its parent's thread ends, and keeps
// a terminal's interrupt from it: the parent decides what is finished first.
func tie(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL, Setpgid: true}
}

// restrict bounds what this process may take from the system: it writes no
// file, leaves no core, and has an end of address space. Limits that fail to
// be set leave the others, and the parent's clock.
func restrict() {
	_ = syscall.Setrlimit(syscall.RLIMIT_AS, &syscall.Rlimit{Cur: addressSpace, Max: addressSpace})
	_ = syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{})
	_ = syscall.Setrlimit(syscall.RLIMIT_CORE, &syscall.Rlimit{})
}

// pipeBytes is how much lies in a pipe between the two until the other side has
// time for it: a usual report, so that neither waits for the other in the midst
// of one. A system that allows less leaves its own measure.
const pipeBytes = 1 << 20

// pipes gives both pipes of this process that much room, and has their reader
// wait in Go's own way: one that waits in the system keeps the only processor
// that a child has until the runtime notices, which takes milliseconds.
func pipes() (in, out *os.File) {
	in, out = os.Stdin, os.Stdout
	for _, f := range []*os.File{in, out} {
		_, _ = unix.FcntlInt(f.Fd(), unix.F_SETPIPE_SZ, pipeBytes)
	}
	if syscall.SetNonblock(int(in.Fd()), true) == nil {
		in = os.NewFile(in.Fd(), in.Name())
	}
	return in, out
}

// slack is by how much the system may wake the threads of a child late. Go's
// runtime looks after its threads every 20 microseconds as long as some code
// does not give way by itself, which the second engine's never does; without
// slack that takes one part in ten of the child's time.
const slack = time.Millisecond

// loosen lets the processes that this thread starts from now on be woken late.
func loosen() { _ = unix.Prctl(unix.PR_SET_TIMERSLACK, uintptr(slack.Nanoseconds()), 0, 0, 0) }

// tighten takes that back; 0 stands for what the thread began with.
func tighten() { _ = unix.Prctl(unix.PR_SET_TIMERSLACK, 0, 0, 0, 0) }
