// Package dataset writes what a researcher takes away: one tidy table of
// results, one row a result, one of estimates for other methods, and a
// codebook that explains both.
//
// Enters: reports as normalize made them, and the office's secret key.
// Leaves: results.csv, estimates.csv, derived.csv, codebook.md, codebook.json, columns.csv,
// columns-estimates.csv, columns-derived.csv and datapackage.json, which
// describes the tables by the Data Package standard, version 2.0.
// Never: no name, address, label or laboratory number of a client or sample
// leaves, nor the day of sampling, nor any text of a report but the printed
// value, its unit and its rating; no result of a held report, record or
// result; no estimate or amount per area in a column of measured values; and
// no half-written file.
//
// The package is an implementation over normalize.
package dataset
