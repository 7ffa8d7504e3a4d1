package check

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	appsv1 "k8s.io/api/apps/v1"
	batchv1 "k8s.io/api/batch/v1"
	corev1 "k8s.io/api/core/v1"
	networkingv1 "k8s.io/api/networking/v1"
	policyv1 "k8s.io/api/policy/v1"
	metav1 "k8s.io/apimachinery/pkg/apis/meta/v1"
	"k8s.io/apimachinery/pkg/labels"
	"sigs.k8s.io/kustomize/api/krusty"
	"sigs.k8s.io/kustomize/kyaml/filesys"
	"sigs.k8s.io/yaml"
)

// kinds are the types of Kubernetes' own API into which each manifest is
// decoded, strictly: a field that doesn't exist, or of another type, is an
// error. What only a cluster knows, such as an admission rule, is not seen.
var kinds = map[string]func() any{
	"v1/Namespace": func() any { return &corev1.Namespace{} }, "v1/PersistentVolumeClaim": func() any { return &corev1.PersistentVolumeClaim{} },
	"v1/Service": func() any { return &corev1.Service{} }, "v1/ConfigMap": func() any { return &corev1.ConfigMap{} },
	"apps/v1/Deployment": func() any { return &appsv1.Deployment{} }, "batch/v1/CronJob": func() any { return &batchv1.CronJob{} },
	"networking.k8s.io/v1/NetworkPolicy": func() any { return &networkingv1.NetworkPolicy{} }, "policy/v1/PodDisruptionBudget": func() any { return &policyv1.PodDisruptionBudget{} },
}

// manifests are what kustomize makes of a folder, each decoded.
func manifests(dir string) ([]any, error) {
	made, err := krusty.MakeKustomizer(krusty.MakeDefaultOptions()).Run(filesys.MakeFsOnDisk(), dir)
	if err != nil {
		return nil, err
	}
	var out []any
	for _, r := range made.Resources() {
		b, err := r.AsYAML()
		if err != nil {
			return nil, err
		}
		o, err := decoded(b)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

func decoded(b []byte) (any, error) {
	var t metav1.TypeMeta
	if err := yaml.Unmarshal(b, &t); err != nil {
		return nil, err
	}
	make, ok := kinds[t.APIVersion+"/"+t.Kind]
	if !ok {
		return nil, fmt.Errorf("a kind that nobody checks: %s/%s", t.APIVersion, t.Kind)
	}
	o := make()
	if err := yaml.UnmarshalStrict(b, o); err != nil {
		return nil, fmt.Errorf("%s: %w", t.Kind, err)
	}
	return o, nil
}

// A pod is a template of pods and where it comes from.
type pod struct {
	name string
	corev1.PodTemplateSpec
}

func pods(all []any) (out []pod) {
	for _, o := range all {
		switch o := o.(type) {
		case *appsv1.Deployment:
			out = append(out, pod{o.Name, o.Spec.Template})
		case *batchv1.CronJob:
			out = append(out, pod{o.Name, o.Spec.JobTemplate.Spec.Template})
		}
	}
	return out
}

// restricted holds a pod against the restricted Pod Security Standard of
// Kubernetes (kubernetes.io/docs/concepts/security/pod-security-standards, from
// memory), and wants a read-only root and limits besides.
func restricted(p pod) (breaches []string) {
	say := func(f string, a ...any) { breaches = append(breaches, p.name+": "+fmt.Sprintf(f, a...)) }
	s := p.Spec
	if s.HostNetwork || s.HostPID || s.HostIPC {
		say("it shares something with the node")
	}
	if s.AutomountServiceAccountToken == nil || *s.AutomountServiceAccountToken {
		say("it is given a token of the cluster, which it doesn't need")
	}
	sc := s.SecurityContext
	if sc == nil || sc.RunAsNonRoot == nil || !*sc.RunAsNonRoot || sc.RunAsUser == nil || *sc.RunAsUser == 0 || sc.SeccompProfile == nil || sc.SeccompProfile.Type != corev1.SeccompProfileTypeRuntimeDefault {
		say("it may run as root, or without a filter of system calls")
	}
	for _, v := range s.Volumes {
		if v.HostPath != nil {
			say("it mounts a folder of the node")
		}
		if v.EmptyDir != nil && v.EmptyDir.SizeLimit == nil {
			say("the volume %s has no bound", v.Name)
		}
	}
	for _, c := range s.Containers {
		x := c.SecurityContext
		if x == nil || x.AllowPrivilegeEscalation == nil || *x.AllowPrivilegeEscalation || x.ReadOnlyRootFilesystem == nil || !*x.ReadOnlyRootFilesystem || x.Capabilities == nil || len(x.Capabilities.Drop) != 1 || x.Capabilities.Drop[0] != "ALL" {
			say("the container %s may do more than it needs", c.Name)
		}
		for _, r := range []corev1.ResourceName{corev1.ResourceCPU, corev1.ResourceMemory, corev1.ResourceEphemeralStorage} {
			_, limit := c.Resources.Limits[r]
			if _, request := c.Resources.Requests[r]; !limit || !request {
				say("the container %s has no limit or no request of %s", c.Name, r)
			}
		}
	}
	return breaches
}

// whole holds the manifests against each other: what one names, another has.
func whole(all []any) (breaches []string) {
	say := func(f string, a ...any) { breaches = append(breaches, fmt.Sprintf(f, a...)) }
	have := map[string]bool{}
	for _, o := range all {
		switch o := o.(type) {
		case *corev1.PersistentVolumeClaim:
			have["claim "+o.Name] = true
		case *corev1.ConfigMap:
			have["map "+o.Name] = true
		}
	}
	for _, p := range pods(all) {
		volumes := map[string]bool{}
		for _, v := range p.Spec.Volumes {
			volumes[v.Name] = true
			if v.PersistentVolumeClaim != nil && !have["claim "+v.PersistentVolumeClaim.ClaimName] {
				say("%s: there is no claim %s", p.name, v.PersistentVolumeClaim.ClaimName)
			}
			if v.ConfigMap != nil && !have["map "+v.ConfigMap.Name] {
				say("%s: there is no map %s", p.name, v.ConfigMap.Name)
			}
		}
		for _, c := range p.Spec.Containers {
			for _, m := range c.VolumeMounts {
				if !volumes[m.Name] {
					say("%s: there is no volume %s", p.name, m.Name)
				}
			}
			ports := map[string]bool{}
			for _, x := range c.Ports {
				ports[x.Name] = true
			}
			for _, probe := range []*corev1.Probe{c.StartupProbe, c.ReadinessProbe, c.LivenessProbe} {
				if probe != nil && (probe.HTTPGet == nil || !ports[probe.HTTPGet.Port.String()]) {
					say("%s: a probe asks a port that isn't there", p.name)
				}
			}
		}
	}
	// Each selector selects a pod.
	selects := func(what string, s labels.Selector) {
		for _, p := range pods(all) {
			if s.Matches(labels.Set(p.Labels)) {
				return
			}
		}
		say("%s selects no pod", what)
	}
	for _, o := range all {
		var sel *metav1.LabelSelector
		what := ""
		switch o := o.(type) {
		case *corev1.Service:
			selects("the service "+o.Name, labels.SelectorFromSet(o.Spec.Selector))
			continue
		case *appsv1.Deployment:
			sel, what = o.Spec.Selector, "the deployment "+o.Name
		case *policyv1.PodDisruptionBudget:
			sel, what = o.Spec.Selector, "the budget "+o.Name
		case *networkingv1.NetworkPolicy:
			sel, what = &o.Spec.PodSelector, "the policy "+o.Name
		default:
			continue
		}
		s, err := metav1.LabelSelectorAsSelector(sel)
		if err != nil {
			say("%s: %v", what, err)
			continue
		}
		selects(what, s)
	}
	return breaches
}

func TestManifests(t *testing.T) {
	for dir, containers := range map[string]int{"../kubernetes/base": 3, "../kubernetes/overlays/calder": 3, "../kubernetes/overlays/calder-engine": 4} {
		all, err := manifests(dir)
		if err != nil {
			t.Fatalf("%s: %v", dir, err)
		}
		breaches := whole(all)
		n := 0
		for _, p := range pods(all) {
			breaches = append(breaches, restricted(p)...)
			for _, c := range p.Spec.Containers {
				n++
				if !strings.Contains(output(t, ".", program, append(append([]string{}, c.Args...), "--help")...), "Usage:") {
					t.Errorf("%s: the program doesn't know %v", p.name, c.Args)
				}
			}
		}
		for _, b := range breaches {
			t.Errorf("%s: %s", dir, b)
		}
		if n != containers {
			t.Errorf("%s: %d containers", dir, n)
		}
		for _, o := range all {
			d, ok := o.(*appsv1.Deployment)
			if !ok {
				continue
			}
			// One process at a time has an office; of workers there are several.
			one := *d.Spec.Replicas == 1 && d.Spec.Strategy.Type == appsv1.RecreateDeploymentStrategyType
			if watch := d.Spec.Template.Spec.Containers[0].Args[0] == "watch"; one != watch {
				t.Errorf("%s: two watches may run at once, or there is one worker", dir)
			}
			if s := time.Duration(*d.Spec.Template.Spec.TerminationGracePeriodSeconds) * time.Second; s < grace(t)+20*time.Second {
				t.Errorf("%s: it is killed after %v", dir, s)
			}
			c := d.Spec.Template.Spec.Containers[0]
			if c.StartupProbe == nil || c.ReadinessProbe == nil || c.LivenessProbe == nil || c.LivenessProbe.HTTPGet.Path == "/healthz" {
				t.Errorf("%s: probes are missing, or a restart is asked for what it doesn't mend", dir)
			}
		}
	}
}

func TestManifestChecksComplain(t *testing.T) {
	all, err := manifests("../kubernetes/base")
	if err != nil {
		t.Fatal(err)
	}
	for i, o := range all {
		d, ok := o.(*appsv1.Deployment)
		if !ok {
			continue
		}
		b, err := yaml.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range [][2]string{{"readOnlyRootFilesystem: true", "readOnlyRootFilesystem: false"}, {"claimName: office", "claimName: other"}, {"port: metrics", "port: other"}, {"runAsNonRoot: true", "runAsNonRoot: false"}} {
			bad := bytes.Replace(b, []byte(x[0]), []byte(x[1]), 1)
			if bytes.Equal(bad, b) {
				t.Fatalf("%q isn't there", x[0])
			}
			o, err := decoded(bad)
			if err != nil {
				t.Fatal(err)
			}
			with := slices.Clone(all)
			with[i] = o
			if len(whole(with)) == 0 && len(restricted(pods([]any{o})[0])) == 0 {
				t.Errorf("%q passes", x[1])
			}
		}
		for _, x := range [][2]string{{"readinessProbe:", "readynessProbe:"}, {"replicas: 1", "replicas: one"}} {
			if _, err := decoded(bytes.Replace(b, []byte(x[0]), []byte(x[1]), 1)); err == nil {
				t.Errorf("%q passes", x[1])
			}
		}
		return
	}
	t.Fatal("no deployment")
}
