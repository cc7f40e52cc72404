package rules

import (
	"slices"
	"strconv"

	"github.com/expr-lang/expr/ast"

	"ferrule/knowledge"
)

// operandKind is what an operand is, before it becomes part of a leaf.
type operandKind uint8

const (
	isBad operandKind = iota // reported already
	isNumber
	isChoice
	isYesNo
	isSet
	isVersion
	isText
	isString // a constant: choice, version or member, as the other side decides
	isBool   // a constant
)

func (k operandKind) String() string {
	return [...]string{"nothing", "a number", "a choice", "a yes/no", "a set", "a version", "a text", "a word in quotes", "yes or no"}[k]
}

// operand is one typed side of a comparison, or an argument.
type operand struct {
	kind    operandKind
	num     *num // number, choice, yes/no
	set     *setx
	str     string
	yes     bool
	reading int    // -1 unless it is one reading
	unit    string // "?" where arithmetic made a unit of its own
	at      int
	text    string
	reads   []int
	src     string // for an expr program
	runs    bool   // only an expr program can compute it
}

// typer types one expression and builds its nodes. A fault is reported where
// it stands, and typing goes on, so that all faults of an expression are found.
type typer struct {
	source
	c    *compiler
	uses []use
}

func (t *typer) bad(n ast.Node) operand { return operand{kind: isBad, reading: -1, at: start(n)} }

// undecided stands for a condition whose fault was reported.
func (t *typer) undecided() *tri { return t.c.build.constant(Undecided) }

// condition types a node that must be true, false or unknown.
func (t *typer) condition(n ast.Node) *tri {
	switch n := n.(type) {
	case *ast.BoolNode:
		return t.c.build.constant(truthOf(n.Value, n.Value))
	case *ast.UnaryNode:
		if n.Operator == "not" || n.Operator == "!" {
			return t.c.build.not(t.condition(n.Node))
		}
	case *ast.BinaryNode:
		if done, ok := t.binaryCondition(n); ok {
			return done
		}
	case *ast.CallNode:
		if done, ok := t.callCondition(n); ok {
			return done
		}
	}
	o := t.value(n)
	switch o.kind {
	case isBad:
		return t.undecided()
	case isYesNo:
		return t.yes(o)
	case isBool:
		return t.c.build.constant(truthOf(o.yes, o.yes))
	}
	t.fault(o.at, conditionAdvice(o), "%s is %s, and a condition is wanted here", o.text, o.kind)
	return t.undecided()
}

func conditionAdvice(o operand) string {
	switch o.kind {
	case isNumber:
		return "compare it, such as " + o.text + " > 0"
	case isSet:
		return "write any_of(" + o.text + "), or \"member\" in " + o.text
	case isChoice, isVersion, isText:
		return "compare it, such as " + o.text + " == \"...\""
	}
	return "write a comparison"
}

func (t *typer) yes(o operand) *tri {
	shown := shownLeaf{side{o.text, o.reading}, side{"yes", -1}}
	return t.c.build.compare(cmpEQ, o.num, t.c.build.number(1), o.reads, shown)
}

func (t *typer) binaryCondition(n *ast.BinaryNode) (*tri, bool) {
	switch n.Operator {
	case "and", "&&":
		return t.c.build.join(triAnd, t.condition(n.Left), t.condition(n.Right)), true
	case "or", "||":
		return t.c.build.join(triOr, t.condition(n.Left), t.condition(n.Right)), true
	}
	op, comparison := cmpOf(n.Operator)
	textual := slices.Contains(textOperators, n.Operator)
	if !comparison && !textual && n.Operator != "in" {
		return nil, false
	}
	// not binds closer than a comparison, which nobody expects.
	if u, ok := n.Left.(*ast.UnaryNode); ok && (u.Operator == "not" || u.Operator == "!") {
		t.fault(u.Location().From, "write not (a "+n.Operator+" b)", "not would apply to %s alone", u.Node.String())
		return t.undecided(), true
	}
	switch {
	case comparison:
		return t.comparison(op, n), true
	case textual:
		return t.textual(n), true
	}
	return t.in(n), true
}

// value types a node that stands for a value.
func (t *typer) value(n ast.Node) operand {
	switch n := n.(type) {
	case *ast.IntegerNode:
		return t.constant(n, float64(n.Value))
	case *ast.FloatNode:
		return t.constant(n, n.Value)
	case *ast.StringNode:
		return operand{kind: isString, str: n.Value, reading: -1, at: start(n), text: n.Value, src: strconv.Quote(n.Value)}
	case *ast.BoolNode:
		return t.boolean(n, n.Value)
	case *ast.IdentifierNode, *ast.MemberNode:
		return t.named(n)
	case *ast.UnaryNode:
		return t.unary(n)
	case *ast.BinaryNode:
		return t.arithmetic(n)
	case *ast.BuiltinNode:
		return t.builtin(n)
	case *ast.CallNode:
		return t.call(n)
	}
	t.refuse(n)
	return t.bad(n)
}

func (t *typer) constant(n ast.Node, c float64) operand {
	return operand{kind: isNumber, num: t.c.build.number(c), reading: -1, at: start(n), text: n.String(), src: floatSource(c)}
}

func (t *typer) boolean(n ast.Node, yes bool) operand {
	text := "no"
	if yes {
		text = "yes"
	}
	return operand{kind: isBool, yes: yes, reading: -1, at: start(n), text: text}
}

// named types a dotted reading name, or yes and no.
func (t *typer) named(n ast.Node) operand {
	name, ok := dottedName(n)
	if !ok {
		t.refuse(n)
		return t.bad(n)
	}
	if _, plain := n.(*ast.IdentifierNode); plain {
		if yes, ok := knowledge.ParseYesNo(name); ok {
			return t.boolean(n, yes)
		}
	}
	i, ok := t.c.program.index[name]
	if !ok {
		advice := knowledge.DidYouMean(name, t.c.pack.ReadingNames())
		if advice == "" {
			advice = "define it under readings:, and put a choice, a member or a version in quotes"
		}
		t.fault(start(n), advice, "unknown reading %q", name)
		return t.bad(n)
	}
	t.uses = append(t.uses, use{i, t.pos(start(n))})
	return t.reading(n, i)
}

func (t *typer) reading(n ast.Node, i int) operand {
	r := &t.c.program.readings[i]
	o := operand{reading: i, at: start(n), text: r.Name.S, reads: []int{i}, unit: r.Unit, src: variable(i)}
	switch r.Kind {
	case knowledge.Number:
		o.kind = isNumber
	case knowledge.Choice:
		o.kind = isChoice
	case knowledge.YesNo:
		o.kind = isYesNo
	case knowledge.Version:
		o.kind = isVersion
		return o
	case knowledge.Text:
		o.kind, o.runs = isText, true
		return o
	case knowledge.Set:
		o.kind = isSet
		o.set = t.c.build.set(setx{reading: i, slot: r.set, all: r.all})
		return o
	default:
		return t.bad(n) // an unknown kind, reported by the loader
	}
	o.num = t.c.build.readingNum(i)
	return o
}

func (t *typer) refuse(n ast.Node) {
	what, advice := "this", "use comparisons with and, or, not"
	switch n := n.(type) {
	case *ast.ArrayNode:
		what, advice = "a list", `write choice in ["a", "b"]`
	case *ast.MapNode:
		what = "a map"
	case *ast.ConditionalNode:
		what, advice = "a choice between two expressions", "two outcomes are two rules"
	case *ast.NilNode:
		what, advice = "nil", "a reading that nobody gave is unknown by itself"
	case *ast.MemberNode, *ast.SliceNode:
		what, advice = "an index", "name a reading, such as radio.signal"
	case *ast.BytesNode:
		what, advice = "a byte string", "write it in plain quotes"
	case *ast.PredicateNode, *ast.PointerNode:
		what, advice = "a closure", "for the other subjects use a reading with others:"
	case *ast.BuiltinNode:
		t.refuseFunction(start(n), n.Name)
		return
	case *ast.BinaryNode:
		what = "the operator " + n.Operator
	}
	t.fault(start(n), advice, "%s is not used in rules", what)
}
