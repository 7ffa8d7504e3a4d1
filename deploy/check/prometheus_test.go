package check

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/promql/parser"
	"sigs.k8s.io/yaml"
)

// exported are the metrics of a watch that has worked: each name, with the
// values that its labels had.
type exported map[string]map[string]map[string]bool

var sample = regexp.MustCompile(`(?m)^([a-zA-Z_:][\w:]*)(?:\{(.*)\})? \S+$`)
var pair = regexp.MustCompile(`(\w+)="([^"]*)"`)

var scraped = sync.OnceValues(func() (exported, error) {
	dir, err := os.MkdirTemp("", "windrow-office-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: x\nlisten: 127.0.0.1:0\n"), 0o600); err != nil {
		return nil, err
	}
	if err := os.Mkdir(filepath.Join(dir, "inbox"), 0o700); err != nil {
		return nil, err
	}
	b, err := os.ReadFile(filepath.Join(top, "testdata/labs/marrow-brook-land-water-testing/MB26-0711.csv"))
	if err != nil {
		return nil, err
	}
	if err := os.WriteFile(filepath.Join(dir, "inbox", "a.csv"), b, 0o600); err != nil {
		return nil, err
	}
	cmd := exec.Command(program, "watch", "--office", dir)
	errs, err := cmd.StderrPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	defer func() {
		_ = cmd.Process.Kill() // the office is thrown away
		_ = cmd.Wait()
	}()
	said := make([]byte, 0, 4096)
	at := regexp.MustCompile(`http://127\.0\.0\.1:\d+`)
	for at.Find(said) == nil {
		part := make([]byte, 1024)
		n, err := errs.Read(part)
		if err != nil {
			return nil, fmt.Errorf("the watch says %s (%w)", said, err)
		}
		said = append(said, part[:n]...)
	}
	go func() { _, _ = io.Copy(io.Discard, errs) }()
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		resp, err := http.Get(string(at.Find(said)) + "/metrics")
		if err != nil {
			return nil, err
		}
		b, err := io.ReadAll(resp.Body)
		_ = resp.Body.Close()
		if err != nil {
			return nil, err
		}
		if !bytes.Contains(b, []byte(`outcome="archived"} 1`)) {
			if time.Now().After(end) {
				return nil, fmt.Errorf("no report was archived:\n%s", b)
			}
			continue
		}
		out := exported{"up": {"job": {"windrow": true}}}
		for _, m := range sample.FindAllSubmatch(b, -1) {
			name := string(m[1])
			if out[name] == nil {
				// Prometheus adds these two to what it asks.
				out[name] = map[string]map[string]bool{"job": {"windrow": true}, "instance": {}}
			}
			for _, p := range pair.FindAllSubmatch(m[2], -1) {
				l := string(p[1])
				if out[name][l] == nil {
					out[name][l] = map[string]bool{}
				}
				out[name][l][string(p[2])] = true
			}
		}
		return out, nil
	}
})

// known holds an expression against what is exported: it parses, each metric is
// there, and so are the labels and the values that it asks for and sums by.
func known(ex exported, expr string) (breaches []string) {
	e, err := parser.NewParser(parser.Options{}).ParseExpr(expr)
	if err != nil {
		return []string{err.Error()}
	}
	all := map[string]bool{}
	metrics := 0
	parser.Inspect(e, func(n parser.Node, _ []parser.Node) error {
		v, ok := n.(*parser.VectorSelector)
		if !ok {
			return nil
		}
		metrics++
		have, ok := ex[v.Name]
		if !ok {
			breaches = append(breaches, "no watch exports "+v.Name)
			return nil
		}
		for l := range have {
			all[l] = true
		}
		for _, m := range v.LabelMatchers {
			if m.Name == labels.MetricName {
				continue
			}
			values, ok := have[m.Name]
			found := len(values) == 0
			for x := range values {
				found = found || m.Matches(x)
			}
			if !ok || !found {
				breaches = append(breaches, fmt.Sprintf("%s has no %s", v.Name, m))
			}
		}
		return nil
	})
	parser.Inspect(e, func(n parser.Node, _ []parser.Node) error {
		if a, ok := n.(*parser.AggregateExpr); ok {
			for _, l := range a.Grouping {
				if !all[l] {
					breaches = append(breaches, "nothing in it has a label "+l)
				}
			}
		}
		return nil
	})
	if metrics == 0 {
		breaches = append(breaches, "it asks for no metric")
	}
	return breaches
}

func metricsOf(t *testing.T) exported {
	t.Helper()
	ex, err := scraped()
	if err != nil {
		t.Fatal(err)
	}
	if len(ex) < 20 {
		t.Fatalf("a watch exports only %d metrics", len(ex))
	}
	return ex
}

type ruleFile struct {
	Groups []struct {
		Rules []struct {
			Alert, Expr string
			Labels      map[string]string
			Annotations map[string]string
		}
	}
}

func alerts(t *testing.T) ruleFile {
	t.Helper()
	var f ruleFile
	if err := yaml.Unmarshal(read(t, "../prometheus/alerts.yml"), &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// An alert on a metric that nobody exports never fires.
func TestAlertsAskForWhatIsExported(t *testing.T) {
	ex := metricsOf(t)
	n := 0
	for _, g := range alerts(t).Groups {
		for _, r := range g.Rules {
			n++
			for _, b := range known(ex, r.Expr) {
				t.Errorf("%s: %s", r.Alert, b)
			}
			if s := r.Labels["severity"]; s != "page" && s != "warn" {
				t.Errorf("%s: severity %q", r.Alert, s)
			}
			if r.Annotations["summary"] == "" || r.Annotations["description"] == "" {
				t.Errorf("%s: it doesn't say what to do", r.Alert)
			}
		}
	}
	if n < 7 {
		t.Errorf("only %d alerts", n)
	}
	for planted, want := range map[string]string{"windrow_oldest_wait > 1": "exports windrow_oldest_wait", `windrow_reports_total{outcome="kept"} > 1`: "has no outcome",
		"sum by (laboratory) (windrow_reports_total) > 1": "label laboratory", "windrow_held_files >": "parse error", "1 > bool 2": "no metric"} {
		if got := strings.Join(known(ex, planted), "\n"); !strings.Contains(got, want) {
			t.Errorf("of %q is said %q", planted, got)
		}
	}
}

// Each alert has a case in which it fires and one in which it doesn't.
func TestEveryAlertIsTested(t *testing.T) {
	fires, quiet := map[string]bool{}, map[string]bool{}
	for _, p := range []string{"alerts_test.yml", "alerts_slow_test.yml"} {
		var f struct {
			Tests []struct {
				Cases []struct {
					Name   string `json:"alertname"`
					Expect []any  `json:"exp_alerts"`
				} `json:"alert_rule_test"`
			}
		}
		if err := yaml.Unmarshal(read(t, "../prometheus/"+p), &f); err != nil {
			t.Fatal(err)
		}
		for _, x := range f.Tests {
			for _, c := range x.Cases {
				if len(c.Expect) > 0 {
					fires[c.Name] = true
				} else {
					quiet[c.Name] = true
				}
			}
		}
	}
	for _, g := range alerts(t).Groups {
		for _, r := range g.Rules {
			if !fires[r.Alert] || !quiet[r.Alert] {
				t.Errorf("%s: fires in a test %v, is quiet in one %v", r.Alert, fires[r.Alert], quiet[r.Alert])
			}
		}
	}
}

// Prometheus' own program runs the cases, and reads its settings.
func TestPromtool(t *testing.T) {
	tool := find(t, "promtool", "prometheus")
	const dir = "../prometheus"
	output(t, dir, tool, "check", "config", "prometheus.yml")
	t.Log(output(t, dir, tool, "test", "rules", "alerts_test.yml", "alerts_slow_test.yml"))
	// It can complain.
	bad := t.TempDir()
	rules := bytes.Replace(read(t, dir+"/alerts.yml"), []byte("windrow_oldest_waiting_seconds > 900"), []byte("windrow_oldest_waiting_seconds > 9000"), 1)
	for name, b := range map[string][]byte{"alerts.yml": rules, "alerts_test.yml": read(t, dir+"/alerts_test.yml")} {
		if err := os.WriteFile(filepath.Join(bad, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(tool, "test", "rules", "alerts_test.yml")
	cmd.Dir = bad
	if out, err := cmd.CombinedOutput(); err == nil || !bytes.Contains(out, []byte("WindrowReportWaits")) {
		t.Errorf("a rule with another bound passes (%v):\n%s", err, out)
	}
}

type board struct {
	UID    string
	Panels []panel
}

type panel struct {
	ID          int
	Type, Title string
	Description string
	GridPos     struct{ X, Y, W, H int }
	FieldConfig struct{ Defaults struct{ Unit string } }
	Targets     []struct{ RefID, Expr string }
}

// units of Grafana that the board may use (its own list has many more).
var someUnits = map[string]bool{"s": true, "short": true, "bytes": true, "percentunit": true}

// lint is what is wrong with a board.
func lint(ex exported, b board) (breaches []string) {
	say := func(f string, a ...any) { breaches = append(breaches, fmt.Sprintf(f, a...)) }
	ids := map[int]bool{}
	for i, p := range b.Panels {
		if p.ID == 0 || ids[p.ID] {
			say("%q: the id %d is another one's", p.Title, p.ID)
		}
		ids[p.ID] = true
		g := p.GridPos
		if p.Title == "" || g.W < 1 || g.H < 1 || g.X+g.W > 24 {
			say("the panel %d has no title, or no place: %+v", p.ID, g)
		}
		for _, o := range b.Panels[:i] {
			h := o.GridPos
			if g.X < h.X+h.W && h.X < g.X+g.W && g.Y < h.Y+h.H && h.Y < g.Y+g.H {
				say("%q lies on %q", p.Title, o.Title)
			}
		}
		if p.Type == "row" {
			continue
		}
		if !someUnits[p.FieldConfig.Defaults.Unit] {
			say("%q: the unit %q", p.Title, p.FieldConfig.Defaults.Unit)
		}
		if p.Description == "" || len(p.Targets) == 0 {
			say("%q says nothing, or shows nothing", p.Title)
		}
		refs := map[string]bool{}
		for _, x := range p.Targets {
			if refs[x.RefID] {
				say("%q: two queries %s", p.Title, x.RefID)
			}
			refs[x.RefID] = true
			for _, k := range known(ex, strings.ReplaceAll(x.Expr, "$job", "windrow")) {
				say("%q: %s: %s", p.Title, x.Expr, k)
			}
		}
	}
	return breaches
}

func TestBoard(t *testing.T) {
	ex := metricsOf(t)
	load := func() (b board) {
		if err := json.Unmarshal(read(t, "../grafana/windrow.json"), &b); err != nil {
			t.Fatal(err)
		}
		return b
	}
	b := load()
	for _, x := range lint(ex, b) {
		t.Error(x)
	}
	if len(b.Panels) < 10 || b.UID == "" {
		t.Errorf("%d panels", len(b.Panels))
	}
	for want, damage := range map[string]func(b *board){
		"another one's": func(b *board) { b.Panels[2].ID = b.Panels[1].ID },
		"lies on":       func(b *board) { b.Panels[2].GridPos = b.Panels[1].GridPos },
		"the unit":      func(b *board) { b.Panels[1].FieldConfig.Defaults.Unit = "" },
		"exports":       func(b *board) { b.Panels[1].Targets[0].Expr = "windrow_nothing" },
	} {
		x := load()
		damage(&x)
		if got := strings.Join(lint(ex, x), "\n"); !strings.Contains(got, want) {
			t.Errorf("of planted damage (%s) is said %q", want, got)
		}
	}
}
