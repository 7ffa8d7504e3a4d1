package check

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"sigs.k8s.io/yaml"
)

// goreleaser is the version whose schema the settings of releases are held
// against. Its source has the schema; the program itself is not built, as that
// takes longer than all the rest.
const goreleaser = "github.com/goreleaser/goreleaser/v2@v2.13.3"

func schemaOfReleases(t *testing.T) *jsonschema.Schema {
	t.Helper()
	cmd := exec.Command("go", "mod", "download", "-json", goreleaser)
	cmd.Dir = t.TempDir()
	out, err := cmd.Output()
	var mod struct{ Dir string }
	if jerr := json.Unmarshal(out, &mod); err != nil || jerr != nil || mod.Dir == "" {
		t.Skipf("skipped: %s could not be had, and with it the schema (%v)", goreleaser, err)
	}
	b := read(t, filepath.Join(mod.Dir, "www", "docs", "static", "schema.json"))
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(b)))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("goreleaser.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("goreleaser.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validRelease(s *jsonschema.Schema, text []byte) error {
	b, err := yaml.YAMLToJSONStrict(text)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(b)))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

func TestRelease(t *testing.T) {
	text := read(t, filepath.Join(top, ".goreleaser.yaml"))
	s := schemaOfReleases(t)
	if err := validRelease(s, text); err != nil {
		t.Error(err)
	}
	for _, planted := range [][2]string{{"mod_timestamp:", "mod_timestmp:"}, {"formats: [deb]", "formats: deb"}, {"artifacts: archive", "artifacts: everything"}, {"version: 2", "version: two"}} {
		bad := strings.Replace(string(text), planted[0], planted[1], 1)
		if bad == string(text) {
			t.Fatalf("%q isn't in the file", planted[0])
		}
		if err := validRelease(s, []byte(bad)); err == nil {
			t.Errorf("%q passes", planted[1])
		}
	}
}

// What the settings name is there, and a release is built as an image is.
func TestReleaseNamesWhatIsThere(t *testing.T) {
	var conf struct {
		Builds []struct {
			Main       string
			Env, Flags []string
			Ldflags    []string
		}
		Archives []struct{ Files []any }
		Nfpms    []struct {
			Contents []struct{ Src string }
		}
		Sboms []any
	}
	if err := yaml.Unmarshal(read(t, filepath.Join(top, ".goreleaser.yaml")), &conf); err != nil {
		t.Fatal(err)
	}
	var globs []string
	for _, a := range conf.Archives {
		for _, f := range a.Files {
			switch f := f.(type) {
			case string:
				globs = append(globs, f)
			case map[string]any:
				globs = append(globs, f["src"].(string))
			}
		}
	}
	for _, n := range conf.Nfpms {
		for _, c := range n.Contents {
			globs = append(globs, c.Src)
		}
	}
	if len(globs) < 10 || len(conf.Sboms) == 0 {
		t.Errorf("files %v, bills of materials %v", globs, conf.Sboms)
	}
	for _, g := range globs {
		if found, err := filepath.Glob(filepath.Join(top, strings.ReplaceAll(g, "**/", "*/"))); err != nil || len(found) == 0 {
			t.Errorf("%s names nothing (%v); what lies in bin/manual is made by make manual", g, err)
		}
	}
	b := conf.Builds[0]
	if _, err := os.Stat(filepath.Join(top, b.Main)); err != nil {
		t.Error(err)
	}
	image, err := buildLine(read(t, containerfile))
	if err != nil {
		t.Fatal(err)
	}
	names := regexp.MustCompile(`main\.\w+`)
	line := strings.Join(append(append(b.Env, b.Flags...), b.Ldflags...), " ")
	for _, w := range append(names.FindAllString(image, -1), "CGO_ENABLED=0", "-trimpath", "-s -w") {
		if !strings.Contains(line, w) {
			t.Errorf("an image is built with %s, and a release is not: %s", w, line)
		}
	}
	for _, n := range names.FindAllString(line, -1) {
		if !strings.Contains(string(read(t, filepath.Join(top, "cmd/windrow/main.go"))), "\t"+strings.TrimPrefix(n, "main.")+" ") {
			t.Errorf("the linker is to set %s, which isn't there", n)
		}
	}
}
