package estimate

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// An Expr is a parsed equation. It is not changed after it was parsed, and
// may be evaluated by several goroutines at once.
type Expr struct {
	text  string
	root  node
	names []string
}

// A node is one operation of an equation. op is one of + - * / ^ for two
// arguments, ~ for a change of sign, # for a number, x for a name, or the name
// of a function.
type node struct {
	op    string
	name  string
	value float64
	text  string // the digits of a number
	args  []node
}

// functions are the functions of the grammar with the least and the most
// arguments that they take; 0 for no limit.
var functions = map[string][2]int{"log10": {1, 1}, "ln": {1, 1}, "exp": {1, 1}, "sqrt": {1, 1}, "min": {2, 0}, "max": {2, 0}}

// maxDepth bounds how deep parentheses and signs may nest, so that no text
// can exhaust the stack.
const maxDepth = 60

// Parse reads an equation of the grammar in the package comment. The error
// names the place in the text, from 1.
func Parse(text string) (*Expr, error) {
	p := &parser{text: text}
	root, err := p.sum(0)
	if err != nil {
		return nil, err
	}
	if p.skip(); p.at < len(p.text) {
		return nil, p.fault("an operator or the end")
	}
	e := &Expr{text: text, root: root}
	e.root.walk(func(n *node) {
		if n.op == "x" && !slices.Contains(e.names, n.name) {
			e.names = append(e.names, n.name)
		}
	})
	slices.Sort(e.names)
	return e, nil
}

// String is the text that was parsed.
func (e *Expr) String() string { return e.text }

// Names are the names that the equation needs, sorted.
func (e *Expr) Names() []string { return slices.Clone(e.names) }

// Eval works the equation out in float64. It fails where a name has no value
// or the outcome is not a finite number: a division by zero, the logarithm or
// root of a negative number, an overflow.
func (e *Expr) Eval(values map[string]float64) (float64, error) {
	for _, n := range e.names {
		if _, ok := values[n]; !ok {
			return 0, fmt.Errorf("the equation %s needs %s", e.text, n)
		}
	}
	v := e.root.eval(values)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("the equation %s has no value here", e.text)
	}
	return v, nil
}

func (n *node) walk(f func(*node)) {
	f(n)
	for i := range n.args {
		n.args[i].walk(f)
	}
}

func (n *node) eval(values map[string]float64) float64 {
	a := func(i int) float64 { return n.args[i].eval(values) }
	switch n.op {
	case "#":
		return n.value
	case "x":
		return values[n.name]
	case "~":
		return -a(0)
	case "+":
		return a(0) + a(1)
	case "-":
		return a(0) - a(1)
	case "*":
		return a(0) * a(1)
	case "/":
		return a(0) / a(1)
	case "^":
		return math.Pow(a(0), a(1))
	case "log10":
		return math.Log10(a(0))
	case "ln":
		return math.Log(a(0))
	case "exp":
		return math.Exp(a(0))
	case "sqrt":
		return math.Sqrt(a(0))
	}
	v := a(0)
	for i := 1; i < len(n.args); i++ {
		if n.op == "min" {
			v = math.Min(v, a(i))
		} else {
			v = math.Max(v, a(i))
		}
	}
	return v
}

type parser struct {
	text string
	at   int
}

func (p *parser) fault(expected string) error {
	found := "the end"
	if p.at < len(p.text) {
		found = strconv.Quote(p.text[p.at:min(len(p.text), p.at+10)])
	}
	return fmt.Errorf("equation %q: expected %s at %d, found %s", p.text, expected, p.at+1, found)
}

func (p *parser) skip() {
	for p.at < len(p.text) && p.text[p.at] == ' ' {
		p.at++
	}
}

// take moves over one of the characters, and says which.
func (p *parser) take(chars string) (byte, bool) {
	p.skip()
	if p.at < len(p.text) && slices.Contains([]byte(chars), p.text[p.at]) {
		p.at++
		return p.text[p.at-1], true
	}
	return 0, false
}

func (p *parser) sum(depth int) (node, error) { return p.chain("+-", depth, p.term) }

func (p *parser) term(depth int) (node, error) { return p.chain("*/", depth, p.factor) }

// chain is operands with operators of one rank between, taken from the left.
func (p *parser) chain(ops string, depth int, next func(int) (node, error)) (node, error) {
	left, err := next(depth)
	for err == nil {
		op, ok := p.take(ops)
		if !ok {
			return left, nil
		}
		var right node
		right, err = next(depth)
		left = node{op: string(op), args: []node{left, right}}
	}
	return left, err
}

func (p *parser) factor(depth int) (node, error) {
	if depth > maxDepth {
		return node{}, p.fault("a simpler equation")
	}
	if _, ok := p.take("-"); ok {
		n, err := p.factor(depth + 1)
		return node{op: "~", args: []node{n}}, err
	}
	base, err := p.atom(depth)
	if err != nil {
		return base, err
	}
	if _, ok := p.take("^"); ok {
		power, err := p.factor(depth + 1)
		return node{op: "^", args: []node{base, power}}, err
	}
	return base, nil
}

func (p *parser) atom(depth int) (node, error) {
	if _, ok := p.take("("); ok {
		n, err := p.sum(depth + 1)
		if err != nil {
			return n, err
		}
		if _, ok := p.take(")"); !ok {
			return n, p.fault("a closing parenthesis")
		}
		return n, nil
	}
	start := p.at
	digit := func(c byte) bool { return c >= '0' && c <= '9' }
	letter := func(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }
	switch {
	case p.at < len(p.text) && digit(p.text[p.at]):
		for p.at < len(p.text) && (digit(p.text[p.at]) || p.text[p.at] == '.') {
			p.at++
		}
		s := p.text[start:p.at]
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || s[len(s)-1] == '.' {
			p.at = start
			return node{}, p.fault("a decimal number")
		}
		return node{op: "#", value: v, text: s}, nil
	case p.at < len(p.text) && letter(p.text[p.at]):
		for p.at < len(p.text) && (letter(p.text[p.at]) || digit(p.text[p.at]) || p.text[p.at] == '_') {
			p.at++
		}
		name := p.text[start:p.at]
		if limits, ok := functions[name]; ok {
			return p.call(name, limits, depth)
		}
		return node{op: "x", name: name}, nil
	}
	return node{}, p.fault("a number, a name or a parenthesis")
}

func (p *parser) call(name string, limits [2]int, depth int) (node, error) {
	n := node{op: name}
	if _, ok := p.take("("); !ok {
		return n, p.fault("a parenthesis after " + name)
	}
	for {
		a, err := p.sum(depth + 1)
		if err != nil {
			return n, err
		}
		n.args = append(n.args, a)
		if _, ok := p.take(","); !ok {
			break
		}
	}
	if len(n.args) < limits[0] || limits[1] > 0 && len(n.args) > limits[1] {
		return n, p.fault(fmt.Sprintf("another number of arguments of %s than %d", name, len(n.args)))
	}
	if _, ok := p.take(")"); !ok {
		return n, p.fault("a closing parenthesis")
	}
	return n, nil
}
