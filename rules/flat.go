package rules

import (
	"cmp"
	"slices"

	"ferrule/knowledge"
)

// The flat form: every condition that stands alone (a leaf) has one byte, and
// so has every and and or. Leaves are grouped by operator, so that each group
// is one tight loop over typed slots; and and or become rows of up to four
// operands, level by level, so that they run without branches. Codes are in an
// array of 65,536 bytes, so that a uint16 needs no bounds check.

// maxNodes leaves room for the two constants and rounds down.
const maxNodes = 65_000

type codes = [1 << 16]byte

// Two fixed bytes pad rows and stand for constant conditions.
const (
	codeFalse     = 0
	codeTrue      = 1
	codeUndecided = 2
	firstCode     = 3
)

type constLeaf struct {
	c    float64
	slot int
}

type pairLeaf struct{ a, b uint32 }

type memberLeaf struct {
	set uint32
	bit uint8
}

// group is a run of leaves of one shape; their codes start at first.
type group[T any] struct {
	first int
	list  []T
}

type flat struct {
	consts   [6]group[constLeaf] // by cmpOp
	pairs    [6]group[pairLeaf]
	versions [6]group[pairLeaf]
	members  [2]group[memberLeaf] // plain, negated
	slow     []slowLeaf           // sets held against each other, programs
	arith    []arithStep
	sets     []setStep
	rows     []rowGroup
	verdicts []uint64 // rule -> four codes, all of which must hold
	first    int      // code of the first rule
	bands    [][]uint16
	size     int // codes in use
}

// slowLeaf is evaluated by leafTruth.
type slowLeaf struct {
	code uint16
	leaf *leaf
}

// arithStep computes a number into its slot.
type arithStep struct {
	op         numOp
	slot, a, b int
	formula    *formula
	args       []int    // slots, of a formula
	owners     []string // whom it concerns when there is no result
}

type setStep struct {
	slot, a, b int
	allA, allB uint64
}

// rowGroup is a run of rows of one level, one operator and one width.
type rowGroup struct {
	first int
	or    bool
	width int
	rows  [][4]uint16
}

// flatten lays out all conditions of rules and bands.
func (c *compiler) flatten() {
	l := layout{c: c, flat: &c.program.flat, level: map[*tri]int{}, steps: map[*num]int{}}
	l.flat.size = firstCode
	for _, t := range c.program.rules {
		l.collectRule(t)
	}
	for _, bands := range c.program.bands {
		for _, t := range bands {
			l.collect(t)
		}
	}
	rows, verdicts := l.rows()
	if n := len(l.leaves) + len(rows) + len(verdicts) + firstCode; n > maxNodes {
		c.problems.Add(c.firstPlace(), "split the pack, or derive readings that many rules share",
			"the rules have %d different conditions; %d are possible", n, maxNodes)
		return
	}
	l.placeLeaves()
	l.placeRows(rows)
	l.placeVerdicts(verdicts)
	l.owners()
	for _, bands := range c.program.bands {
		codes := make([]uint16, len(bands))
		for i, t := range bands {
			codes[i] = t.code
		}
		l.flat.bands = append(l.flat.bands, codes)
	}
}

// firstPlace is where a fault of the whole pack is reported.
func (c *compiler) firstPlace() knowledge.Pos {
	switch {
	case len(c.pack.Rules) > 0:
		return c.pack.Rules[0].At
	case len(c.pack.Evidence) > 0:
		return c.pack.Evidence[0].At
	}
	return knowledge.Pos{}
}

type layout struct {
	c      *compiler
	flat   *flat
	leaves []*tri
	inner  []*tri
	level  map[*tri]int
	steps  map[*num]int // arithmetic -> its step
}

// collect finds leaves and inner nodes, each once, and their levels.
func (l *layout) collect(t *tri) int {
	if level, ok := l.level[t]; ok {
		return level
	}
	level := 0
	switch t.kind {
	case triConst:
		t.code = map[Truth]uint16{False: codeFalse, True: codeTrue, Undecided: codeUndecided}[t.value]
	case triLeaf:
		l.leaves = append(l.leaves, t)
	default:
		for _, k := range t.kids {
			level = max(level, l.collect(k))
		}
		level++
		l.inner = append(l.inner, t)
	}
	l.level[t] = level
	return level
}

// collectRule leaves an and at the root out: the rule's verdict joins its parts.
func (l *layout) collectRule(t *tri) {
	if t.kind != triAnd {
		l.collect(t)
		return
	}
	for _, k := range t.kids {
		l.collect(k)
	}
}

// placeLeaves sorts the leaves into groups and numbers them.
func (l *layout) placeLeaves() {
	slices.SortStableFunc(l.leaves, func(a, b *tri) int {
		return cmp.Or(cmp.Compare(a.leaf.kind, b.leaf.kind), cmp.Compare(a.leaf.op, b.leaf.op),
			cmp.Compare(l.first(a.leaf), l.first(b.leaf)))
	})
	for _, t := range l.leaves {
		if t.leaf.kind == leafMember && t.leaf.negate {
			continue // after the plain ones, to stay in a run
		}
		l.placeLeaf(t)
	}
	for _, t := range l.leaves {
		if t.leaf.kind == leafMember && t.leaf.negate {
			l.placeLeaf(t)
		}
	}
}

// first is the slot that a leaf looks at first: leaves in its order read
// memory in its order.
func (l *layout) first(x *leaf) int {
	switch x.kind {
	case leafConst, leafPair:
		return l.numSlot(x.a)
	case leafVersion:
		return x.va
	case leafMember:
		return l.setSlot(x.sa)
	}
	return 0
}

func (l *layout) placeLeaf(t *tri) {
	f, x := l.flat, t.leaf
	t.code = uint16(f.size)
	switch x.kind {
	case leafConst:
		add(&f.consts[x.op], f.size, constLeaf{x.c, l.numSlot(x.a)})
	case leafPair:
		add(&f.pairs[x.op], f.size, pairLeaf{uint32(l.numSlot(x.a)), uint32(l.numSlot(x.b))})
	case leafVersion:
		add(&f.versions[x.op], f.size, pairLeaf{uint32(x.va), uint32(x.vb)})
	case leafMember:
		k := 0
		if x.negate {
			k = 1
		}
		add(&f.members[k], f.size, memberLeaf{uint32(l.setSlot(x.sa)), x.bit})
	default:
		f.slow = append(f.slow, slowLeaf{t.code, x})
	}
	f.size++
}

func add[T any](g *group[T], code int, x T) {
	if len(g.list) == 0 {
		g.first = code
	}
	g.list = append(g.list, x)
}

// numSlot returns the slot of a number, adding the steps that compute it.
func (l *layout) numSlot(n *num) int {
	if n.slot >= 0 {
		return n.slot
	}
	p := l.c.program
	if n.op == opConst {
		n.slot = p.nums
		p.nums++
		p.constants = append(p.constants, n)
		return n.slot
	}
	step := arithStep{op: n.op, formula: n.formula}
	if n.a != nil {
		step.a = l.numSlot(n.a)
		step.b = step.a
	}
	if n.b != nil {
		step.b = l.numSlot(n.b)
	}
	for _, a := range n.args {
		step.args = append(step.args, l.numSlot(a))
	}
	n.slot = p.nums
	p.nums++
	step.slot = n.slot
	l.steps[n] = len(l.flat.arith)
	l.flat.arith = append(l.flat.arith, step)
	return n.slot
}

func (l *layout) setSlot(s *setx) int {
	if s.a != nil && s.slot < 0 {
		step := setStep{a: l.setSlot(s.a), b: l.setSlot(s.b), allA: s.a.all, allB: s.b.all}
		s.slot = l.c.program.sets
		l.c.program.sets++
		step.slot = s.slot
		l.flat.sets = append(l.flat.sets, step)
	}
	return s.slot
}
