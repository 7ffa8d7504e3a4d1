package check

import (
	"fmt"
	"regexp"
	"strings"
)

// What an amount of soil is counted by.
const (
	PerVolume = "volume"
	PerMass   = "mass"
)

// Words with which reports say whether an amount is of a volume or of a mass
// of soil. Common practice, no source.
var (
	basisOf = map[string]*regexp.Regexp{
		PerVolume: regexp.MustCompile(`\b(?:volume|vol\.?|volumetric|scooped|scoop)[ -]basis\b|\bbasis:? ?volume\b`),
		PerMass:   regexp.MustCompile(`\b(?:mass|weight|wt\.?|gravimetric|weighed)[ -]basis\b|\bbasis:? ?(?:mass|weight)\b`),
	}
	byOf = map[string]*regexp.Regexp{
		PerVolume: regexp.MustCompile(`\b(?:per|by)(?: unit)? vol(?:ume\b|\.|\b)|\b[wm]/v\b|\b(?:weight|mass)/volume\b|\bper (?:litre|liter|dm3) (?:of )?soil\b`),
		PerMass:   regexp.MustCompile(`\b(?:per|by)(?: unit)? (?:mass|weight|wt)\b|\b(?:w/w|m/m)\b|\bper (?:kg|kilogram|gram|g) (?:of )?soil\b|\bweighed\b`),
	}
	// 1:2 by volume is how much water went to how much soil, not what the amount
	// is counted by.
	ratioOf = regexp.MustCompile(`\d *[:/] *\d`)
	// Soil that was scooped is often reported in parts per million all the same,
	// by an assumed density; milligrams per kilogram of it are a contradiction.
	scooped = regexp.MustCompile(`\bscooped\b`)
)

// soilBasis is what words beside an amount in a unit say that it is counted by;
// "" where they don't say, or say both.
func soilBasis(words, unit string) string {
	words = strings.ToLower(words)
	ratio := ratioOf.MatchString(words)
	says := func(by string) bool {
		return basisOf[by].MatchString(words) || !ratio && byOf[by].MatchString(words)
	}
	byScoop := scooped.MatchString(words) && strings.Contains(unit, "kg")
	switch v, m := says(PerVolume) || byScoop, says(PerMass); {
	case v && !m:
		return PerVolume
	case m && !v:
		return PerMass
	}
	return ""
}

// massOrVolume sets the words printed beside an amount against its unit.
func massOrVolume(r *Report, add func(Found)) {
	type text struct{ words, unit string }
	known := map[text]string{}
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			x := &s.Results[j]
			if x.Per == "" || !x.Has && x.Number == 0 {
				continue
			}
			for _, words := range [...]string{x.MethodWords, x.PrintedUnit, x.Label} {
				k := text{words, x.PrintedUnit}
				says, ok := known[k]
				if !ok {
					says = soilBasis(words, x.PrintedUnit)
					known[k] = says
				}
				if says == "" || says == x.Per {
					continue
				}
				figure := strings.TrimSpace(x.Printed + " " + x.PrintedUnit)
				add(Found{i, []int{j}, fmt.Sprintf("%s %s is taken for an amount per %s of soil, but “%s” beside it says per %s", x.Name, figure, x.Per, words, says), "an amount per " + says + " of soil, or other words", figure})
				break
			}
		}
	})
}
