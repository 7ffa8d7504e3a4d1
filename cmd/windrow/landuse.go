package main

import (
	"fmt"
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// landUse is a use of the land as the tables have it, from what a person calls
// it: as it is where the rule set knows it, else by the words that records
// know. One that neither knows is a mistake, since advice for it would only ask
// what it means. rs is nil where records alone count.
func landUse(said string, rs *interpret.RuleSet) (string, error) {
	if said == "" {
		return "", nil
	}
	if rs != nil && rs.Use(said) != nil {
		return said, nil
	}
	words := normalize.Vocabulary()
	if id, ok := words.Resolve(mappings.LandUseWord, said); ok {
		return id, nil
	}
	hint := "the uses of the land are: " + strings.Join(normalize.LandUses(), ", ")
	if near := words.Near(mappings.LandUseWord, said); len(near) > 0 {
		hint = fmt.Sprintf("did you mean %q? %s", near[0], hint)
	}
	return "", &usageError{fmt.Sprintf("--land-use: %q is no use of the land that the tables know", said), hint}
}
