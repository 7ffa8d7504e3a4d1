package check

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// exposure is the most that systemd-analyze may find of a unit, in tenths: 1.5
// is "OK", and 0 is nothing at all. The watch listens, so it has more than the
// others.
var exposure = map[string]string{"windrow.service": "12", "windrow-serve.service": "14", "windrow-work.service": "15", "windrow-verify.service": "5", "windrow-backup.service": "5"}

// units copies the units into a folder, with the program where it is here.
func units(t *testing.T) (dir string, names []string) {
	t.Helper()
	all, err := filepath.Glob("../systemd/*")
	if err != nil || len(all) < 5 {
		t.Fatalf("units: %v (%v)", all, err)
	}
	dir = t.TempDir()
	for _, p := range all {
		name := filepath.Base(p)
		b := bytes.ReplaceAll(read(t, p), []byte("=/usr/bin/windrow "), []byte("="+program+" "))
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	return dir, names
}

func TestUnits(t *testing.T) {
	analyze := find(t, "systemd-analyze", "systemd")
	dir, names := units(t)
	args := []string{"verify", "--man=no", "--recursive-errors=no"}
	for _, n := range names {
		args = append(args, filepath.Join(dir, n))
	}
	if out := output(t, dir, analyze, args...); out != "" {
		t.Errorf("systemd-analyze verify says:\n%s", out)
	}
	seen := 0
	for _, n := range names {
		if filepath.Ext(n) != ".service" {
			continue
		}
		most, ok := exposure[n]
		if !ok {
			t.Errorf("no bound is set for %s", n)
			continue
		}
		seen++
		out := output(t, dir, analyze, "security", "--offline=yes", "--no-pager", "--threshold="+most, filepath.Join(dir, n))
		t.Log(out[strings.LastIndex(out, "\n")+1:])
	}
	if seen != len(exposure) {
		t.Errorf("%d services of %d", seen, len(exposure))
	}
	// Both can complain.
	bad := filepath.Join(dir, "bad.service")
	if err := os.WriteFile(bad, []byte("[Service]\nExecStart="+program+" watch\nProtectSytem=strict\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, _ := exec.Command(analyze, "verify", "--man=no", bad).CombinedOutput(); !bytes.Contains(out, []byte("ProtectSytem")) {
		t.Errorf("of a mistyped setting is said:\n%s", out)
	}
	if err := exec.Command(analyze, "security", "--offline=yes", "--no-pager", "--threshold=12", bad).Run(); err == nil {
		t.Error("a unit without any protection passes")
	}
}

// What systemd can't know of the program.
func TestUnitsFitTheProgram(t *testing.T) {
	dir, names := units(t)
	for _, n := range names {
		text := string(read(t, filepath.Join(dir, n)))
		if filepath.Ext(n) == ".timer" {
			if _, err := os.Stat(filepath.Join(dir, strings.TrimSuffix(n, ".timer")+".service")); err != nil {
				t.Errorf("%s starts nothing", n)
			}
			continue
		}
		// The readers' children set limits of their own, and the second PDF
		// engine makes machine code: what forbids that takes a protection away.
		for _, not := range []string{"@resources", "MemoryDenyWriteExecute=yes"} {
			if strings.Contains(text, not) {
				t.Errorf("%s has %s, which keeps the readers of files from bounding themselves or from working", n, not)
			}
		}
		commands := regexp.MustCompile(`(?m)^Exec\w+=(.*)$`).FindAllStringSubmatch(text, -1)
		if len(commands) == 0 {
			t.Errorf("%s runs nothing", n)
		}
		for _, c := range commands {
			words := strings.Fields(c[1])
			// Its flags are known to the program: asked for help it stops at
			// one that is not.
			if out, err := exec.Command(words[0], append(words[1:], "--help")...).CombinedOutput(); err != nil || !bytes.Contains(out, []byte("Usage:")) {
				t.Errorf("%s: %s (%v)\n%s", n, c[1], err, out)
			}
		}
	}
	// What serves the pages is held down as the watch is, but for who may reach
	// it, and the two are never started together.
	watch, serve := string(read(t, "../systemd/windrow.service")), string(read(t, "../systemd/windrow-serve.service"))
	for _, l := range strings.Split(watch, "\n") {
		if m := regexp.MustCompile(`^(Protect|Private|Restrict|Capability|System|NoNew|Memory|Tasks|Kill|Timeout)`); m.MatchString(l) && !strings.Contains(serve, "\n"+l+"\n") {
			t.Errorf("windrow-serve.service has no line %q", l)
		}
	}
	if !strings.Contains(serve, "\nConflicts=windrow.service\n") || strings.Contains(serve, "IPAddressAllow=localhost\nR") {
		t.Error("windrow-serve.service may run beside the watch, or nobody can reach it")
	}
	// The watch has its grace before it is killed, and some more.
	text := watch
	stop, err := time.ParseDuration(regexp.MustCompile(`(?m)^TimeoutStopSec=(\w+)$`).FindStringSubmatch(text)[1])
	if err != nil {
		t.Fatal(err)
	}
	if g := grace(t); stop < g+20*time.Second {
		t.Errorf("systemd kills after %v, and the file in hand may take %v", stop, g)
	}
}

// grace is watch.grace by default, as the program says it.
func grace(t *testing.T) time.Duration {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^watch\.grace +(\S+)`).FindStringSubmatch(output(t, dir, program, "config", "check"))
	if m == nil {
		t.Fatal("config check shows no watch.grace")
	}
	d, err := time.ParseDuration(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return d
}
