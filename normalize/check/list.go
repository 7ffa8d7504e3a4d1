package check

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"github.com/goccy/go-yaml"

	"example.org/windrow/ingest"
)

//go:embed checks.yaml
var listYAML []byte

// A Check is one test. Run calls add for everything it finds.
type Check struct {
	Code     string          `yaml:"id"`       // stable
	About    string          `yaml:"about"`    // what it looks at
	Severity ingest.Severity `yaml:"severity"` // of whatever it finds
	Title    string          `yaml:"tests"`    // what must hold, in a sentence for a clerk
	When     string          `yaml:"when"`     // when it speaks, with allowances and exceptions
	Why      string          `yaml:"why"`      // what it rests on
	Source   string          `yaml:"source"`   // key in the bibliography, for Why

	Run func(r *Report, add func(Found)) `yaml:"-"`
}

// runs is what each check of the list does.
var runs = map[string]func(*Report, func(Found)){
	"impossible-value": impossible, "unusual-value": unusual, "method-unfit": methodUnfit, "ph-of-soil": phOfSoil, "exchanged-amounts": exchangedAmounts, "depth-unusual": depthUnusual, "rating-scale": ratingScale, "rating-order": ratingOrder,
	"cec-sum": cecSum, "cec-lime": cecLime, "bases-above-cec": basesAboveCEC, "cec-kinds": cecKinds, "cec-of-soil": cecOfSoil, "cec-of-matter": cecOfMatter, "acidity-above-cec": acidityAboveCEC, "acidity-of-ph": acidityOfPH, "calcium-leads": calciumLeads, "phosphorus-above-calcium": phosphorusAboveCalcium,
	"saturations-sum": saturationsSum, "saturation-of-cation": saturationOfCation, "base-saturation-total": baseSaturationTotal,
	"ph-order": phOrder, "ph-apart": phApart, "buffer-above-start": bufferAboveStart, "buffer-below-soil": bufferBelowSoil, "buffer-not-needed": bufferNotNeeded, "acidity-order": acidityOrder, "buffer-of-ph": bufferOfPH,
	"sar-of-extract": sarOfExtract, "esp-of-sar": espOfSAR, "ec-of-extract": ecOfExtract, "ec-order": ecOrder,
	"mass-or-volume": massOrVolume, "units-disagree": unitsDisagree, "bases-disagree": basesDisagree, "read-twice": readTwice,
	"extract-above-total": extractAboveTotal, "extract-order": extractOrder, "color-above-icp": colorAboveICP, "nitrogen-above-total": nitrogenAboveTotal,
	"carbon-above-matter": carbonAboveMatter, "carbon-of-matter": carbonOfMatter, "carbon-to-nitrogen": carbonToNitrogen, "density-of-matter": densityOfMatter,
	"particle-sum": particleSum, "texture-class": textureClass,
	"dates-order": datesOrder, "dates-future": datesFuture, "dates-apart": datesApart,
	"sample-number-twice": numberTwice, "identical-samples": identicalSamples, "shifted-columns": shiftedColumns, "shifted-to-blank": shiftedToBlank, "exchanged-results": exchangedResults, "decimal-point": decimalPoint,
	"sample-number-before": numberBefore, "results-before": resultsBefore, "same-as-last-time": sameAsLastTime,
}

// parseList reads a list of checks and binds each to what it does. It refuses
// an unknown key or severity, a check that is not whole, one that is listed
// twice or does nothing, and anything done that is not listed.
func parseList(b []byte, runs map[string]func(*Report, func(Found))) ([]Check, error) {
	var list []Check
	if err := yaml.UnmarshalWithOptions(b, &list, yaml.Strict()); err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for i := range list {
		c := &list[i]
		c.Run = runs[c.Code]
		switch {
		case c.Code == "" || c.About == "" || c.Title == "" || c.When == "" || c.Why == "" || c.Source == "":
			return nil, fmt.Errorf("check %d (%q) is not whole", i+1, c.Code)
		case c.Severity != ingest.Note && c.Severity != ingest.Flag && c.Severity != ingest.Hold:
			return nil, fmt.Errorf("check %q: severity %q is none of note, flag and hold", c.Code, c.Severity)
		case seen[c.Code]:
			return nil, fmt.Errorf("check %q is listed twice", c.Code)
		case c.Run == nil:
			return nil, fmt.Errorf("check %q does nothing", c.Code)
		}
		seen[c.Code] = true
	}
	for code := range runs {
		if !seen[code] {
			return nil, fmt.Errorf("check %q is not listed", code)
		}
	}
	return list, nil
}

var list = sync.OnceValue(func() []Check {
	l, err := parseList(listYAML, runs)
	if err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic("check: checks.yaml: " + err.Error())
	}
	return l
})

// All is every check, in the order of the list, which is the order they run.
func All() []Check { return slices.Clone(list()) }

// Raw is the bytes of the list and tables that the checks rest on, for a hash.
func Raw() []byte {
	b := slices.Clone(listYAML)
	for _, n := range []string{"ranges.csv", "extracts.csv", "typical.csv"} {
		t, err := files.ReadFile(n)
		if err != nil {
			panic("check: " + n + " is embedded and must be there") // not reachable
		}
		b = append(b, t...)
	}
	return b
}
