package check

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/compose-spec/compose-go/v2/loader"
	"github.com/compose-spec/compose-go/v2/types"
)

// composed loads a compose file by the reference library of the Compose
// specification, which checks it against the specification's schema.
func composed(t *testing.T, path string, text []byte) (*types.Project, error) {
	t.Helper()
	dir, err := filepath.Abs(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	return loader.LoadWithContext(context.Background(), types.ConfigDetails{WorkingDir: dir, ConfigFiles: []types.ConfigFile{{Filename: path, Content: text}},
		Environment: types.Mapping{"OFFICE": "/srv/soil-desk"}}, func(o *loader.Options) { o.SetProjectName("windrow", true) })
}

// held wants every service of a project held down, and all that it mounts to be
// there.
func held(t *testing.T, p *types.Project, services int, elsewhere ...string) {
	t.Helper()
	if len(p.Services) != services {
		t.Errorf("%d services", len(p.Services))
	}
	for name, s := range p.Services {
		if !s.ReadOnly || len(s.CapDrop) != 1 || s.CapDrop[0] != "ALL" || s.User == "" || strings.HasPrefix(s.User, "0") || len(s.SecurityOpt) == 0 || s.MemLimit == 0 || s.PidsLimit == 0 || s.Privileged {
			t.Errorf("%s is not held down: %+v", name, s)
		}
		if !strings.HasPrefix(s.Image, "windrow:") && (!strings.Contains(s.Image, ":") || strings.HasSuffix(s.Image, ":latest")) {
			t.Errorf("%s: the image %q has no version", name, s.Image)
		}
		for _, port := range s.Ports {
			if port.HostIP != "127.0.0.1" {
				t.Errorf("%s: other computers reach port %s", name, port.Published)
			}
		}
		for _, v := range s.Volumes {
			if v.Type == types.VolumeTypeBind && !slices.Contains(elsewhere, v.Source) {
				if _, err := os.Stat(v.Source); err != nil {
					t.Errorf("%s mounts what isn't there: %v", name, err)
				}
			}
		}
		if test := s.HealthCheck; test != nil && len(test.Test) > 2 && test.Test[1] == "/usr/bin/windrow" {
			// The program knows what the health check asks of it.
			if !strings.Contains(output(t, ".", program, append([]string(test.Test[2:]), "--help")...), "Usage:") {
				t.Errorf("the health check of %s is %v", name, test.Test)
			}
		}
	}
}

// The central engine is a further file, which the loader puts over the first.
func TestComposeEngine(t *testing.T) {
	dir, err := filepath.Abs("..")
	if err != nil {
		t.Fatal(err)
	}
	env := types.Mapping{"OFFICE": "/srv/soil-desk", "WORKER": "/srv/worker"}
	var files []types.ConfigFile
	for _, f := range []string{"../compose.yaml", "../compose.engine.yaml"} {
		files = append(files, types.ConfigFile{Filename: f, Content: read(t, f)})
	}
	p, err := loader.LoadWithContext(context.Background(), types.ConfigDetails{WorkingDir: dir, ConfigFiles: files, Environment: env}, func(o *loader.Options) { o.SetProjectName("windrow", true) })
	if err != nil {
		t.Fatal(err)
	}
	held(t, p, 6, "/srv/soil-desk", "/srv/worker")
	w, office := p.Services["worker"], p.Services["windrow"]
	if w.Deploy == nil || w.Deploy.Replicas == nil || *w.Deploy.Replicas != 2 || w.Command[0] != "work" {
		t.Errorf("the workers are %+v", w)
	}
	if len(w.Volumes) != 1 || !w.Volumes[0].ReadOnly {
		t.Error("the workers may write to their folder, which they share")
	}
	for _, name := range []string{"worker", "windrow", "database", "store"} {
		if s := p.Services[name]; len(s.Networks) != 1 || len(s.Ports) > 0 || !p.Networks["inner"].Internal {
			t.Errorf("%s can be reached, or reaches others, beyond the network of its own", name)
		}
	}
	// Office and workers have one engine, and the program takes its addresses.
	for _, k := range []string{"WINDROW_ENGINE_DATABASE", "WINDROW_ENGINE_STORE", "PGPASSFILE", "AWS_SHARED_CREDENTIALS_FILE"} {
		if w.Environment[k] == nil || office.Environment[k] == nil || *w.Environment[k] != *office.Environment[k] {
			t.Errorf("office and workers don't agree on %s", k)
		}
	}
	home := t.TempDir()
	if err := os.WriteFile(filepath.Join(home, "windrow.yaml"), []byte("office:\n  name: x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"WINDROW_ENGINE_DATABASE", "WINDROW_ENGINE_STORE"} {
		t.Setenv(k, *w.Environment[k])
	}
	if out := output(t, home, program, "config", "check"); !strings.Contains(out, *w.Environment["WINDROW_ENGINE_STORE"]) {
		t.Errorf("config check shows no store:\n%s", out)
	}
	// Every secret that a service names is declared, and stands in no variable.
	for name, s := range p.Services {
		for _, x := range s.Secrets {
			if p.Secrets[x.Source].File == "" {
				t.Errorf("%s: there is no secret %s", name, x.Source)
			}
		}
		for k, v := range s.Environment {
			if strings.Contains(k, "PASSWORD") && !strings.HasSuffix(k, "_FILE") && !strings.HasSuffix(k, "__FILE") {
				t.Errorf("%s: %s is %v, and not a file", name, k, v)
			}
		}
	}
}

func TestCompose(t *testing.T) {
	const path = "../compose.yaml"
	text := read(t, path)
	p, err := composed(t, path, text)
	if err != nil {
		t.Fatal(err)
	}
	held(t, p, 3, "/srv/soil-desk")
	w := p.Services["windrow"]
	if _, err := os.Stat(filepath.Join(w.Build.Context, w.Build.Dockerfile)); err != nil {
		t.Error(err)
	}
	if !p.Networks["inner"].Internal || len(w.Networks) != 1 || len(w.Ports) > 0 {
		t.Error("the watch can be reached, or reaches others, beyond the network of its own")
	}
	if w.StopGracePeriod == nil || time.Duration(*w.StopGracePeriod) < grace(t)+20*time.Second {
		t.Errorf("it is killed after %v", w.StopGracePeriod)
	}
	if test := w.HealthCheck.Test; len(test) < 3 || test[0] != "CMD" || test[1] != "/usr/bin/windrow" {
		t.Errorf("the health check is %v", test)
	}
	// Prometheus asks where the watch answers.
	if conf := string(read(t, "../prometheus/prometheus.yml")); !strings.Contains(conf, `"windrow:8471"`) || !strings.Contains(string(read(t, containerfile)), "WINDROW_LISTEN_METRICS=0.0.0.0:8471") {
		t.Error("Prometheus and the watch don't agree on a port")
	}
	// The schema can complain.
	for _, planted := range [][2]string{{"mem_limit: 2g", "mem_limt: 2g"}, {"tmpfs: [\"/tmp:mode=1777,size=256m\"]", "tmpfs: {a: b}"}, {"networks: [inner]", "networks: [nowhere]"}} {
		bad := strings.Replace(string(text), planted[0], planted[1], 1)
		if bad == string(text) {
			t.Fatalf("%q is not in the file", planted[0])
		}
		if _, err := composed(t, path, []byte(bad)); err == nil {
			t.Errorf("%q passes", planted[1])
		}
	}
}
