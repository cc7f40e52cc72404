package rules

import "fmt"

// The functions here evaluate one node by recursion. They serve the derived
// readings, which are few, and the explanations; rules take the flat form.

func (f *Facts) number(n *num) interval {
	switch n.op {
	case opReading:
		return f.nums[n.reading]
	case opConst:
		return point(n.c)
	case opFormula:
		return f.formula(n)
	}
	x, y := f.number(n.a), interval{}
	if n.b != nil {
		y = f.number(n.b)
	}
	z, ok := n.op.apply(x, y)
	if !ok {
		f.report(errDivision)
	}
	return z
}

func (f *Facts) formula(n *num) interval {
	var at [mostArguments]interval
	args := at[:len(n.args)]
	for i, a := range n.args {
		args[i] = f.number(a)
	}
	z, err := n.formula.apply(args)
	if err != nil {
		f.report(err)
	}
	return z
}

// report notes a problem of the reading that is being computed; explanations
// evaluate again and report nothing.
func (f *Facts) report(err error) {
	if f.owner != "" {
		f.problems = append(f.problems, Problem{f.owner, err})
	}
}

var errDivision = fmt.Errorf("division by zero")

func (f *Facts) setOf(s *setx) (has, hasNot uint64) {
	if s.a == nil {
		return f.has[s.slot], f.hasNot[s.slot]
	}
	inA, outA := f.setOf(s.a)
	inB, outB := f.setOf(s.b)
	return without(s.a.all, s.b.all, inA, outA, inB, outB)
}

// without computes a minus b. A member that b can't have is not in b.
func without(allA, allB, inA, outA, inB, outB uint64) (has, hasNot uint64) {
	outB |= allA &^ allB
	return inA & outB, outA | inB
}

func (f *Facts) truth(t *tri) Truth {
	switch t.kind {
	case triConst:
		return t.value
	case triLeaf:
		return f.leafTruth(t.leaf)
	}
	result := True
	if t.kind == triOr {
		result = False
	}
	for _, k := range t.kids {
		if t.kind == triOr {
			result |= f.truth(k)
		} else {
			result &= f.truth(k)
		}
	}
	return result
}

func (f *Facts) leafTruth(l *leaf) Truth {
	var out Truth
	switch l.kind {
	case leafConst:
		return l.op.compare(f.number(l.a), point(l.c))
	case leafPair:
		return l.op.compare(f.number(l.a), f.number(l.b))
	case leafVersion:
		return f.versionTruth(l)
	case leafMember:
		has, hasNot := f.setOf(l.sa)
		out = memberTruth(has, hasNot, l.bit)
	case leafMissing:
		inA, outA := f.setOf(l.sa)
		inB, outB := f.setOf(l.sb)
		in, out2 := without(l.sa.all, l.sb.all, inA, outA, inB, outB)
		out = anyTruth(in, out2, l.sa.all)
	case leafAny:
		has, hasNot := f.setOf(l.sa)
		out = anyTruth(has, hasNot, l.sa.all)
	case leafRun:
		var err error
		if out, err = f.machine.run(l.run, f); err != nil {
			f.report(err)
		}
	}
	if l.negate {
		return out.not()
	}
	return out
}

func (f *Facts) versionTruth(l *leaf) Truth {
	a, b := f.parsed[l.va], f.parsed[l.vb]
	if a.ordered && !a.keyed || b.ordered && !b.keyed {
		return compareVersions(l.op, a, b)
	}
	x, y := f.spans[l.va], f.spans[l.vb]
	return compareBounds(l.op, x.lo, x.hi, y.lo, y.hi)
}

func memberTruth(has, hasNot uint64, bit uint8) Truth {
	return truthOf(hasNot>>bit&1 == 0, has>>bit&1 == 1)
}

// anyTruth tells whether a set has a member at all.
func anyTruth(has, hasNot, all uint64) Truth {
	return truthOf(all&^hasNot != 0, has != 0)
}
