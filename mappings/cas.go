package mappings

import (
	"fmt"
	"regexp"
	"strings"
)

// Laboratories that measure metals print the registry number of each substance
// beside its name. A number that is another element's contradicts the name.

// casNumber is such a number.
var casNumber = regexp.MustCompile(`^\d{4}-\d{2}-\d$`)

// casOf are the elements by their CAS registry numbers; from memory, each with a
// check digit that a test recomputes.
var casOf = map[string]string{
	"7429-90-5": "Al", "7440-36-0": "Sb", "7440-38-2": "As", "7440-39-3": "Ba", "7440-41-7": "Be", "7440-42-8": "B", "7440-43-9": "Cd", "7440-70-2": "Ca",
	"7440-47-3": "Cr", "7440-48-4": "Co", "7440-50-8": "Cu", "7439-89-6": "Fe", "7439-92-1": "Pb", "7439-95-4": "Mg", "7439-96-5": "Mn", "7439-97-6": "Hg",
	"7439-98-7": "Mo", "7440-02-0": "Ni", "7723-14-0": "P", "7440-09-7": "K", "7782-49-2": "Se", "7440-22-4": "Ag", "7440-23-5": "Na", "7704-34-9": "S",
	"7440-28-0": "Tl", "7440-62-2": "V", "7440-66-6": "Zn",
}

// registryNumbers holds the report for a line with the results of one element
// and the registry number of another.
func (r *reader) registryNumbers() {
	for _, v := range r.views {
		for _, l := range v.lines {
			for _, a := range l.atoms {
				element := ""
				if casNumber.MatchString(a.text) {
					element = casOf[a.text]
				}
				if element == "" {
					continue
				}
				tests := r.resultsOn(l)
				if len(tests) != 1 || elementOf(tests[0].Analyte) == "" || strings.EqualFold(elementOf(tests[0].Analyte), element) {
					continue
				}
				r.hold("says-otherwise", v.place(a), r.l.Place, fmt.Sprintf("the registry number (CAS) beside %q is that of another element, %s", tests[0].Label, element),
					"the number of "+tests[0].Analyte, a.text, "ask the laboratory which of the two the result is of")
			}
		}
	}
}
