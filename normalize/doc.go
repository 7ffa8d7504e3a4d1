// Package normalize puts readings on the common schema.
//
// Enters: an Extract from mappings, readings as printed.
// Leaves: a Report of Records, one a sample, whose Results carry the value
// in mg/kg (or the analyte's own unit), the lineage of steps that led to it,
// and what the checks found.
// Never: it edits no printed value, assumes no depth, density, basis or
// method that neither report nor mapping states, and puts no estimate in
// place of a measurement.
package normalize
