package check

import (
	"context"
	"os"
	"path/filepath"
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

func TestCompose(t *testing.T) {
	const path = "../compose.yaml"
	text := read(t, path)
	p, err := composed(t, path, text)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Services) != 3 {
		t.Errorf("%d services", len(p.Services))
	}
	for name, s := range p.Services {
		if !s.ReadOnly || len(s.CapDrop) != 1 || s.CapDrop[0] != "ALL" || s.User == "" || strings.HasPrefix(s.User, "0") || len(s.SecurityOpt) == 0 || s.MemLimit == 0 || s.PidsLimit == 0 || s.Privileged {
			t.Errorf("%s is not held down: %+v", name, s)
		}
		if s.Build == nil && (!strings.Contains(s.Image, ":") || strings.HasSuffix(s.Image, ":latest")) {
			t.Errorf("%s: the image %q has no version", name, s.Image)
		}
		for _, port := range s.Ports {
			if port.HostIP != "127.0.0.1" {
				t.Errorf("%s: other computers reach port %s", name, port.Published)
			}
		}
		for _, v := range s.Volumes {
			if v.Type == types.VolumeTypeBind && v.Source != "/srv/soil-desk" {
				if _, err := os.Stat(v.Source); err != nil {
					t.Errorf("%s mounts what isn't there: %v", name, err)
				}
			}
		}
	}
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
	// The program knows what the health check asks of it.
	test := w.HealthCheck.Test
	if len(test) < 3 || test[0] != "CMD" || test[1] != "/usr/bin/windrow" || !strings.Contains(output(t, ".", program, append([]string(test[2:]), "--help")...), "Usage:") {
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
