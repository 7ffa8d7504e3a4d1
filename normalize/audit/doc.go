// Package audit is the second witness for every number in the archive, and
// the account that a data steward signs.
//
// Enters: reports as the archive keeps them, and the bibliography.
// Leaves: a [Difference] for each number that does not follow from what is
// stored beside it; an [Account] of a period, with every conversion that was
// used, how often, on what ground and with one worked example; that account
// as a workbook and as a page; and the [SignOff] of the person who read it.
// Never: it takes no number from a table of units, atomic weights or methods
// (only which source and equation a row names) and uses none of the arithmetic
// that made the values, mends nothing, and leaves out no value
// without counting it.
//
// # How a value is recomputed
//
// From the printed number, by the factor or equation that each step states,
// with forty significant digits and without rounding between the steps. The
// outcome must be the value within half a unit of the last digit that the
// value may keep: one more than was printed and never fewer than four.
//
// Beside that, each step must begin where the one before it ended; the first
// at the printed number, in the printed unit; the last must end at the value,
// in its unit. A factor that the inputs of its step determine must be the one
// they give (the relations in relation.go were written for this package). A
// conversion without inputs must have one and the same factor wherever the
// same tables were in force. Every source key must resolve, and be one that
// the conversion rests on.
//
// A document must also be coherent: every status follows from the reasons and
// findings beneath it, a number and the sign of a limit from the printed text,
// one rating is one class, a depth is that of the sample, and an estimate says
// of its equation what the table says. And the archive must hold, byte for
// byte, whatever was signed for ([AgainstSigned]).
//
// # What it can't see
//
// A document that was changed coherently and never signed for: windrow replay
// reads the original anew, and is the check against the original itself.
// Whether the right mapping read the report, and whether a source says what
// its entry claims. For the first there is the printed text with its place,
// which can be read again in the original; the second is for people, and is
// why the account prints every source in full.
package audit
