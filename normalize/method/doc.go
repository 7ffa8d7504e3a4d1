// Package method is the tables of what laboratories measure and how: analytes
// with the unit and range of their values, and methods with their trade
// names and spellings.
//
// Enters: the text of an analyte or a method, as a mapping writes it.
// Leaves: its row.
// Never: it turns a value of one method into another, and pools none. Two
// names are spellings of one method only where the trade uses them so.
//
// It is a leaf: of this module it imports only the table reader. The tables
// are data (methods.csv, analytes.csv); a row without a source is refused.
package method
