package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"example.org/windrow/cmd/internal/access"
)

// aTerminal opens a terminal of the system's own making: what is typed at one
// end the program reads at the other.
func aTerminal(t *testing.T) (typed, screen *os.File) {
	t.Helper()
	m, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(m.Fd()), unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(int(m.Fd()), unix.TIOCSPTLCK, 0)
	}
	if err != nil {
		t.Fatal(err)
	}
	s, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = s.Close()
		_ = m.Close()
	})
	return m, s
}

// TestPasswordAtATerminal gives a password as a person does: it is asked for
// twice, and never shown; two that are unlike, and a weak one, change nothing.
func TestPasswordAtATerminal(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: \"Finch County Soil Desk\"\nsign_in:\n  users: users.yaml\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	// ask runs the command at a terminal and types a line at each question.
	ask := func(lines ...string) (shown string, exit int) {
		t.Helper()
		typed, screen := aTerminal(t)
		cmd := program(t, "user", "add", "ilse", "--role", "office", "--office", dir)
		cmd.Stdin, cmd.Stdout, cmd.Stderr = screen, screen, screen
		cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		_ = screen.Close() // the program has it
		var mu sync.Mutex
		var b bytes.Buffer
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			p := make([]byte, 4096)
			for {
				n, err := typed.Read(p)
				mu.Lock()
				b.Write(p[:n])
				mu.Unlock()
				if err != nil {
					return // the other end is closed
				}
			}
		}()
		text := func() string {
			mu.Lock()
			defer mu.Unlock()
			return b.String()
		}
		for i, l := range lines {
			q := []string{"Password of ilse: ", "The same again: "}[i]
			for end := time.Now().Add(60 * time.Second); !strings.Contains(text(), q); time.Sleep(20 * time.Millisecond) {
				if time.Now().After(end) {
					_ = cmd.Process.Kill()
					t.Fatalf("%q is not asked: %q", q, text())
				}
			}
			// The terminal is told to show nothing right after the question.
			time.Sleep(300 * time.Millisecond)
			if _, err := typed.WriteString(l + "\n"); err != nil {
				t.Fatal(err)
			}
		}
		_ = cmd.Wait() // how it ended is its code
		<-ended
		return text(), cmd.ProcessState.ExitCode()
	}
	users := filepath.Join(dir, "users.yaml")
	for _, x := range []struct {
		lines []string
		want  string
	}{
		{[]string{goodPassword, goodPassword + "x"}, "the two passwords are not the same"},
		{[]string{"ilse", "ilse"}, "15 characters"},
	} {
		shown, exit := ask(x.lines...)
		if exit != exitFailed || !strings.Contains(shown, x.want) || strings.Contains(shown, goodPassword) {
			t.Errorf("%q: exit %d\n%s", x.lines, exit, shown)
		}
		if _, err := os.Stat(users); err == nil {
			t.Fatal("a user was added")
		}
	}
	shown, exit := ask(goodPassword, goodPassword)
	if exit != exitDone || strings.Contains(shown, goodPassword) || strings.Count(shown, "Password of ilse: ") != 1 || !strings.Contains(shown, "ilse may sign in") {
		t.Errorf("exit %d\n%s", exit, shown)
	}
	l, _, rs := access.ReadList(users)
	if len(rs) > 0 || l.User("ilse") == nil || !strings.HasPrefix(l.User("ilse").Password, "$argon2id$") {
		t.Errorf("the list: %v", rs)
	}
}
