// Package dataset writes what a researcher takes away: one tidy table of
// results, one row a result, the same as one row a sample, one table of
// estimates for other methods, one of what follows from results, a codebook that
// explains them, and a report of what was done so that no client is known
// again.
//
// Enters: reports as normalize made them, and the office's secret key.
// Leaves: results.csv, wide.csv, estimates.csv and derived.csv, each as Parquet,
// too; results.xlsx (where one sheet takes it), wide.xlsx, codebook.md, codebook.html, codebook.json, columns.csv, columns-estimates.csv,
// columns-derived.csv, disclosure.md, disclosure.html and datapackage.json, which describes the tables by the Data Package standard,
// version 2.0; where outlines are given, counties.geojson; on request,
// provenance.json and ro-crate-metadata.json.
// Never: no name, address, label or laboratory number of a client or sample
// leaves, nor the day of sampling, nor which samples came in one report, nor
// any text of a report but the printed value, its unit and its rating; no
// group of samples that the tables show alike is of fewer clients than the
// options ask for; no result of a held report, record or result; no estimate or
// amount per area in a column of measured values; and no half-written file.
//
// How nobody is known again. The quasi-identifiers are the county, the land
// use, the date, the depth, and the laboratory with everything that gives it
// away: its methods, units, layout, findings and the set of tests. A census
// counts samples and clients by them; a plan climbs a ladder of levels from the
// least loss to the greatest, and makes a class of those who are alike and
// enough; a publisher makes, of each record, a copy that holds no more than its
// class tells, of which alone rows, estimates and derived quantities are made;
// and a recount of the finished rows, which knows nothing of the plan, refuses
// the whole where a group has too few clients. Registered areas, labels, words
// of the client and places on a page are in no column, and so no
// quasi-identifiers.
//
// Memory grows with the number of samples by some tens of bytes each, and not
// with their results, which are sorted on disk.
//
// [Append] keeps the same tables in parts, by state, county and year, in a
// folder or an object store, edition by edition; there what two editions tell
// together is of as many clients, too (PARTS.md).
//
// The package is an implementation over normalize.
package dataset
