package apart

import (
	"os/exec"
	"syscall"
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
