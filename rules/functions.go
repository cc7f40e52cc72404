package rules

import (
	"fmt"
	"slices"

	"github.com/expr-lang/expr/ast"
)

// ours lists the functions of the rule language.
var ours = []string{"abs", "any_of", "ceil", "floor", "len", "lower", "max", "min", "missing", "one_if", "round", "trim", "upper", "without"}

func (t *typer) refuseFunction(at int, name string) {
	advice := nearestName(name, append(slices.Clone(ours), formulaNames()...))
	switch name {
	case "now", "date", "duration", "timezone":
		advice = "a rule holds at any time; give the age or the time as a reading"
	case "known", "unknown", "exists":
		advice = "a reading that nobody gave is unknown by itself; a rule never turns on not knowing"
	case "any", "all", "none", "one", "count", "filter", "map", "sum", "find":
		advice = "closures are not used in rules; for the other subjects use a reading with others:"
	}
	t.fault(at, advice, "the function %s is not used in rules", name)
}

func (t *typer) unary(n *ast.UnaryNode) operand {
	if n.Operator != "-" && n.Operator != "+" {
		t.fault(start(n), "put it first: not (a < b)", "%s stands in a condition, not in a value", n.Operator)
		t.condition(n.Node) // for the faults inside
		return t.bad(n)
	}
	o := t.number(n.Node)
	if o.kind == isBad || n.Operator == "+" {
		return o
	}
	return t.computed(n, opNeg, o, nil, "-("+o.src+")", o.unit)
}

// number types a node that must be a number.
func (t *typer) number(n ast.Node) operand {
	o := t.value(n)
	if o.kind != isNumber && o.kind != isBad {
		t.fault(o.at, "use a number here", "%s is %s, and a number is wanted here", o.text, o.kind)
		return t.bad(n)
	}
	return o
}

var arithmeticOps = map[string]numOp{"+": opAdd, "-": opSub, "*": opMul, "/": opDiv}

func (t *typer) arithmetic(n *ast.BinaryNode) operand {
	op, native := arithmeticOps[n.Operator]
	power := n.Operator == "**" || n.Operator == "^"
	if !native && !power {
		t.fault(n.Location().From, "put the condition in a derived reading, or join it with and, or", "the operator %s gives no value", n.Operator)
		t.condition(n)
		return t.bad(n)
	}
	l, r := t.number(n.Left), t.number(n.Right)
	if l.kind == isBad || r.kind == isBad {
		return t.bad(n)
	}
	if power {
		return t.ran(n, "("+l.src+") ** ("+r.src+")", "?", l, r)
	}
	if op == opAdd || op == opSub {
		r = t.alike(l, r)
	}
	unit := t.unit(op, l, r, n.Location().From)
	return t.computed(n, op, l, &r, "("+l.src+") "+n.Operator+" ("+r.src+")", unit)
}

// alike converts r into the unit of l, where both measure the same: mA beside A.
func (t *typer) alike(l, r operand) operand {
	if l.unit == "" || r.unit == "" || l.unit == "?" {
		return r
	}
	factor, ok := factorInto(l.unit, r.unit)
	if !ok || factor == 1 {
		return r
	}
	r.src, r.unit, r.reading = "("+r.src+") * "+floatSource(factor), l.unit, -1
	if !r.runs {
		r.num, _ = t.c.build.arith(opMul, r.num, t.c.build.number(factor))
	}
	return r
}

// unit returns the unit of l op r; sums of unlike units are refused, except
// that a difference of two levels in dBm is in dB.
func (t *typer) unit(op numOp, l, r operand, at int) string {
	a, b := l.unit, r.unit
	switch {
	case op == opMul || op == opDiv:
		switch {
		case b == "":
			return a
		case op == opDiv && a == b && a != "?":
			return ""
		case op == opMul && a == "":
			return b
		}
		return "?"
	case a == "dBm" && b == "dBm" && op == opSub:
		return "dB"
	case a == "dBm" && b == "dB" && (op == opSub || op == opAdd), a == "dB" && b == "dBm" && op == opAdd:
		return "dBm"
	case a == "" || b == "?":
		return b
	case b == "" || a == "?" || a == b:
		return a
	}
	t.fault(at, "calculate with readings in one unit", "%s is in %s, and %s is in %s", l.text, a, r.text, b)
	return "?"
}

// computed makes a number that is computed natively over intervals, unless
// an operand needs a program.
func (t *typer) computed(n ast.Node, op numOp, l operand, r *operand, src, unit string) operand {
	all := []operand{l}
	var b *num
	if r != nil {
		all, b = append(all, *r), r.num
	}
	if slices.ContainsFunc(all, func(o operand) bool { return o.runs }) {
		return t.ran(n, src, unit, all...)
	}
	made, ok := t.c.build.arith(op, l.num, b)
	if !ok {
		t.fault(n.Location().From, "the divisor must not be 0", "%s has no value", n.String())
		return t.bad(n)
	}
	o := operand{kind: isNumber, num: made, reading: -1, unit: unit, at: start(n), text: n.String(), src: src}
	for _, a := range all {
		o.reads = union(o.reads, a.reads)
	}
	if made.op == opConst {
		o.src = floatSource(made.c)
	}
	return o
}

// ran makes a number that only an expr program computes.
func (t *typer) ran(n ast.Node, src, unit string, args ...operand) operand {
	o := operand{kind: isNumber, reading: -1, unit: unit, at: start(n), text: n.String(), src: src, runs: true}
	for _, a := range args {
		o.reads = union(o.reads, a.reads)
	}
	return o
}

func (t *typer) builtin(n *ast.BuiltinNode) operand {
	want := map[string]int{"abs": 1, "round": 1, "floor": 1, "ceil": 1, "min": -1, "max": -1, "lower": 1, "upper": 1, "trim": 1, "len": 1}[n.Name]
	if want == 0 {
		t.refuseFunction(start(n), n.Name)
		return t.bad(n)
	}
	if want > 0 && len(n.Arguments) != want || want < 0 && len(n.Arguments) < 2 {
		t.fault(start(n), "write "+n.Name+map[bool]string{true: "(a)", false: "(a, b)"}[want > 0], "%s is called with %d arguments", n.Name, len(n.Arguments))
		return t.bad(n)
	}
	switch n.Name {
	case "lower", "upper", "trim", "len":
		return t.textFunction(n)
	}
	args := make([]operand, len(n.Arguments))
	for i, a := range n.Arguments {
		args[i] = t.number(a)
	}
	if slices.ContainsFunc(args, func(o operand) bool { return o.kind == isBad }) {
		return t.bad(n)
	}
	switch o := args[0]; n.Name {
	case "abs":
		return t.computed(n, opAbs, o, nil, "abs("+o.src+")", o.unit)
	case "round":
		return t.computed(n, opRound, o, nil, "round("+o.src+")", o.unit)
	case "floor", "ceil":
		return t.ran(n, n.Name+"("+o.src+")", o.unit, o)
	}
	return t.extreme(n, args)
}

func (t *typer) extreme(n *ast.BuiltinNode, args []operand) operand {
	op := opMin
	if n.Name == "max" {
		op = opMax
	}
	o := args[0]
	for _, next := range args[1:] {
		next = t.alike(o, next)
		unit := t.unit(op, o, next, next.at)
		o = t.computed(n, op, o, &next, n.Name+"("+o.src+", "+next.src+")", unit)
		if o.kind == isBad {
			return o
		}
	}
	return o
}

// call types the functions that expr does not have, where they give a value.
func (t *typer) call(n *ast.CallNode) operand {
	name, _ := dottedName(n.Callee)
	switch name {
	case "without":
		a, b, ok := t.twoSets(n, name)
		if !ok {
			return t.bad(n)
		}
		made := t.c.build.set(setx{a: a.set, b: b.set, reading: -1, all: a.set.all})
		return operand{kind: isSet, set: made, reading: -1, at: start(n), text: n.String(), reads: union(a.reads, b.reads)}
	case "one_if":
		return t.oneIf(n)
	case "missing", "any_of":
		t.fault(start(n), "join it with and, or, not", "%s is a condition, not a value", name)
		return t.bad(n)
	}
	if f := formulaOf(name); f != nil {
		return t.formula(n, f)
	}
	t.refuseFunction(start(n), callName(n, name))
	return t.bad(n)
}

// oneIf types one_if(yes/no): the number 1 for yes and 0 for no, so that a
// yes/no can leave something out of a sum.
func (t *typer) oneIf(n *ast.CallNode) operand {
	if len(n.Arguments) != 1 {
		t.fault(start(n), "write one_if(yes/no)", "one_if is called with %d arguments", len(n.Arguments))
		return t.bad(n)
	}
	o := t.value(n.Arguments[0])
	switch o.kind {
	case isYesNo:
		o.kind, o.reading, o.unit, o.text = isNumber, -1, "", n.String()
		return o
	case isBad:
		return o
	}
	t.fault(o.at, "name a reading that is yes or no", "%s is %s, and a yes/no is wanted here", o.text, o.kind)
	return t.bad(n)
}

func callName(n *ast.CallNode, name string) string {
	if name == "" {
		return n.Callee.String()
	}
	return name
}

// callCondition types the functions that give a condition.
func (t *typer) callCondition(n *ast.CallNode) (*tri, bool) {
	switch name, _ := dottedName(n.Callee); name {
	case "missing":
		a, b, ok := t.twoSets(n, name)
		if !ok {
			return t.undecided(), true
		}
		return t.c.build.leaf(leaf{kind: leafMissing, sa: a.set, sb: b.set, reads: union(a.reads, b.reads),
			shown: shownLeaf{side{a.text, a.reading}, side{b.text, b.reading}}}), true
	case "any_of":
		if len(n.Arguments) != 1 {
			t.fault(start(n), "write any_of(set)", "any_of is called with %d arguments", len(n.Arguments))
			return t.undecided(), true
		}
		a, ok := t.setArgument(n.Arguments[0])
		if !ok {
			return t.undecided(), true
		}
		return t.c.build.leaf(leaf{kind: leafAny, sa: a.set, reads: a.reads, shown: shownLeaf{side{a.text, a.reading}, side{"", -1}}}), true
	}
	return nil, false
}

func (t *typer) setArgument(n ast.Node) (operand, bool) {
	o := t.value(n)
	if o.kind != isSet && o.kind != isBad {
		t.fault(o.at, "name a reading that is a set", "%s is %s, and a set is wanted here", o.text, o.kind)
	}
	return o, o.kind == isSet
}

func (t *typer) twoSets(n *ast.CallNode, name string) (a, b operand, ok bool) {
	if len(n.Arguments) != 2 {
		t.fault(start(n), fmt.Sprintf("write %s(set, set)", name), "%s is called with %d arguments", name, len(n.Arguments))
		return a, b, false
	}
	a, okA := t.setArgument(n.Arguments[0])
	b, okB := t.setArgument(n.Arguments[1])
	if !okA || !okB {
		return a, b, false
	}
	if a.set.all&b.set.all == 0 || t.group(a.set) != t.group(b.set) {
		t.fault(b.at, "compare sets that share members", "%s and %s have no member in common", a.text, b.text)
		return a, b, false
	}
	return a, b, true
}

func (t *typer) group(s *setx) int {
	for s.a != nil {
		s = s.a
	}
	return t.c.program.readings[s.reading].group
}
