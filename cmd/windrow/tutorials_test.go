//go:build unix

package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestTutorials does what each page of tutorials tells its reader to do, in the
// order of the page, and wants what the page shows. In a block of console a
// line that begins with "$ " is typed, and what follows it is printed: "…"
// stands for any text, and by itself for any lines. A block that
// names a file ("yaml file=mappings/a.yaml") is saved there. Commands must end
// with 0 or 3, which says that something is held; one whose line ends in
// "# refused" must not.
// With -update the page gets what was printed wherever that is another text.
func TestTutorials(t *testing.T) {
	pages, err := filepath.Glob("tutorials/*.md")
	if err != nil || len(pages) < 4 {
		t.Fatalf("only %d pages (%v)", len(pages), err)
	}
	for _, page := range pages {
		t.Run(strings.TrimSuffix(filepath.Base(page), ".md"), func(t *testing.T) {
			t.Parallel() // most of a page's time is waiting
			b, err := os.ReadFile(page)
			if err != nil {
				t.Fatal(err)
			}
			out, done := follow(t, page, string(b))
			if done < 8 {
				t.Errorf("%s has %d commands", page, done)
			}
			if *update && out != string(b) {
				if err := os.WriteFile(page, []byte(out), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

// follow does what a page says. It gives the page with what was printed, and
// how many commands it has.
func follow(t *testing.T, page, text string) (out string, done int) {
	t.Helper()
	reader := newReader(t)
	var b strings.Builder
	lines := strings.SplitAfter(text, "\n")
	for i := 0; i < len(lines); i++ {
		line := strings.TrimRight(lines[i], "\n")
		b.WriteString(lines[i])
		if !strings.HasPrefix(line, "```") {
			continue
		}
		kind := strings.TrimPrefix(line, "```")
		var block []string
		begin := i + 1
		for i++; i < len(lines) && !strings.HasPrefix(lines[i], "```"); i++ {
			block = append(block, strings.TrimRight(lines[i], "\n"))
		}
		if i == len(lines) {
			t.Fatalf("%s:%d: the block has no end", page, begin)
		}
		switch {
		case kind == "console":
			n := reader.console(page, begin, block, &b)
			done += n
		case strings.Contains(kind, " file="):
			_, name, _ := strings.Cut(kind, " file=")
			at := filepath.Join(reader.where(), name)
			if err := os.WriteFile(at, []byte(strings.Join(block, "\n")+"\n"), 0o644); err != nil {
				t.Fatalf("%s:%d: %v", page, begin, err)
			}
			b.WriteString(strings.Join(block, "\n") + "\n")
		default:
			b.WriteString(strings.Join(block, "\n") + "\n")
		}
		b.WriteString(lines[i])
	}
	return b.String(), done
}

// A follower is somebody at a terminal, in an empty folder at first.
type follower struct {
	t   *testing.T
	in  io.Writer
	out *bufio.Reader
}

func newReader(t *testing.T) *follower {
	t.Helper()
	at, err := plain()
	if err != nil {
		t.Fatal(err)
	}
	// What is said depends on the season, so the clock is the fixed one; but for
	// the command that looks whether the clock is right.
	bin := t.TempDir()
	if err := os.WriteFile(filepath.Join(bin, "windrow"), fmt.Appendf(nil, "#!/bin/sh\ncase $1 in doctor) at=now;; *) at=fixed;; esac\n%s=$at exec %q \"$@\"\n", asProgram, at), 0o755); err != nil {
		t.Fatal(err)
	}
	sh := exec.Command("sh")
	sh.Dir = t.TempDir()
	sh.Env = append(os.Environ(), "PATH="+bin+":"+os.Getenv("PATH"), "LC_ALL=C.UTF-8", "COLUMNS=80")
	in, err := sh.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	sh.Stdout, sh.Stderr = w, w
	if err := sh.Start(); err != nil {
		t.Fatal(err)
	}
	_ = w.Close() // the shell has its own
	t.Cleanup(func() {
		_ = in.Close()
		_ = sh.Wait() // how the last command ended was looked at
		_ = r.Close()
	})
	return &follower{t, in, bufio.NewReader(r)}
}

const ended = "@@ended@@"

// types types a command, and gives what was printed and how it ended.
func (f *follower) types(command string) (printed []string, code int) {
	f.t.Helper()
	if _, err := fmt.Fprintf(f.in, "%s\nprintf '\\n%s %%s\\n' $?\n", command, ended); err != nil {
		f.t.Fatal(err)
	}
	for {
		line, err := f.out.ReadString('\n')
		if err != nil {
			f.t.Fatalf("%s: the shell ended: %v\n%s", command, err, strings.Join(printed, "\n"))
		}
		line = strings.TrimRight(line, " \n")
		if rest, ok := strings.CutPrefix(line, ended+" "); ok {
			code, err := strconv.Atoi(rest)
			if err != nil {
				f.t.Fatal(err)
			}
			for len(printed) > 0 && printed[len(printed)-1] == "" {
				printed = printed[:len(printed)-1]
			}
			return printed, code
		}
		printed = append(printed, line)
	}
}

// where is the folder that the reader is in.
func (f *follower) where() string {
	p, _ := f.types("pwd")
	return strings.Join(p, "")
}

// console does what a block says, and writes it with what was printed.
func (f *follower) console(page string, at int, block []string, b *strings.Builder) (done int) {
	f.t.Helper()
	for i := 0; i < len(block); {
		line := at + i + 1
		if !strings.HasPrefix(block[i], "$ ") {
			f.t.Fatalf("%s:%d: a block of console begins with what is typed, after \"$ \"", page, line)
		}
		typed := []string{block[i]}
		for i++; strings.HasSuffix(typed[len(typed)-1], `\`) && i < len(block); i++ {
			typed = append(typed, block[i])
		}
		var want []string
		for ; i < len(block) && !strings.HasPrefix(block[i], "$ "); i++ {
			want = append(want, block[i])
		}
		command := strings.TrimPrefix(strings.Join(typed, "\n"), "$ ")
		got, code := f.types(command)
		done++
		if refused := strings.HasSuffix(command, "# refused"); refused != (code != exitDone && code != exitHeld) {
			f.t.Errorf("%s:%d: %s\nended with %d\n%s", page, line, command, code, strings.Join(got, "\n"))
		}
		if !shows(want, got) {
			if !*update {
				f.t.Errorf("%s:%d: %s\nprinted\n%s\nand the page shows\n%s", page, line, command, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			want = got
		}
		b.WriteString(strings.Join(append(typed, want...), "\n") + "\n")
	}
	return done
}

// shows reports whether a page shows what was printed.
func shows(page, printed []string) bool {
	var re strings.Builder
	re.WriteString(`\A`)
	for _, l := range page {
		l = strings.TrimRight(l, " ")
		if l == "…" {
			re.WriteString(`(?:.*\n)*?`)
			continue
		}
		re.WriteString(strings.ReplaceAll(regexp.QuoteMeta(l), "…", ".*") + `\n`)
	}
	re.WriteString(`\z`)
	return regexp.MustCompile(re.String()).MatchString(strings.Join(append(printed, ""), "\n"))
}

func TestShows(t *testing.T) {
	for _, x := range []struct {
		page, printed []string
		want          bool
	}{
		{[]string{"a"}, []string{"a"}, true},
		{[]string{"a"}, []string{"a", "b"}, false},
		{[]string{"a", "…"}, []string{"a", "b", "c"}, true},
		{[]string{"…", "c"}, []string{"a", "b", "c"}, true},
		{[]string{"…", "c"}, []string{"a", "b"}, false},
		{[]string{"pH … of 7"}, []string{"pH 6.9 (1:1) of 7"}, true},
		{[]string{"pH … of 7"}, []string{"pH 6.9", " of 7"}, false},
		{[]string{"3.5 (P)"}, []string{"3x5 (P)"}, false},
		{nil, nil, true},
		{nil, []string{"a"}, false},
	} {
		if got := shows(x.page, x.printed); got != x.want {
			t.Errorf("%q shows %q: %v", x.page, x.printed, got)
		}
	}
}
