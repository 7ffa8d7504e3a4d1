package normalize

import (
	"testing"

	"example.org/windrow/mappings"
)

// A record says where its layer begins, where that is below the surface.
func TestLayerOfASample(t *testing.T) {
	for _, c := range []struct{ fields, layer string }{
		{"P 60 mg/kg olsen; lab_sample_id:A-1; depth:6", "6"},
		{"P 60 mg/kg olsen; lab_sample_id:A-1; depth:24; depth_top:6", "6-24"},
		{"P 60 mg/kg olsen; lab_sample_id:A-1; depth:6; depth_top:0", "6"},
		{"P 60 mg/kg olsen; lab_sample_id:A-1", ""},
	} {
		rep := Build(&mappings.Extract{Mapping: mappings.Ref{Lab: "Lab"}, Samples: []*mappings.SampleExtract{reads(c.fields)}}, Options{})
		if got := rep.Records[0].Sample.Layer(); got != c.layer {
			t.Errorf("%s: %q, want %q", c.fields, got, c.layer)
		}
	}
}
