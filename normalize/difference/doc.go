// Package difference tells two versions of one report apart, value by value,
// and says what may have made the difference.
//
// Enters: two reports on the common schema that were read from the same
// bytes, the older one first.
// Leaves: a [Report] that names every record, result, field and reason that
// differs, with both sides as a person would write them, the ratio of the two
// values where there is one, and the cause: the mapping, the tables, the
// software or the office's settings.
// Never: it decides which of the two is right, changes neither of them, shows
// what is known of a client, or passes over a field that it doesn't know:
// fields are compared as they stand in the JSON, so that one which is added to
// the schema is compared from the first day.
//
// What only tells by which line of which mapping, by which software and which
// tables a value was read is no difference: two readings that agree in
// everything else are alike (see [Report.Alike]).
//
// The package is an implementation over normalize.
package difference
