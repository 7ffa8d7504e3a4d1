// Package normalize puts readings on the common schema.
//
// Enters: an Extract from mappings, readings as printed.
// Leaves: a Report of Records, one a sample, whose Results carry the value
// in mg/kg (or the analyte's own unit), the lineage of steps that led to it,
// and what the checks found.
// Never: it edits no printed value, assumes no depth, density, basis or
// method that neither report nor mapping states, and puts no estimate in
// place of a measurement.
//
// # Rules that hold everywhere
//
// Digits. Arithmetic is exact on rationals; only what is written is rounded.
// A number that only a power of ten is applied to keeps exactly its printed
// digits. Any other value is written with one digit more than was printed and
// never fewer than four, without useless zeros (see unit.Digits): taken back,
// it gives the printed number within half a unit of its last digit. How many
// digits are significant is for Printed.Number to say.
//
// Cells. Where a sheet stores more digits than it shows, the value comes from
// the stored number, and the digits shown decide how many it is written with.
// Where what is shown is no rounding of what is stored, the shown number
// stands and a finding says so.
//
// Oxides. Factors come from the atomic weights; the customary ones (0.4364,
// 0.8301) stand beside them for comparison.
//
// Area. An amount per area becomes an amount per mass only by the depth and
// the weight of soil, or the depth and the bulk density, that the report or
// mapping states, and an amount per volume only by the density printed for
// that very sample. Otherwise the value stays empty and not_converted says
// what is unknown.
//
// Moles. cmol/kg may count atoms or their charge. Where the two are not the
// same number, the mapping says which, or the value stays empty.
//
// The lb/acre form of a value whose report states no weight of soil is the
// trade's convention (2,000,000 lb to 6 2/3 inches) and is labelled
// "convention", with that depth and weight beside it. It is a way of writing
// the value, not a statement about the field.
//
// # Parts
//
// The leaves unit, method and check hold the tables, the arithmetic and the
// cross-examination; each table is data with a source on every row, and a row
// without one is refused. sources.yaml is the bibliography that those keys
// lead to.
package normalize
