package rules

import (
	"fmt"
	"math"
	"strings"

	"github.com/expr-lang/expr/ast"

	"ferrule/knowledge/units"
)

// formula is a piece of the trade's arithmetic as the rule language sees it.
type formula struct {
	name   string
	says   string // what it computes, in a line
	source string
	takes  []parameter
	unit   string
	// compute is called with as many numbers as it takes, in their units.
	compute func(x []float64) (float64, error)
}

// parameter is an argument of a formula. A number in another unit of the same
// dimension is converted.
type parameter struct {
	name      string
	unit      string
	trend     trend
	low, high float64 // what a constant may be
}

// trend says which way a result goes when an argument grows. It lets a range
// of arguments become a range of results by its ends alone.
type trend int8

const (
	falls   trend = -1
	neither trend = 0 // a range of it leaves the result open
	rises   trend = 1
)

// mostArguments bounds what a formula may take, so that none is allocated.
const mostArguments = 8

// slackOfEnds widens a computed range by more than floating point can be wrong
// about the order of two results.
const slackOfEnds = 1e-12

// apply computes the formula over what is known of its arguments. An end for
// which there is no result stays open; the error is that of exact arguments.
func (f *formula) apply(args []interval) (interval, error) {
	var at [mostArguments]float64
	x := at[:len(args)]
	exact := true
	for i, a := range args {
		x[i] = a.lo
		exact = exact && a.isPoint()
	}
	if exact {
		y, err := f.at(x)
		if err != nil {
			return anything, err
		}
		return point(y), nil
	}
	out := anything
	if y, ok := f.end(args, x, falls); ok {
		out.lo = y - slackOfEnds*math.Abs(y)
	}
	if y, ok := f.end(args, x, rises); ok {
		out.hi = y + slackOfEnds*math.Abs(y)
	}
	return out, nil
}

// end computes the least result (falls) or the greatest (rises).
func (f *formula) end(args []interval, x []float64, toward trend) (float64, bool) {
	for i, a := range args {
		x[i] = a.lo
		if f.takes[i].trend == toward {
			x[i] = a.hi
		}
		if math.IsInf(x[i], 0) || f.takes[i].trend == neither && !a.isPoint() {
			return 0, false
		}
	}
	y, err := f.at(x)
	return y, err == nil
}

func (f *formula) at(x []float64) (float64, error) {
	y, err := f.compute(x)
	if err == nil {
		err = units.Number("the result", y, f.unit)
	}
	if err != nil {
		return 0, &NoAnswer{f.name, err}
	}
	return y, nil
}

// NoAnswer says that a formula has no answer for what it was given. What rests on
// it is unknown; it is no fault of the rules.
type NoAnswer struct {
	Formula string
	Err     error
}

func (e *NoAnswer) Error() string { return e.Formula + ": " + e.Err.Error() }

// Unwrap gives the reason.
func (e *NoAnswer) Unwrap() error { return e.Err }

// usage is how the formula is written.
func (f *formula) usage() string {
	s := f.name + "("
	for i, p := range f.takes {
		if i > 0 {
			s += ", "
		}
		s += p.name
		if p.unit != "" {
			s += " in " + p.unit
		}
	}
	return s + ")"
}

func formulaOf(name string) *formula {
	for i := range formulas {
		if formulas[i].name == name {
			return &formulas[i]
		}
	}
	return nil
}

// formula types a call of one.
func (t *typer) formula(n *ast.CallNode, f *formula) operand {
	if len(n.Arguments) != len(f.takes) {
		t.fault(start(n), "write "+f.usage(), "%s is called with %d arguments", f.name, len(n.Arguments))
		return t.bad(n)
	}
	o := operand{kind: isNumber, reading: -1, unit: f.unit, at: start(n), text: n.String()}
	made := num{op: opFormula, formula: f, reading: -1}
	var srcs []string
	for i, a := range n.Arguments {
		arg := t.number(a)
		if arg.kind == isBad {
			return t.bad(n)
		}
		factor, ok := factorInto(f.takes[i].unit, arg.unit)
		if !ok {
			t.fault(arg.at, "write "+f.usage(), "%s is in %s, and %s takes %s", arg.text, arg.unit, f.name, f.takes[i].wanted())
			return t.bad(n)
		}
		if p := f.takes[i]; arg.num != nil && arg.num.op == opConst && !(arg.num.c*factor >= p.low && arg.num.c*factor <= p.high) {
			t.fault(arg.at, fmt.Sprintf("%s is %g to %g %s", p.name, p.low, p.high, p.unit), "%s takes no %s of %s", f.name, p.name, arg.text)
			return t.bad(n)
		}
		o.runs = o.runs || arg.runs
		o.reads = union(o.reads, arg.reads)
		srcs = append(srcs, "("+arg.src+") * "+floatSource(factor))
		if !arg.runs {
			x, _ := t.c.build.arith(opMul, arg.num, t.c.build.number(factor))
			made.args = append(made.args, x)
		}
	}
	o.src = f.name + "(" + strings.Join(srcs, ", ") + ")"
	if !o.runs {
		o.num = t.c.build.num(made)
	}
	return o
}

func (p parameter) wanted() string {
	if p.unit == "" {
		return "a bare number as " + p.name
	}
	return p.name + " in " + p.unit
}

// factorInto is what a number in one unit is multiplied with to be in another;
// a bare number is taken to be in it.
func factorInto(unit, written string) (float64, bool) {
	if written == unit || written == "" || written == "?" {
		return 1, true
	}
	from, okA := units.BySymbol(written)
	to, okB := units.BySymbol(unit)
	if !okA || !okB {
		return 0, false
	}
	zero, ok := from.In(to, 0)
	one, _ := from.In(to, 1)
	return one, ok && zero == 0
}

func formulaNames() []string {
	names := make([]string, len(formulas))
	for i := range formulas {
		names[i] = formulas[i].name
	}
	return names
}

// called is the formula as an expr program calls it.
func (f *formula) called(params ...any) (any, error) {
	x := make([]float64, len(params))
	for i, p := range params {
		var ok bool
		if x[i], ok = p.(float64); !ok {
			return nil, fmt.Errorf("%s: %v is not a number", f.name, p)
		}
	}
	return f.at(x)
}

// Formula describes a function of the rule language that calculates.
type Formula struct {
	Usage  string // cable_drop(length one way in m, section of a core in mm2, current in A)
	Unit   string
	Says   string
	Source string
}

// Formulas lists the functions that calculate, in the order of the program.
func Formulas() []Formula {
	out := make([]Formula, len(formulas))
	for i := range formulas {
		f := &formulas[i]
		out[i] = Formula{Usage: f.usage(), Unit: f.unit, Says: f.says, Source: f.source}
	}
	return out
}
