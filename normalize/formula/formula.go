package formula

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/cockroachdb/apd/v3"
)

// Digits is the number of significant digits that every operation keeps.
const Digits = 40

// What an equation may have of length, brackets and size of exponent. No
// published equation comes near them; they keep damaged text from costing
// time.
const (
	mostText     = 2000
	mostDepth    = 50
	mostExponent = 400
)

var context = apd.BaseContext.WithPrecision(Digits)

// Number reads plain decimal digits, such as 6.50 or -0.4. Infinities and
// what is no number are refused.
func Number(s string) (*apd.Decimal, error) {
	if s == "" || len(s) > 200 {
		return nil, fmt.Errorf("%q is no number", s)
	}
	for i, c := range s {
		if (c < '0' || c > '9') && c != '.' && (c != '-' || i > 0) {
			return nil, fmt.Errorf("%q is no plain number", s)
		}
	}
	d, _, err := apd.NewFromString(s)
	if err != nil || d.Form != apd.Finite {
		return nil, fmt.Errorf("%q is no number", s)
	}
	return d, nil
}

// Factor reads a factor as steps write it: plain digits, or one whole number
// over another, such as 15486880999/35485630999.
func Factor(s string) (*apd.Decimal, error) {
	above, below, isFraction := strings.Cut(s, "/")
	a, err := Number(above)
	if err != nil || !isFraction {
		return a, err
	}
	b, err := Number(below)
	if err != nil {
		return nil, err
	}
	return calc(context.Quo, a, b)
}

// Times is a product.
func Times(a, b *apd.Decimal) *apd.Decimal {
	d, err := calc(context.Mul, a, b)
	if err != nil { // only beyond ten to the 100,000
		return &apd.Decimal{Form: apd.NaN}
	}
	return d
}

func calc(op func(d, x, y *apd.Decimal) (apd.Condition, error), a, b *apd.Decimal) (*apd.Decimal, error) {
	d := new(apd.Decimal)
	_, err := op(d, a, b)
	return d, err
}

// An Error says where in an equation something is not understood.
type Error struct {
	Text string // the equation
	At   int    // characters before the place
	What string
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s, at character %d of “%s”", e.What, e.At+1, e.Text)
}

// Eval evaluates an equation with the numbers that its names stand for. Names
// that the equation does not use are no error; [Names] tells which it uses.
func Eval(text string, names map[string]*apd.Decimal) (*apd.Decimal, error) {
	d, _, err := run(text, names)
	return d, err
}

// Names are those of the given names that an equation uses.
func Names(text string, names map[string]*apd.Decimal) (map[string]bool, error) {
	_, used, err := run(text, names)
	return used, err
}

func run(text string, names map[string]*apd.Decimal) (d *apd.Decimal, used map[string]bool, err error) {
	p := &parser{text: text, rest: text, names: names, used: map[string]bool{}}
	if len(text) > mostText {
		return nil, nil, p.bad("the equation is too long")
	}
	d, err = p.sum(0)
	if err == nil && p.next() != utf8.RuneError {
		err = p.bad("the end was expected")
	}
	if err != nil {
		return nil, nil, err
	}
	return d, p.used, nil
}

type parser struct {
	text, rest string
	names      map[string]*apd.Decimal
	used       map[string]bool
}

func (p *parser) bad(what string) error {
	return &Error{p.text, utf8.RuneCountInString(p.text[:len(p.text)-len(p.rest)]), what}
}

// next is the next character that is not a space, utf8.RuneError at the end.
func (p *parser) next() rune {
	p.rest = strings.TrimLeftFunc(p.rest, unicode.IsSpace)
	r, _ := utf8.DecodeRuneInString(p.rest)
	return r
}

// take takes the next character if it is one of those given.
func (p *parser) take(any string) (rune, bool) {
	r := p.next()
	if r == utf8.RuneError || !strings.ContainsRune(any, r) {
		return 0, false
	}
	p.rest = p.rest[utf8.RuneLen(r):]
	return r, true
}

// operate does an operation, and words its failure with the place.
func (p *parser) operate(op func(d, x, y *apd.Decimal) (apd.Condition, error), a, b *apd.Decimal) (*apd.Decimal, error) {
	d, err := calc(op, a, b)
	if err != nil || d.Form != apd.Finite {
		return nil, p.bad("no number comes of this")
	}
	return d, nil
}

func (p *parser) sum(depth int) (*apd.Decimal, error) {
	if depth > mostDepth {
		return nil, p.bad("too many brackets in brackets")
	}
	return p.left(depth, "+-", p.product)
}

func (p *parser) product(depth int) (*apd.Decimal, error) {
	return p.left(depth, "*/×÷·", p.signed)
}

// left reads operations of one rank from left to right.
func (p *parser) left(depth int, signs string, operand func(int) (*apd.Decimal, error)) (*apd.Decimal, error) {
	a, err := operand(depth)
	for err == nil {
		sign, ok := p.take(signs)
		if !ok {
			return a, nil
		}
		var b *apd.Decimal
		if b, err = operand(depth); err != nil {
			break
		}
		op := context.Mul
		switch sign {
		case '+':
			op = context.Add
		case '-':
			op = context.Sub
		case '/', '÷':
			op = context.Quo
		}
		a, err = p.operate(op, a, b)
	}
	return nil, err
}

func (p *parser) signed(depth int) (*apd.Decimal, error) {
	negative := false
	for {
		sign, ok := p.take("+-")
		if !ok {
			break
		}
		negative = negative != (sign == '-')
	}
	d, err := p.power(depth)
	if err == nil && negative {
		d = new(apd.Decimal).Neg(d)
	}
	return d, err
}

func (p *parser) power(depth int) (*apd.Decimal, error) {
	base, err := p.operand(depth)
	if err != nil {
		return nil, err
	}
	if _, ok := p.take("^"); !ok {
		return base, nil
	}
	if depth > mostDepth {
		return nil, p.bad("too many powers of powers")
	}
	exp, err := p.signed(depth + 1)
	if err != nil {
		return nil, err
	}
	if new(apd.Decimal).Abs(exp).Cmp(apd.New(mostExponent, 0)) > 0 {
		return nil, p.bad("the exponent is too large")
	}
	return p.operate(context.Pow, base, exp)
}

func (p *parser) operand(depth int) (*apd.Decimal, error) {
	switch r := p.next(); {
	case r == utf8.RuneError:
		return nil, p.bad("something is missing")
	case r == '(':
		p.rest = p.rest[1:]
		d, err := p.sum(depth + 1)
		if err != nil {
			return nil, err
		}
		return d, p.close()
	case r >= '0' && r <= '9' || r == '.':
		n := 0
		for n < len(p.rest) && (p.rest[n] >= '0' && p.rest[n] <= '9' || p.rest[n] == '.') {
			n++
		}
		d, err := Number(p.rest[:n])
		if err != nil {
			return nil, p.bad(err.Error())
		}
		p.rest = p.rest[n:]
		return d, nil
	}
	if name := p.name(); name != "" {
		p.used[name] = true
		p.rest = p.rest[len(name):]
		return p.names[name], nil
	}
	n := strings.IndexFunc(p.rest, func(r rune) bool { return !inName(r) })
	if n < 0 {
		n = len(p.rest)
	}
	f, ok := functions[p.rest[:n]]
	if !ok {
		return nil, p.bad("neither number, name nor function")
	}
	return p.call(f, n, depth)
}

func (p *parser) close() error {
	if _, ok := p.take(")"); !ok {
		return p.bad("a closing bracket was expected")
	}
	return nil
}

func inName(r rune) bool { return r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r) }

// name is the longest of the given names that stands next, and does not go on
// as another word.
func (p *parser) name() string {
	best := ""
	for n := range p.names {
		if len(n) <= len(best) || !strings.HasPrefix(p.rest, n) {
			continue
		}
		last, _ := utf8.DecodeLastRuneInString(n)
		if after, _ := utf8.DecodeRuneInString(p.rest[len(n):]); inName(last) && after != utf8.RuneError && inName(after) {
			continue
		}
		best = n
	}
	return best
}

// A function has one argument, or with several any number from one.
type function struct {
	one     func(d, x *apd.Decimal) (apd.Condition, error)
	most    int64                // how large the argument of one may be, 0 for any size
	several func(order int) bool // whether the later argument takes the place of the earlier one it compares so with
}

var functions = map[string]function{
	"log10": {one: context.Log10},
	"ln":    {one: context.Ln},
	"exp":   {one: context.Exp, most: mostExponent},
	"sqrt":  {one: context.Sqrt},
	"min":   {several: func(o int) bool { return o < 0 }},
	"max":   {several: func(o int) bool { return o > 0 }},
}

func (p *parser) call(f function, n, depth int) (*apd.Decimal, error) {
	start := p.rest
	p.rest = p.rest[n:]
	if _, ok := p.take("("); !ok {
		p.rest = start
		return nil, p.bad("a function needs its argument in brackets")
	}
	d, err := p.sum(depth + 1)
	for err == nil && f.several != nil {
		if _, ok := p.take(","); !ok {
			break
		}
		var b *apd.Decimal
		if b, err = p.sum(depth + 1); err == nil && f.several(b.Cmp(d)) {
			d = b
		}
	}
	if err != nil {
		return nil, err
	}
	if f.one != nil {
		x := d
		d = new(apd.Decimal)
		if f.most > 0 && new(apd.Decimal).Abs(x).Cmp(apd.New(f.most, 0)) > 0 {
			return nil, p.bad("the exponent is too large")
		}
		if _, err := f.one(d, x); err != nil || d.Form != apd.Finite {
			return nil, p.bad("no number comes of this function")
		}
	}
	return d, p.close()
}
