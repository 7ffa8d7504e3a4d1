// Package formula evaluates the small arithmetic in which the steps of a
// lineage are written, with forty significant digits.
//
// Enters: a factor such as 50/61, or an equation such as 10^(0.9*log10(x)+d)
// with the numbers that its names stand for, all as text from a record.
// Leaves: the number, or an error that says which character is not understood.
// Never: it knows no unit, no analyte and no table of factors, takes nothing
// for granted that the text does not say, and shares no arithmetic with the
// packages that make the values. That is what makes it a second witness.
//
// # The grammar
//
//	sum     = product { ("+" | "-") product } .
//	product = signed { ("*" | "/" | "×" | "÷" | "·") signed } .
//	signed  = { "+" | "-" } power .
//	power   = operand [ "^" signed ] .
//	operand = number | name | function "(" sum { "," sum } ")" | "(" sum ")" .
//
// The functions are log10, ln, exp, sqrt, min and max. A name is that of a
// given number, and may have spaces in it; of two that fit, the longer is
// meant. A power binds more strongly than a sign before it, as on paper:
// -2^2 is -4.
package formula
