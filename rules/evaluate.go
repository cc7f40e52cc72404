package rules

// Verdict is what the rules make of the facts. It is reused: its slices hold
// until the next Evaluate.
type Verdict struct {
	program   *Program
	codes     *codes
	fired     []int
	undecided []int
	nFired    int
	nOpen     int
	problems  []Problem
	machine   machine
}

// Rule returns the outcome of a rule of the pack.
func (v *Verdict) Rule(i int) Truth { return Truth(v.codes[v.program.flat.first+i]) }

// Fired returns the rules that are true, in the order of the pack.
func (v *Verdict) Fired() []int { return v.fired[:v.nFired] }

// Undecided returns the rules that are neither true nor false, in the order
// of the pack.
func (v *Verdict) Undecided() []int { return v.undecided[:v.nOpen] }

// Problems returns what went wrong; the conditions concerned are unknown.
func (v *Verdict) Problems() []Problem { return v.problems }

// Bands returns which bands of an evidence table are still possible, as bits:
// the first band that holds is the one, so that nothing after a true one is.
func (v *Verdict) Bands(evidence int) uint32 {
	var mask uint32
	bands := v.program.flat.bands[evidence]
	for i, code := range bands {
		switch Truth(v.codes[code]) {
		case True:
			return mask | 1<<i
		case Undecided:
			mask |= 1 << i
		}
	}
	return mask | 1<<len(bands)
}

// slack lets eight rules be collected without looking for the end of a list.
const slack = 16

func (v *Verdict) prepare(p *Program) {
	if v.program == p {
		return
	}
	*v = Verdict{program: p, codes: new(codes), fired: make([]int, len(p.rules)+slack), undecided: make([]int, len(p.rules)+slack)}
	v.codes[codeTrue], v.codes[codeUndecided] = byte(True), byte(Undecided)
}

// Evaluate judges every rule and every band over the facts.
func (p *Program) Evaluate(f *Facts, v *Verdict) {
	v.prepare(p)
	v.problems = v.problems[:0]
	if f.dirty {
		f.settle(p.order)
	}
	flat := &p.flat
	v.arith(flat, f)
	v.native(flat, f)
	if f.slow {
		v.slowVersions(flat, f)
	}
	v.slowLeaves(flat, f)
	for i := range flat.rows {
		runRows(v.codes, &flat.rows[i])
	}
	judgeRules(v.codes, flat.first, flat.verdicts)
	v.nFired, v.nOpen = collect(v.codes, flat.first, len(p.rules), v.fired, v.undecided)
	v.problems = append(append(v.problems, f.refused...), f.problems...)
}

func (v *Verdict) arith(flat *flat, f *Facts) {
	for i := range flat.arith {
		s := &flat.arith[i]
		x, y := f.nums[s.a], f.nums[s.b]
		if z, ok := s.op.applyPoints(x, y); ok {
			f.nums[s.slot] = point(z)
			continue
		}
		z, err := s.compute(f.nums, x, y)
		f.nums[s.slot] = z
		if err != nil {
			for _, owner := range s.owners {
				v.problems = append(v.problems, Problem{owner, err})
			}
		}
	}
	for i := range flat.sets {
		s := &flat.sets[i]
		f.has[s.slot], f.hasNot[s.slot] = without(s.allA, s.allB, f.has[s.a], f.hasNot[s.a], f.has[s.b], f.hasNot[s.b])
	}
}

// compute takes the long way: over ranges, and formulas.
func (s *arithStep) compute(nums []interval, x, y interval) (interval, error) {
	if s.op == opFormula {
		var at [mostArguments]interval
		args := at[:len(s.args)]
		for i, slot := range s.args {
			args[i] = nums[slot]
		}
		return s.formula.apply(args)
	}
	z, ok := s.op.apply(x, y)
	if !ok {
		return z, errDivision
	}
	return z, nil
}

// native runs the leaf groups. The loops are written out for each operator:
// an operator looked up inside would cost more than the comparison.
func (v *Verdict) native(flat *flat, f *Facts) {
	c, nums, spans := v.codes, f.nums, f.spans
	lessConst(c, &flat.consts[cmpLT], nums)
	lessEqualConst(c, &flat.consts[cmpLE], nums)
	greaterConst(c, &flat.consts[cmpGT], nums)
	greaterEqualConst(c, &flat.consts[cmpGE], nums)
	equalConst(c, &flat.consts[cmpEQ], nums)
	unequalConst(c, &flat.consts[cmpNE], nums)
	for op := range flat.pairs {
		comparePairs(c, cmpOp(op), &flat.pairs[op], nums)
	}
	lessVersions(c, &flat.versions[cmpLT], spans)
	lessEqualVersions(c, &flat.versions[cmpLE], spans)
	compareVersionPairs(c, cmpEQ, &flat.versions[cmpEQ], spans)
	compareVersionPairs(c, cmpNE, &flat.versions[cmpNE], spans)
	plainMembers(c, &flat.members[0], f.has, f.hasNot)
	plainMembers(c, &flat.members[1], f.hasNot, f.has)
}

// slowVersions judges again the versions that have no key.
func (v *Verdict) slowVersions(flat *flat, f *Facts) {
	for op := range flat.versions {
		g := &flat.versions[op]
		for i, l := range g.list {
			a, b := f.parsed[l.a], f.parsed[l.b]
			if a.ordered && !a.keyed || b.ordered && !b.keyed {
				v.codes[g.first+i] = byte(compareVersions(cmpOp(op), a, b))
			}
		}
	}
}

func (v *Verdict) slowLeaves(flat *flat, f *Facts) {
	for i := range flat.slow {
		s := &flat.slow[i]
		if s.leaf.run == nil {
			v.codes[s.code] = byte(f.leafTruth(s.leaf))
			continue
		}
		out, err := v.machine.run(s.leaf.run, f)
		if err != nil {
			for _, owner := range s.leaf.run.owners {
				v.problems = append(v.problems, Problem{owner, err})
			}
		}
		if s.leaf.negate {
			out = out.not()
		}
		v.codes[s.code] = byte(out)
	}
}
