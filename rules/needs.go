package rules

import "slices"

// Needs returns the readings that would decide an undecided rule, as far as
// they can be asked for: a derived reading stands for its sources, a property
// for the model, a version without a scheme for the model that names it. Only
// what still matters is listed, and nothing that is unavailable.
func (p *Program) Needs(f *Facts, v *Verdict, rule int) []string {
	n := needs{p: p, f: f}
	if v.Rule(rule) == Undecided {
		n.condition(p.rules[rule])
	}
	return n.names
}

// BandNeeds returns the readings that would leave one band of a table.
func (p *Program) BandNeeds(f *Facts, v *Verdict, evidence int) []string {
	n := needs{p: p, f: f}
	for i, t := range p.bands[evidence] {
		switch Truth(v.codes[p.flat.bands[evidence][i]]) {
		case True:
			return n.names
		case Undecided:
			n.condition(t)
		}
	}
	return n.names
}

// needs collects the readings that unknown conditions wait for.
type needs struct {
	p     *Program
	f     *Facts
	names []string
	seen  []int
}

// condition adds what an unknown condition waits for. A part that is decided
// did not decide the whole, so that only its unknown parts matter.
func (n *needs) condition(t *tri) {
	if t.kind == triConst || n.f.truth(t) != Undecided {
		return
	}
	for _, k := range t.kids {
		n.condition(k)
	}
	if t.leaf != nil {
		n.leaf(t.leaf)
	}
}

func (n *needs) leaf(l *leaf) {
	switch l.kind {
	case leafConst, leafPair:
		n.number(l.a)
		if l.b != nil {
			n.number(l.b)
		}
	case leafVersion:
		for _, i := range l.reads {
			n.version(i)
		}
	case leafMember:
		n.members(l.sa, 1<<l.bit)
	case leafMissing:
		n.missing(l)
	case leafAny:
		n.members(l.sa, l.sa.all)
	case leafRun:
		for _, i := range l.reads {
			if n.f.facts[i].state != Known || !n.p.textual(i) && !n.f.nums[i].isPoint() {
				n.reading(i)
			}
		}
	}
}

func (n *needs) number(x *num) {
	switch x.op {
	case opConst:
	case opReading:
		if !n.f.nums[x.reading].isPoint() {
			n.reading(x.reading)
		}
	default:
		if n.f.number(x).isPoint() {
			return // decided by the other factor, such as 0
		}
		x.operands(n.number)
	}
}

// version adds the version itself, the model that tells its scheme, or both.
func (n *needs) version(i int) {
	r := &n.p.readings[i]
	if s := n.f.spans[r.version]; s.lo == s.hi || n.f.parsed[r.version].ordered {
		return
	}
	if n.f.facts[i].state != Known || n.f.parsed[r.version].understood {
		n.reading(i)
	}
	if r.scheme >= 0 && n.f.scheme(r) < 0 {
		n.model(r.scheme)
	}
}

// members adds the sources of those members of a set that are not known.
func (n *needs) members(s *setx, wanted uint64) {
	has, hasNot := n.f.setOf(s)
	wanted &= s.all &^ (has | hasNot)
	if wanted == 0 {
		return
	}
	if s.a == nil {
		n.reading(s.reading)
		return
	}
	_, outA := n.f.setOf(s.a)
	_, outB := n.f.setOf(s.b)
	n.members(s.a, wanted&^outA)
	n.members(s.b, wanted&^outB)
}

// missing adds what is not known of the members that may be missing.
func (n *needs) missing(l *leaf) {
	_, outA := n.f.setOf(l.sa)
	inB, _ := n.f.setOf(l.sb)
	open := l.sa.all &^ outA &^ inB
	n.members(l.sa, open)
	n.members(l.sb, open)
}

// reading adds a reading that is not known exactly, or what it follows from.
func (n *needs) reading(i int) {
	if slices.Contains(n.seen, i) {
		return
	}
	n.seen = append(n.seen, i)
	r := &n.p.readings[i]
	switch {
	case n.f.given[i].State == Unavailable:
		// Not asked again, but it may follow from something else.
	case r.askable():
		n.names = append(n.names, r.Name.S)
		return
	}
	if r.property != nil {
		n.models(r)
	}
	n.sources(r)
}

// sources adds what a derived reading follows from.
func (n *needs) sources(r *reading) {
	switch {
	case r.num != nil:
		n.number(r.num)
	case r.tri != nil:
		n.condition(r.tri)
	case r.diff != nil:
		n.members(r.diff, r.all)
	}
}

// models adds the models that would say more about a property.
func (n *needs) models(r *reading) {
	t := r.property
	conflict := n.f.facts[n.p.index[r.Name.S]].state == Conflicting
	if conflict || n.unclear(t.of) {
		n.model(t.of)
	}
	if t.other >= 0 && n.unclear(t.other) {
		n.model(t.other)
	}
}

// unclear tells that a model is not known, or only as a kind.
func (n *needs) unclear(i int) bool {
	return n.f.facts[i].state != Known || n.p.generic(n.f.text(i))
}

func (n *needs) model(i int) { n.reading(i) }
