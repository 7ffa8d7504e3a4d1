package mappings

import "slices"

// changed are the codes of the reasons that say of a report that it does not
// look as its mapping says: a heading, label, unit, method, form of an element
// or kind of text that the mapping relies on is lost or another.
var changed = []string{"layout-changed", "unit-differs", "method-differs", "basis-differs", "label-differs", "field-differs", "cell-differs"}

// ChangeCodes are the codes of the reasons for which a report is held because
// it does not look as its mapping says, so that the mapping, and not the
// report, is what most likely has to change.
func ChangeCodes() []string { return slices.Clone(changed) }
