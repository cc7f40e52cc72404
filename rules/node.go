package rules

import (
	"fmt"
	"math"
	"slices"
)

// num is a number: a reading, a constant, or arithmetic over them. Equal ones
// are one node.
type num struct {
	id      int
	op      numOp
	a, b    *num // b is nil for one operand
	formula *formula
	args    []*num // opFormula
	c       float64
	reading int // opReading
	slot    int // in Facts.nums; -1 until the flat form needs one
}

// setx is a set: a reading, or the members of a that are not in b.
type setx struct {
	id      int
	a, b    *setx // without(a, b)
	reading int   // where a is nil
	slot    int
	all     uint64 // members that it may have
}

type triKind uint8

const (
	triConst triKind = iota
	triLeaf
	triAnd
	triOr
)

// tri is a condition with all negations pushed into the leaves.
type tri struct {
	id    int
	kind  triKind
	value Truth // triConst
	leaf  *leaf
	kids  []*tri
	code  uint16 // in the flat form
}

type leafKind uint8

const (
	leafConst   leafKind = iota // number against constant: also choices and yes/no
	leafPair                    // number against number
	leafVersion                 // version against version
	leafMember                  // member in set
	leafMissing                 // missing(a, b)
	leafAny                     // any_of(a)
	leafRun                     // an expr program
)

// leaf is one condition without and, or, not. Equal leaves are one node.
type leaf struct {
	kind   leafKind
	op     cmpOp // leafConst, leafPair, leafVersion
	a, b   *num
	c      float64
	va, vb int // version slots
	sa, sb *setx
	bit    uint8
	negate bool // leafMember, leafMissing, leafAny, leafRun
	run    *runner
	reads  []int // readings, in order of appearance
	shown  shownLeaf
}

// shownLeaf is what an explanation needs of a leaf.
type shownLeaf struct {
	left, right side
}

// side is one side of a comparison as written.
type side struct {
	text    string
	reading int // -1 unless it is one reading
}

// builder makes nodes and keeps equal ones single.
type builder struct {
	nums   map[numKey]*num
	sets   map[setKey]*setx
	leaves map[leafKey]*tri
	tris   map[string]*tri
	count  int
}

type numKey struct {
	op      numOp
	a, b    int
	c       uint64
	reading int
	formula *formula
	args    string
}

type setKey struct{ a, b, reading int }

type leafKey struct {
	kind         leafKind
	op           cmpOp
	a, b, va, vb int
	c            uint64
	bit          uint8
	negate       bool
	run          string
}

func newBuilder() *builder {
	return &builder{map[numKey]*num{}, map[setKey]*setx{}, map[leafKey]*tri{}, map[string]*tri{}, 0}
}

func (b *builder) next() int { b.count++; return b.count }

func ids(list []*num) []int {
	out := make([]int, len(list))
	for i, n := range list {
		out[i] = n.id
	}
	return out
}

// operands calls yield with the numbers that n is computed from.
func (n *num) operands(yield func(*num)) {
	for _, x := range [...]*num{n.a, n.b} {
		if x != nil {
			yield(x)
		}
	}
	for _, x := range n.args {
		yield(x)
	}
}

func idOf(n *num) int {
	if n == nil {
		return 0
	}
	return n.id
}

func (b *builder) number(c float64) *num {
	if c == 0 {
		c = 0 // one zero, not two
	}
	return b.num(num{op: opConst, c: c, reading: -1})
}

func (b *builder) readingNum(r int) *num { return b.num(num{op: opReading, reading: r}) }

// arith makes x op y, computing it at once when both are constant. y is nil
// for one operand. ok is false for a constant division by zero.
func (b *builder) arith(op numOp, x, y *num) (n *num, ok bool) {
	if x.op == opConst && (y == nil || y.op == opConst) {
		other := interval{}
		if y != nil {
			other = point(y.c)
		}
		z, ok := op.apply(point(x.c), other)
		if !ok || !z.isPoint() || math.IsInf(z.lo, 0) {
			return x, false
		}
		return b.number(z.lo), true
	}
	if op == opDiv && y.op == opConst && y.c == 0 {
		return x, false
	}
	if op == opMul && y.op == opConst && y.c == 1 {
		return x, true
	}
	commutes := op == opAdd || op == opMul || op == opMin || op == opMax
	if commutes && x.id > y.id {
		x, y = y, x
	}
	return b.num(num{op: op, a: x, b: y, reading: -1}), true
}

func (b *builder) num(n num) *num {
	key := numKey{n.op, idOf(n.a), idOf(n.b), math.Float64bits(n.c), n.reading, n.formula, ""}
	if n.op == opFormula {
		key.args = fmt.Sprint(ids(n.args))
	}
	if old := b.nums[key]; old != nil {
		return old
	}
	n.id, n.slot = b.next(), -1
	if n.op == opReading {
		n.slot = n.reading
	}
	b.nums[key] = &n
	return &n
}

func (b *builder) set(s setx) *setx {
	key := setKey{reading: s.reading}
	if s.a != nil {
		key.a, key.b = s.a.id, s.b.id
	}
	if old := b.sets[key]; old != nil {
		return old
	}
	s.id = b.next()
	if s.a != nil {
		s.slot = -1
	}
	b.sets[key] = &s
	return &s
}

// leaf makes a leaf in its normal form: constants on the right, > and >=
// between two readings turned round.
func (b *builder) leaf(l leaf) *tri {
	key := leafKey{kind: l.kind, op: l.op, a: idOf(l.a), b: idOf(l.b), va: l.va, vb: l.vb,
		c: math.Float64bits(l.c), bit: l.bit, negate: l.negate}
	if l.sa != nil {
		key.a = l.sa.id
	}
	if l.sb != nil {
		key.b = l.sb.id
	}
	if l.run != nil {
		key.run = l.run.source
	}
	if old := b.leaves[key]; old != nil {
		return old
	}
	t := &tri{id: b.next(), kind: triLeaf, leaf: &l}
	b.leaves[key] = t
	return t
}

func (b *builder) constant(v Truth) *tri {
	return b.tri("constant "+v.String(), tri{kind: triConst, value: v})
}

func (b *builder) tri(key string, t tri) *tri {
	if old := b.tris[key]; old != nil {
		return old
	}
	t.id = b.next()
	b.tris[key] = &t
	return &t
}

// join makes an and or an or: nested ones of the same kind are taken in, a
// part that stands twice counts once, and the order does not tell two apart.
func (b *builder) join(kind triKind, parts ...*tri) *tri {
	neutral, absorbing := True, False
	if kind == triOr {
		neutral, absorbing = False, True
	}
	var kids []*tri
	for _, p := range parts {
		more := []*tri{p}
		if p.kind == kind {
			more = p.kids
		}
		for _, k := range more {
			if k.kind == triConst && k.value == absorbing {
				return k
			}
			if (k.kind != triConst || k.value != neutral) && !slices.Contains(kids, k) {
				kids = append(kids, k)
			}
		}
	}
	switch len(kids) {
	case 0:
		return b.constant(neutral)
	case 1:
		return kids[0]
	}
	ids := make([]int, len(kids))
	for i, k := range kids {
		ids[i] = k.id
	}
	slices.Sort(ids)
	return b.tri(fmt.Sprint(kind, ids), tri{kind: kind, kids: kids})
}

// not pushes a negation down to the leaves. It holds for intervals as well:
// a complementary operator is certain exactly when the operator is excluded.
func (b *builder) not(t *tri) *tri {
	switch t.kind {
	case triConst:
		return b.constant(t.value.not())
	case triLeaf:
		return b.notLeaf(*t.leaf)
	}
	kids := make([]*tri, len(t.kids))
	for i, k := range t.kids {
		kids[i] = b.not(k)
	}
	if t.kind == triAnd {
		return b.join(triOr, kids...)
	}
	return b.join(triAnd, kids...)
}

func (b *builder) notLeaf(l leaf) *tri {
	switch l.kind {
	case leafConst:
		l.op = cmpNot[l.op]
		return b.leaf(l)
	case leafPair:
		return b.pair(cmpNot[l.op], l.a, l.b, l.reads, l.shown)
	case leafVersion:
		return b.versions(cmpNot[l.op], l.va, l.vb, l.reads, l.shown)
	}
	l.negate = !l.negate
	return b.leaf(l)
}

// compare makes the leaf x op y of two numbers.
func (b *builder) compare(op cmpOp, x, y *num, reads []int, shown shownLeaf) *tri {
	switch {
	case x.op == opConst && y.op == opConst:
		return b.constant(op.compare(point(x.c), point(y.c)))
	case x.op == opConst:
		return b.leaf(leaf{kind: leafConst, op: cmpSwap[op], a: y, c: x.c, reads: reads, shown: shownLeaf{shown.right, shown.left}})
	case y.op == opConst:
		return b.leaf(leaf{kind: leafConst, op: op, a: x, c: y.c, reads: reads, shown: shown})
	}
	return b.pair(op, x, y, reads, shown)
}

func (b *builder) pair(op cmpOp, x, y *num, reads []int, shown shownLeaf) *tri {
	if turned(op, x.id, y.id) {
		op, x, y, shown = cmpSwap[op], y, x, shownLeaf{shown.right, shown.left}
	}
	return b.leaf(leaf{kind: leafPair, op: op, a: x, b: y, reads: reads, shown: shown})
}

func (b *builder) versions(op cmpOp, x, y int, reads []int, shown shownLeaf) *tri {
	if turned(op, x, y) {
		op, x, y, shown = cmpSwap[op], y, x, shownLeaf{shown.right, shown.left}
	}
	return b.leaf(leaf{kind: leafVersion, op: op, va: x, vb: y, reads: reads, shown: shown})
}

// turned tells whether the sides change places in the normal form, which
// knows no > and >= between two readings.
func turned(op cmpOp, x, y int) bool {
	return op == cmpGT || op == cmpGE || (op == cmpEQ || op == cmpNE) && x > y
}
