package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Every command that is listed has a manual page with its purpose and all its
// flags, and the shells can be told of it.
func TestManual(t *testing.T) {
	dir := t.TempDir()
	root := newRoot(&env{})
	if err := writeManual(root, dir); err != nil {
		t.Fatal(err)
	}
	pages := 0
	var each func(*cobra.Command)
	each = func(c *cobra.Command) {
		if c.Hidden || c.Name() == "help" {
			return
		}
		pages++
		at := filepath.Join(dir, "man1", strings.ReplaceAll(c.CommandPath(), " ", "-")+".1")
		b, err := os.ReadFile(at)
		if err != nil {
			t.Error(err)
			return
		}
		text := strings.ReplaceAll(string(b), `\-`, "-")
		want := []string{c.Short, ".SH SYNOPSIS"}
		for _, f := range strings.Fields(c.LocalFlags().FlagUsages()) {
			if strings.HasPrefix(f, "--") {
				want = append(want, f)
			}
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s has no %q", filepath.Base(at), w)
			}
		}
		for _, k := range c.Commands() {
			each(k)
		}
	}
	each(root)
	if pages < 40 {
		t.Errorf("only %d commands", pages)
	}
	for _, name := range []string{"windrow.bash", "_windrow", "windrow.fish"} {
		b, err := os.ReadFile(filepath.Join(dir, "completions", name))
		if err != nil || !strings.Contains(string(b), "__windrow") && !strings.Contains(string(b), "_windrow") {
			t.Errorf("%s: %d bytes, %v", name, len(b), err)
		}
	}
}
