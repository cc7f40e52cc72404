package rules

import (
	"slices"

	"github.com/expr-lang/expr/ast"

	"ferrule/knowledge"
)

// comparison types a comparison of two values. The fault of a comparison of
// unlike things stands at its operator.
func (t *typer) comparison(op cmpOp, n *ast.BinaryNode) *tri {
	l, r := t.value(n.Left), t.value(n.Right)
	return t.compared(op, l, r, n.Location().From)
}

func (t *typer) compared(op cmpOp, l, r operand, at int) *tri {
	if l.kind == isBad || r.kind == isBad {
		return t.undecided()
	}
	if len(l.reads)+len(r.reads) == 0 {
		t.fault(at, "name a reading on one side", "%s %s %s compares two constants", l.text, cmpNames[op], r.text)
		return t.undecided()
	}
	// A constant is easier to reason about on the right.
	if len(l.reads) == 0 {
		l, r, op = r, l, cmpSwap[op]
	}
	switch {
	case l.kind == isNumber && r.kind == isNumber:
		return t.numbers(op, l, r, at)
	case l.kind == isVersion && (r.kind == isVersion || r.kind == isString):
		return t.comparedVersions(op, l, r, at)
	case l.kind == isChoice && (r.kind == isChoice || r.kind == isString),
		l.kind == isYesNo && (r.kind == isYesNo || r.kind == isBool),
		l.kind == isText && (r.kind == isText || r.kind == isString):
		return t.equality(op, l, r, at)
	}
	t.fault(at, unlikeAdvice(l, r), "%s is %s, and %s is %s", l.text, l.kind, r.text, r.kind)
	return t.undecided()
}

func unlikeAdvice(l, r operand) string {
	switch {
	case l.kind == isSet:
		return `write "member" in ` + l.text
	case l.kind == isVersion && r.kind == isNumber:
		return `put the version in quotes, such as "3.05"`
	case l.kind == isNumber && r.kind == isString:
		return "write the number without quotes"
	case l.kind == isChoice && r.kind == isBool:
		return `put the choice in quotes, such as "yes"`
	case l.kind == isYesNo:
		return "write " + l.text + " or not " + l.text
	}
	return "compare like with like"
}

func (t *typer) numbers(op cmpOp, l, r operand, at int) *tri {
	r = t.alike(l, r)
	if l.unit != r.unit && l.unit != "" && r.unit != "" && l.unit != "?" && r.unit != "?" {
		t.fault(at, "compare readings in one unit", "%s is in %s, and %s is in %s", l.text, l.unit, r.text, r.unit)
		return t.undecided()
	}
	reads := union(l.reads, r.reads)
	shown := shownLeaf{side{l.text, l.reading}, side{r.text, r.reading}}
	if l.runs || r.runs {
		return t.program("finite("+l.src+") "+cmpNames[op]+" finite("+r.src+")", at, reads, shown)
	}
	return t.c.build.compare(op, l.num, r.num, reads, shown)
}

// equality compares choices, yes/no and texts, which have no order.
func (t *typer) equality(op cmpOp, l, r operand, at int) *tri {
	if op != cmpEQ && op != cmpNE {
		t.fault(at, "use == or !=", "%s is %s, which has no order", l.text, l.kind)
		return t.undecided()
	}
	reads := union(l.reads, r.reads)
	shown := shownLeaf{side{l.text, l.reading}, side{r.text, r.reading}}
	right := r.num
	switch {
	case l.kind == isText:
		return t.program(l.src+" "+cmpNames[op]+" "+r.src, at, reads, shown)
	case r.kind == isBool:
		if !r.yes {
			op = cmpNot[op]
		}
		right, shown.right = t.c.build.number(1), side{"yes", -1}
	case r.kind == isString:
		id, ok := t.choice(l.reading, r)
		if !ok {
			return t.undecided()
		}
		right = t.c.build.number(float64(id))
	case l.kind == isChoice && !t.overlap(l.reading, r.reading):
		t.fault(at, "compare readings that share choices", "%s and %s have no choice in common", l.text, r.text)
		return t.undecided()
	}
	return t.c.build.compare(op, l.num, right, reads, shown)
}

// choice looks up a constant among the choices of a reading.
func (t *typer) choice(reading int, o operand) (id int, ok bool) {
	r := &t.c.program.readings[reading]
	if id, ok = r.choices[o.str]; ok {
		return id, true
	}
	t.fault(o.at, nearestName(o.str, t.c.pack.ChoiceNames(r.Reading)), "%q is no choice of %s", o.str, r.Name.S)
	return 0, false
}

// nearestName advises a near name, or lists what there is.
func nearestName(word string, names []string) string {
	if advice := knowledge.DidYouMean(word, names); advice != "" {
		return advice
	}
	return "there are: " + joined(names)
}

func (t *typer) overlap(a, b int) bool {
	for name := range t.c.program.readings[a].choices {
		if _, ok := t.c.program.readings[b].choices[name]; ok {
			return true
		}
	}
	return false
}

// in types a choice or a number in a list, and a member in a set.
func (t *typer) in(n *ast.BinaryNode) *tri {
	l := t.value(n.Left)
	if list, ok := n.Right.(*ast.ArrayNode); ok {
		return t.inList(l, list)
	}
	r := t.value(n.Right)
	switch {
	case l.kind == isBad || r.kind == isBad:
		return t.undecided()
	case r.kind != isSet:
		t.fault(r.at, `write choice in ["a", "b"], or "member" in a set`, "%s is %s, and a list or a set is wanted here", r.text, r.kind)
		return t.undecided()
	case l.kind != isString:
		t.fault(l.at, `write the member in quotes, such as "keypad bus" in `+r.text, "%s is %s, and a member in quotes is wanted here", l.text, l.kind)
		return t.undecided()
	}
	bit, ok := t.member(r, l)
	if !ok {
		return t.undecided()
	}
	return t.c.build.leaf(leaf{kind: leafMember, sa: r.set, bit: bit, reads: r.reads,
		shown: shownLeaf{side{l.text, -1}, side{r.text, r.reading}}})
}

// member looks up a constant among the members of a set.
func (t *typer) member(set, o operand) (bit uint8, ok bool) {
	s := set.set
	for s.a != nil {
		s = s.a
	}
	r := &t.c.program.readings[s.reading]
	if bit, ok = r.members[o.str]; ok {
		return bit, true
	}
	t.fault(o.at, nearestName(o.str, t.c.pack.ChoiceNames(r.Reading)), "%q is no member of %s", o.str, r.Name.S)
	return 0, false
}

func (t *typer) inList(l operand, list *ast.ArrayNode) *tri {
	if len(list.Nodes) == 0 {
		t.fault(start(list), `write choice in ["a", "b"]`, "the list is empty")
		return t.undecided()
	}
	if l.kind == isSet {
		t.fault(l.at, `write "a" in `+l.text+` or "b" in `+l.text, "%s is a set", l.text)
		return t.undecided()
	}
	var parts []*tri
	for _, n := range list.Nodes {
		o := t.value(n)
		if o.kind == isBad {
			continue
		}
		if len(o.reads) > 0 {
			t.fault(o.at, "compare it with ==", "%s is a reading, and a list holds constants", o.text)
			continue
		}
		parts = append(parts, t.compared(cmpEQ, l, o, o.at))
	}
	return t.c.build.join(triOr, parts...)
}

func union(a, b []int) []int {
	out := slices.Clone(a)
	for _, x := range b {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}
