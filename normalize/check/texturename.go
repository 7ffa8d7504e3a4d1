package check

import "strings"

// TextureName is a class of texture in full, from its name or its usual short
// form, in lower case: SiL and Silt Loam are both silt loam. A word that is
// neither comes back as it is.
func TextureName(word string) string {
	w := strings.ToLower(strings.Join(strings.Fields(word), " "))
	if full, ok := textureCodes[w]; ok {
		return full
	}
	return w
}
