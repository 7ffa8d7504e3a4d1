package house

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The gate on licences is a script, because it needs the module cache. Here it
// is given a go command that names planted modules.
func TestLicenceGateComplains(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("skipped: there is no sh on this machine")
	}
	for _, x := range []struct{ name, file, text, want string }{
		{"mit", "LICENSE", "Permission is hereby granted, free of charge, to any person", ""},
		{"apache", "LICENSE.txt", "Apache License\n   Version 2.0, January 2004", ""},
		{"bsd", "LICENSE", "Redistribution and use in source and\n// binary forms, with or without: Redistribution and use in source and binary forms", ""},
		{"mpl", "LICENSE", "Mozilla Public License Version 2.0 ... GNU GENERAL PUBLIC", ""},
		{"gpl", "COPYING", "GNU GENERAL PUBLIC LICENSE\nVersion 3", "refused"},
		{"agpl", "LICENSE", "GNU AFFERO GENERAL PUBLIC LICENSE", "refused"},
		{"own", "LICENSE", "You may look at this.", "unknown"},
		{"none", "README", "nothing", "missing"},
	} {
		t.Run(x.name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.WriteFile(filepath.Join(dir, x.file), []byte(x.text), 0o600); err != nil {
				t.Fatal(err)
			}
			fake := filepath.Join(dir, "go")
			if err := os.WriteFile(fake, []byte("#!/bin/sh\necho planted.example/m v1.0.0 "+dir+"\n"), 0o700); err != nil {
				t.Fatal(err)
			}
			out, err := exec.Command(sh, filepath.Join(top(t), ".ci", "licences"), fake).CombinedOutput()
			if x.want == "" && (err != nil || !strings.Contains(string(out), "1 modules, all allowed")) ||
				x.want != "" && (err == nil || !strings.Contains(string(out), "planted.example/m v1.0.0: "+x.want)) {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}
