package mappings

import (
	"regexp"
	"strings"
)

// Laboratories that test soil test water, compost, manure and plants as well, on
// the same forms, where a line says what was tested; and by leaching tests, which
// give an amount in a liquid where another test gives that in the soil. Common
// practice, no source.
var (
	matrixLabel = regexp.MustCompile(`(?i)^(?:(?:sample )?(?:matrix|material|medium)|(?:sample|product) type|type of sample)\s*[:=]?$`)
	otherMatrix = regexp.MustCompile(`(?i)^(?:(?:sample )?(?:matrix|material|medium)|(?:sample|product) type|type of sample)\s*[:=–-]?\s*(?:[\pL-]+ ){0,2}(?:water|wastewater|effluent|leachate|compost|manure|slurry|sludge|biosolids?|plants?|tissue|leaf|leaves|petioles?|forage|silage|feed|fertili[sz]er|growing (?:medium|media)|potting mix)\b`)
	leaching    = regexp.MustCompile(`(?i)\b(?:TCLP|SPLP)\b.{0,20}\b(?:extract\w*|leach\w*|results?|metals?|analys[ei]s)\b|\bleach\w*\b.{0,20}\b(?:TCLP|SPLP)\b|\b(?:toxicity characteristic|synthetic precipitation) leaching\b`)
)

// noSoil is what a text says of what was tested, where that is no soil, or an
// extract that is none of a soil test; "" for nothing.
func noSoil(text string) string {
	switch {
	case otherMatrix.MatchString(text):
		return "the report says that what was tested is no soil"
	case leaching.MatchString(text):
		return "a text that the mapping does not know says that this is a leaching test, which gives no amount in the soil"
	}
	return ""
}

// matrixIn is a cell of a column that says what was tested, with the column's
// name; "" for a cell of any other column.
func matrixIn(x *head, as []*atom) string {
	if name := strings.Join(x.col.Heading, " "); matrixLabel.MatchString(name) && len(as) > 0 {
		return strings.TrimRight(name, " :=") + ": " + joined(as)
	}
	return ""
}
