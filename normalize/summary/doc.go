// Package summary tells what an archive of soil tests says of counties, land
// uses, years, laboratories and depths: how many samples, how many of them below
// and above limits, where their values lie, and how they were rated.
//
// Enters: reports as normalize made them, and by what to group them. Leaves: a
// [Summary], as tables (CSV), JSON, and a page with drawings.
// Never: values of two methods, or in two units, are in one figure, nor those
// whose method is not stated of two laboratories, nor measured values and ones
// that rest on an assumed density; no limit counts as a value (see the package
// censored); and, unless it is for the office alone, nothing of a group of fewer
// clients than asked for is told, nor what can be worked out of one by taking
// groups from their total. No name, label or number of a client or sample
// leaves in any case.
//
// Each summary is made so that nobody can be found in it. Two that group the
// same samples in two ways are not looked at together: [Caution] says so, and
// stands in each.
//
// The package is an implementation over normalize.
package summary
