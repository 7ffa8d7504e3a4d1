package register

import (
	"math/big"
	"regexp"
	"strings"
)

// The units of an area.
const (
	sqFt = "sq ft"
	acre = "acre"
)

// An acre is 43,560 square feet: NIST Handbook 44, appendix C. A square yard
// is nine square feet by definition.
var inSqFt = map[string]*big.Rat{sqFt: big.NewRat(1, 1), acre: big.NewRat(43_560, 1), "sq yd": big.NewRat(9, 1)}

var areaUnits = map[string]string{
	"sq ft": sqFt, "sq. ft.": sqFt, "sq. ft": sqFt, "sq.ft.": sqFt, "sqft": sqFt, "sf": sqFt, "square feet": sqFt, "square foot": sqFt, "ft2": sqFt, "ft²": sqFt, "pies cuadrados": sqFt,
	"acre": acre, "acres": acre, "ac": acre, "ac.": acre, "a.": acre,
	"sq yd": "sq yd", "sq. yd.": "sq yd", "square yards": "sq yd", "yd2": "sq yd", "yd²": "sq yd",
}

var sideUnits = map[string]*big.Rat{"ft": big.NewRat(1, 1), "ft.": big.NewRat(1, 1), "feet": big.NewRat(1, 1), "foot": big.NewRat(1, 1), "'": big.NewRat(1, 1), "’": big.NewRat(1, 1), "′": big.NewRat(1, 1),
	"yd": big.NewRat(3, 1), "yd.": big.NewRat(3, 1), "yards": big.NewRat(3, 1), "yard": big.NewRat(3, 1)}

var (
	plainNumber = regexp.MustCompile(`^(\d{1,9}(\.\d{1,6})?|\d{1,3}(,\d{3}){1,2}(\.\d{1,6})?|\.\d{1,6})$`)
	fraction    = regexp.MustCompile(`^(?:(\d{1,4}) )?(\d{1,3})/([1-9]\d{0,2})$`)
	leading     = regexp.MustCompile(`^([\d.,/ ]*[\d.]) ?(.*)$`)
	times       = regexp.MustCompile(`^(.+?) ?(?:[xX×]|by) ?(.+)$`)
)

// mostSqFt is the largest area that advice is given for.
var mostSqFt = big.NewRat(100_000_000, 1)

// howArea is how an area is to be written.
const howArea = "an area such as 900 sq ft, 20 x 30 ft, 0.25 acre or 1/2 acre"

// parseArea reads an area in square feet as a plain decimal number, exactly.
// bare is the unit of a number without one, "" when the heading says none. The
// second result is what is wrong, "" when nothing is.
func parseArea(text, bare string) (sqft, wrong string) {
	s := strings.ToLower(strings.Join(strings.Fields(text), " "))
	var r *big.Rat
	if m := times.FindStringSubmatch(s); m != nil {
		r, wrong = sides(m[1], m[2])
	} else {
		r, wrong = amount(s, bare)
	}
	if wrong != "" {
		return "", wrong
	}
	if r.Sign() <= 0 {
		return "", "an area of nothing"
	}
	if r.Cmp(mostSqFt) > 0 {
		return "", "more than 100,000,000 square feet"
	}
	n, exact := r.FloatPrec()
	if !exact || n > 6 {
		return "", "an area that has no exact number of square feet"
	}
	return r.FloatString(n), ""
}

// amount reads a number and a unit of area.
func amount(s, bare string) (*big.Rat, string) {
	m := leading.FindStringSubmatch(s)
	if m == nil {
		return nil, "no number at its beginning"
	}
	unit, ok := bare, bare != ""
	if m[2] != "" {
		unit, ok = areaUnits[m[2]]
		if !ok {
			return nil, "the unit is not square feet, square yards or acres"
		}
	}
	if !ok {
		return nil, "a number without a unit, and the heading says none"
	}
	n, wrong := numberOf(m[1])
	if wrong != "" {
		return nil, wrong
	}
	return n.Mul(n, inSqFt[unit]), ""
}

// sides reads a length and a width. One unit behind the second is meant for
// both; no unit at all is refused, since feet and yards are both paced.
func sides(a, b string) (*big.Rat, string) {
	x, ux, wrong := side(a)
	if wrong != "" {
		return nil, wrong
	}
	y, uy, wrong := side(b)
	switch {
	case wrong != "":
		return nil, wrong
	case uy == nil:
		return nil, "length and width without a unit"
	case ux == nil:
		ux = uy
	}
	return x.Mul(x, ux).Mul(x, y).Mul(x, uy), ""
}

func side(s string) (n, unit *big.Rat, wrong string) {
	m := leading.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return nil, nil, "length and width that are not two numbers"
	}
	if m[2] != "" {
		if unit = sideUnits[m[2]]; unit == nil {
			return nil, nil, "a length in a unit that is not feet or yards"
		}
	}
	n, wrong = numberOf(m[1])
	return n, unit, wrong
}

// numberOf reads 900, 1,200, 0.25 and 1 1/2. A comma that does not part
// thousands is refused, since it may be meant for a point.
func numberOf(s string) (*big.Rat, string) {
	s = strings.TrimSpace(s)
	if m := fraction.FindStringSubmatch(s); m != nil {
		r, _ := new(big.Rat).SetString(m[2] + "/" + m[3]) // the pattern lets only fractions through
		if m[1] != "" {
			whole, _ := new(big.Rat).SetString(m[1])
			r.Add(r, whole)
		}
		return r, ""
	}
	if !plainNumber.MatchString(s) {
		return nil, "a number that can be read in more than one way"
	}
	r, ok := new(big.Rat).SetString(strings.ReplaceAll(s, ",", ""))
	if !ok {
		return nil, "no number"
	}
	return r, ""
}
