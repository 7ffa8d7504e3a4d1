package check

import (
	"bytes"
	"debug/elf"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/moby/buildkit/frontend/dockerfile/instructions"
	"github.com/moby/buildkit/frontend/dockerfile/linter"
	"github.com/moby/buildkit/frontend/dockerfile/parser"
)

const containerfile = "../Containerfile"

// stages parses a container definition by the parser of BuildKit, with the
// findings of its linter.
func stages(text []byte) (list []instructions.Stage, findings []string, err error) {
	parsed, err := parser.Parse(bytes.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	for _, w := range parsed.Warnings {
		findings = append(findings, w.Short)
	}
	lint := linter.New(&linter.Config{Warn: func(rule, _, _, text string, at []parser.Range) {
		line := 0
		if len(at) > 0 {
			line = at[0].Start.Line
		}
		findings = append(findings, fmt.Sprintf("%d: %s: %s", line, rule, text))
	}})
	list, _, err = instructions.Parse(parsed.AST, lint)
	return list, findings, err
}

// buildLine is the go build of the container definition, with its variables as
// they are by default.
func buildLine(text []byte) (string, error) {
	m := regexp.MustCompile(`(?m)^RUN (CGO_ENABLED=0 go build .*)$`).FindSubmatch(text)
	if m == nil {
		return "", fmt.Errorf("there is no go build in %s", containerfile)
	}
	return strings.NewReplacer("${VERSION}", "devel", "${COMMIT}", "").Replace(string(m[1])), nil
}

func buildAsContainer(dir string) (string, error) {
	text, err := os.ReadFile(containerfile)
	if err != nil {
		return "", err
	}
	line, err := buildLine(text)
	if err != nil {
		return "", err
	}
	at := filepath.Join(dir, "windrow")
	changed := strings.Replace(line, " -o /out/windrow ", " -o "+at+" ", 1)
	if changed == line {
		return "", fmt.Errorf("the go build of %s doesn't write /out/windrow, which its later stages copy: %s", containerfile, line)
	}
	cmd := exec.Command("sh", "-c", changed)
	cmd.Dir = top
	cmd.Env = append(os.Environ(), "GOFLAGS=-buildvcs=false")
	if b, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%s: %w\n%s", changed, err, b)
	}
	return at, nil
}

// policy is what BuildKit's linter doesn't ask for.
func policy(list []instructions.Stage) (breaches []string) {
	for i, st := range list {
		final := st.Name == "with-ocr" || i == len(list)-1
		if st.BaseName != "scratch" && (!strings.Contains(st.BaseName, ":") || strings.HasSuffix(st.BaseName, ":latest")) {
			breaches = append(breaches, fmt.Sprintf("stage %d: the base %q has no version", i, st.BaseName))
		}
		user, entry, stop := "", false, ""
		for _, c := range st.Commands {
			switch c := c.(type) {
			case *instructions.UserCommand:
				user = c.User
			case *instructions.EntrypointCommand:
				entry = !c.PrependShell
			case *instructions.StopSignalCommand:
				stop = c.Signal
			case *instructions.AddCommand:
				breaches = append(breaches, fmt.Sprintf("stage %d: ADD may fetch from anywhere; use COPY", i))
			}
		}
		if !final {
			continue
		}
		if !regexp.MustCompile(`^[1-9]\d*:[1-9]\d*$`).MatchString(user) {
			breaches = append(breaches, fmt.Sprintf("stage %d: it runs as %q and not as a number, of which Kubernetes can see that it isn't root", i, user))
		}
		if !entry || stop != "SIGTERM" {
			breaches = append(breaches, fmt.Sprintf("stage %d: signals don't reach the program: entrypoint without a shell %v, stop signal %q", i, entry, stop))
		}
	}
	return breaches
}

func TestContainerfile(t *testing.T) {
	text := read(t, containerfile)
	list, findings, err := stages(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings {
		t.Error(f)
	}
	for _, b := range policy(list) {
		t.Error(b)
	}
	if len(list) < 3 || list[len(list)-1].BaseName != "scratch" {
		t.Errorf("%d stages, the last from %q", len(list), list[len(list)-1].BaseName)
	}
	// What is copied from the repository is there, and every folder with Go
	// code is among it.
	copied := regexp.MustCompile(`(?m)^COPY (\w+) (\w+)$`).FindAllSubmatch(text, -1)
	var dirs []string
	for _, m := range copied {
		dirs = append(dirs, string(m[1]))
	}
	for _, d := range []string{"cmd", "ingest", "interpret", "mappings", "normalize"} {
		if !slices.Contains(dirs, d) {
			t.Errorf("the folder %s is not copied", d)
		}
	}
	// The checks can complain.
	for planted, want := range map[string]string{
		"FROM golang\nRUN true\nFROM scratch\nUSER root\nENTRYPOINT windrow\n": "has no version",
		"FROM a:1 as x\nFROM scratch\nUSER 1:1\nENTRYPOINT [\"a\"]\n":          "FromAsCasing",
		"FROM scratch\nADD https://example.org/x /\nUSER 1:1\n":                "use COPY",
		"FROM scratch\nUSER 65532:65532\nENTRYPOINT windrow\n":                 "signals don't reach",
	} {
		list, findings, err := stages([]byte(planted))
		all := strings.Join(append(findings, policy(list)...), "\n")
		if err != nil || !strings.Contains(all, want) {
			t.Errorf("of a planted fault (%v):\n%s\nis said:\n%s", err, planted, all)
		}
	}
	if _, _, err := stages([]byte("FROM scratch\nCOYP a b\n")); err == nil {
		t.Error("a word that is no instruction passes")
	}
}

// The binary is static, and works where there is nothing else: an empty
// environment, and a root that can't be written to.
func TestBinaryOfTheImage(t *testing.T) {
	f, err := elf.Open(program)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP || p.Type == elf.PT_DYNAMIC {
			t.Errorf("the program is not static: it has a segment %v", p.Type)
		}
	}
	if libs, err := f.ImportedLibraries(); err == nil && len(libs) > 0 {
		t.Errorf("it wants %v", libs)
	}
	dir := filepath.Join(filepath.Dir(program), "root")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	report := filepath.Join(dir, "report.csv")
	if err := os.WriteFile(report, read(t, filepath.Join(top, "testdata/labs/marrow-brook-land-water-testing/MB26-0711.csv")), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"version"}, {"show", "results", report}, {"conversions"}} {
		cmd := exec.Command(program, args...)
		cmd.Dir, cmd.Env = dir, []string{}
		if os.Getuid() == 0 { // root may write anywhere: be the user of the image
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65532, Gid: 65532}}
		}
		var errs bytes.Buffer
		cmd.Stderr = &errs
		out, err := cmd.Output()
		if err != nil || len(out) == 0 {
			t.Errorf("%v: %v\n%s%s", args, err, out, errs.Bytes())
		}
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("it left %v in the folder (%v)", left, err)
	}
}
