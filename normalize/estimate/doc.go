// Package estimate holds the published conversions between extraction
// methods, and the published scales of index, as data, and works out what
// they say of one measured number.
//
// Enters: the tables conversions.csv and scales.csv of this package, and what
// was measured of one sample. Leaves: estimates, each with its equation,
// inputs, interval, and whether the sample lies inside the domain of the
// equation; and the rows that refuse a conversion. Never: it takes an estimate
// as an input (two regressions are not chained), turns an equation round that
// is not in the table, or lets a row work whose equation nobody has read.
//
// # Equations
//
// An equation is plain text that stands in every step that used it:
//
//	sum    = term { ("+" | "-") term }
//	term   = factor { ("*" | "/") factor }
//	factor = "-" factor | atom [ "^" factor ]
//	atom   = number | name | function "(" sum { "," sum } ")" | "(" sum ")"
//
// x is the number converted; every other name is an input of the step. A power
// binds from the right and before a minus: -2^2 is -4. Functions: log10, ln,
// exp, sqrt of one argument; min and max of two or more. Numbers are decimal,
// without exponent.
//
// Equations are worked out in float64. Within its domain the outcome of every
// equation of the table lies within 1 part in 10^12 of the exact one (tested
// with 40 digits), which is far below what any of them is written with.
//
// # Digits
//
// An estimate is written with no more significant digits than the number that
// it was made from had as printed, and no finer than half a digit of that
// number comes to by the equation. Digits before the point are never replaced
// by zeros. What an equation gives that is not above zero, or is zero with those
// digits, is no estimate. Where the outcome is the number itself it keeps its
// digits.
//
// # Domain
//
// The conditions of a domain stand in one cell, divided by semicolons:
//
//	x 1..200     the number converted lies between both, both included
//	y 4..7       the outcome does
//	y >= x       the outcome is not below the number converted: the salt of a
//	             thin extract can't be more concentrated than that of the paste
//	pH < 7.4     pH in water, clay (%) or CEC of the same sample; also > <= >=
//	texture fine the soil's texture: coarse, medium, fine, or sandy, loamy
//	land turf    what the soil is used for
//	other: TEXT  what no report says: always unknown
//
// A condition after the word only says whom the equation is for. Where it is
// known to fail, such as another texture or another band of a set of lines,
// the equation is not asked. Where another one fails it was asked beyond its
// domain, and an audit lists that.
//
// The first source of a row is that of its equation; a limit of pH that keeps an
// acid extract off calcareous soil may come from another, which follows it.
//
// A sample is outside where one condition fails, unknown where one can't be
// tested, and inside otherwise. Outside its domain an equation gives no
// interval. Who shows estimates leaves those outside away, except an audit.
//
// # Intervals
//
// An interval is given only where the source states an error of single
// samples, and holds 90 percent: 1.645 times the error to both sides, on the
// scale that the error was found on; error and multiplier stand in the record. The errors of the equation's coefficients
// and of another laboratory are not in it.
package estimate
