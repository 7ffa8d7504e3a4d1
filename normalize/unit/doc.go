// Package unit is the table of units, oxides and atomic weights, and the
// exact arithmetic on printed numbers.
//
// Enters: the text of a unit, basis or number.
// Leaves: a unit with its dimension and exact factor, a basis with its exact
// share of the element, or a number that remembers its printed digits.
// Never: it converts between two dimensions. Whether an amount per area or
// per volume can become an amount per mass depends on a depth, a soil mass or
// a density, and those are the caller's to know; none is assumed here.
//
// It is a leaf: of this module it imports only the table reader. The tables are data
// (units.csv, bases.csv, weights.csv, lime-materials.csv, conversions.csv). A row
// without a source is refused, and so is an active one that rests on memory or
// common practice alone; what is known and not used is listed with its reason.
package unit
