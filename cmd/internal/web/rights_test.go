package web

import (
	"slices"
	"testing"

	"example.org/windrow/cmd/internal/access"
)

// The rights of each role, said a second time and by hand: a slip in the table
// is a line that differs here.
func TestTableOfRights(t *testing.T) {
	for pattern, x := range rights {
		kinds := 0
		for _, is := range []bool{len(x.roles) > 0, x.open, x.here} {
			if is {
				kinds++
			}
		}
		if kinds != 1 {
			t.Errorf("%s is for %d kinds of people, want one", pattern, kinds)
		}
		if (x.open || x.here) && (x.names || x.of != "") {
			t.Errorf("%s shows something of a client to anybody", pattern)
		}
		if x.of != "" && !x.names {
			t.Errorf("%s is about somebody's report, and nobody would know who saw it", pattern)
		}
		if x.may(access.Person{}) != x.open {
			t.Errorf("%s is for nobody in particular", pattern)
		}
		if x.names && x.may(access.Person{Role: access.Researcher}) {
			t.Errorf("%s shows something of a client to a researcher", pattern)
		}
		if len(x.roles) > 0 && !slices.Contains(x.roles, access.Steward) {
			t.Errorf("%s is not for the steward", pattern)
		}
	}
}

func TestWithin(t *testing.T) {
	for to, want := range map[string]string{"/report/R1": "/report/R1", "/reports?q=a+b&page=2": "/reports?q=a+b&page=2", "": "/", "https://elsewhere.example/": "/", "//elsewhere.example": "/", `/\elsewhere.example`: "/", "/%5C/x": "/%5C/x",
		"javascript:alert(1)": "/", "/sign-in?to=/": "/", "/sign-out": "/", "/a\nb": "/", "report": "/", "/\t/elsewhere.example": "/"} {
		if got := within(to); got != want {
			t.Errorf("%q leads to %q, want %q", to, got, want)
		}
	}
}
