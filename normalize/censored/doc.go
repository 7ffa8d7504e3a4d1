// Package censored describes values of which some are known only as below or
// above a limit, as a laboratory prints "<0.5" and ">200".
//
// Enters: numbers, each with what is known of it. Leaves: counts, quantiles,
// mean, standard deviation and intervals, each beside the way in which it was
// found, or the reason why there is none.
// Never: no limit is put in the place of a value, in whole or in half; no
// figure is given where the data do not bear one; and nothing depends on the
// order of the values, on a clock or on chance.
//
// How, from the published methods. Where all is measured: ordinary statistics,
// quantiles by type 7 of Hyndman and Fan (1996). Where values are below limits:
// the distribution by Kaplan and Meier (1958) of the flipped data, as Helsel has
// it (Statistics for Censored Environmental Data, 2nd ed., 2012, chapter 6), and
// from it the quantiles. The mean is Kaplan and Meier's as long as no more than
// half of the values are below limits and the lowest value of all is measured,
// since otherwise it has no lower end; else that of robust regression on order
// statistics, with the plotting positions of Helsel and Cohn (Water Resources
// Research 24:1997-2004, 1988), if its conditions are met: see [Robust]. Values
// above a limit are of the highest; then there is no mean. The interval of a
// median is Brookmeyer and Crowley's (1982), by complementary logarithms; that
// of a mean is Student's, where Cochran's rule on skewness allows one.
//
// All of it takes the values as a simple random sample. Where several samples
// are of one field or client, the true uncertainty is greater than an interval
// says.
//
// The package is a leaf.
package censored
