package rules

import (
	"slices"

	"ferrule/knowledge"
)

// BindOptions say which values count.
type BindOptions struct {
	// Sure leaves out every value that somebody was not sure of; blockers are
	// judged on sure facts only.
	Sure bool
}

// Bind lays out the readings of the subjects in focus. A class without a
// focus means its first subject.
func (p *Program) Bind(f *Facts, o *Observed, focus Focus, opts BindOptions) {
	var at [numClasses]int
	for i, class := range knowledge.Classes {
		at[i] = max(1, focus[class])
	}
	f.layOut(o, at, opts.Sure)
	f.settle(p.order)
}

// layOut places what was given for the subjects in focus.
func (f *Facts) layOut(o *Observed, focus [numClasses]int, sure bool) {
	f.dirty = true
	for _, i := range f.touched {
		f.place(i, &Value{})
	}
	f.touched = f.touched[:0]
	f.observed, f.focus, f.sure = o, focus, sure
	if o == nil {
		return
	}
	for key, v := range o.values {
		i, ok := f.program.index[key.reading]
		if !ok {
			continue
		}
		r := &f.program.readings[i]
		if key.subject.Class == r.Class && key.subject.N == focus[r.class] {
			f.touched = append(f.touched, i)
			f.place(i, &v)
		}
	}
}

// settle computes the computed readings in order, and the literals whose
// scheme they decide.
func (f *Facts) settle(order []int) {
	f.dirty, f.slow, f.problems = false, false, f.problems[:0]
	for _, i := range order {
		f.compute(i)
	}
	f.literals()
}

func (f *Facts) compute(i int) {
	r := &f.program.readings[i]
	f.clear(i)
	given := f.useGiven(i)
	if r.property != nil {
		f.takeProperty(i, r, given)
	}
	if f.facts[i].origin != FromNowhere {
		return
	}
	if r.derived() {
		f.derive(i, r)
	}
	if f.facts[i].state != Known && r.given != nil && !(f.sure && r.given.Certainty < 1) {
		f.write(i, r.given, FromDefault, r.given.Certainty)
	}
	if f.facts[i].state != Known && r.others != nil {
		f.aggregate(i, r)
	}
}

// takeProperty uses what the model says. A given value goes first; when the
// two can't both be true, neither is used.
func (f *Facts) takeProperty(i int, r *reading, given bool) {
	t, fact := r.property, &f.facts[i]
	if f.facts[t.of].state != Known {
		return
	}
	pair, certainty := modelPair{model: f.text(t.of)}, f.facts[t.of].certainty
	if t.other >= 0 && f.facts[t.other].state == Known {
		pair.other = f.text(t.other)
		certainty = min(certainty, f.facts[t.other].certainty)
	}
	v, ok := t.values[pair]
	if !ok {
		return
	}
	v.Certainty = min(v.Certainty, certainty)
	if f.sure && v.Certainty < 1 {
		return
	}
	if !given {
		if f.write(i, &v, FromProperty, v.Certainty) {
			f.property[i] = v
		}
		return
	}
	if f.agrees(i, r, &v) {
		return
	}
	f.property[i] = v
	f.clear(i)
	fact.state, fact.origin = Conflicting, FromConflict
}

// agrees tells whether a given value and a model's can both be true; what the
// model adds about a set is taken in.
func (f *Facts) agrees(i int, r *reading, v *Value) bool {
	switch r.Kind {
	case knowledge.Number, knowledge.YesNo:
		return v.Low <= f.nums[i].hi && f.nums[i].lo <= v.High
	case knowledge.Set:
		in, out := r.bits(v)
		if in&f.hasNot[r.set] != 0 || out&f.has[r.set] != 0 {
			return false
		}
		f.has[r.set] |= in
		f.hasNot[r.set] |= out
		return true
	case knowledge.Version:
		k := f.scheme(r)
		if k < 0 {
			return v.Text == f.given[i].Text
		}
		mine, p := f.parsed[r.version], f.version(k, v.Text)
		if mine.ordered && p.ordered && !(mine.keyed && p.keyed) {
			return compareVersions(cmpEQ, mine, p) == True
		}
		return p.lo <= f.spans[r.version].hi && f.spans[r.version].lo <= p.hi
	}
	return v.Text == f.given[i].Text
}

// derive computes a derived reading from what is known.
func (f *Facts) derive(i int, r *reading) {
	f.literals() // a condition may hold a version literal
	f.owner = r.Name.S
	known := false
	switch {
	case r.num != nil:
		x := f.number(r.num)
		f.nums[i], known = x, x != anything
	case r.tri != nil:
		switch f.truth(r.tri) {
		case True:
			f.nums[i], known = point(1), true
		case False:
			f.nums[i], known = point(0), true
		}
	case r.diff != nil:
		f.has[r.set], f.hasNot[r.set] = f.setOf(r.diff)
		f.has[r.set] &= r.all
		f.hasNot[r.set] &= r.all
		known = f.has[r.set]|f.hasNot[r.set] != 0
	}
	f.owner = ""
	if known {
		f.facts[i].state, f.facts[i].origin, f.facts[i].certainty = Known, FromDerived, f.leastCertainty(r.uses)
	}
}

func (f *Facts) leastCertainty(uses []use) float64 {
	least := 1.0
	for _, u := range uses {
		if f.facts[u.reading].state == Known {
			least = min(least, f.facts[u.reading].certainty)
		}
	}
	return least
}

// aggregate evaluates a condition with the focus on each other subject of a
// class that something is known of. With no other subject there is no answer.
func (f *Facts) aggregate(i int, r *reading) {
	if f.observed == nil {
		return
	}
	o := r.others
	f.seen = f.seen[:0]
	for key := range f.observed.values {
		n := key.subject.N
		if classIndex(key.subject.Class) == o.class && n != f.focus[o.class] && !slices.Contains(f.seen, n) {
			f.seen = append(f.seen, n)
		}
	}
	if len(f.seen) == 0 {
		return
	}
	if f.sub == nil {
		f.sub = f.program.NewFacts()
	}
	var count [4]int
	certainty := 1.0
	for _, n := range f.seen {
		focus := f.focus
		focus[o.class] = n
		f.sub.layOut(f.observed, focus, f.sure)
		f.sub.settle(o.closure)
		f.sub.owner = r.Name.S
		count[f.sub.truth(o.where)]++
		f.sub.owner = ""
		certainty = min(certainty, f.sub.leastCertainty(o.uses))
		f.problems = append(f.problems, f.sub.problems...)
	}
	x := o.result(count[False], count[Undecided], count[True])
	f.nums[i] = x
	if x.isPoint() || o.is == "count" {
		f.facts[i].state, f.facts[i].origin, f.facts[i].certainty = Known, FromOthers, certainty
	}
}

func (o *others) result(no, unknown, yes int) interval {
	switch o.is {
	case "any":
		if yes > 0 {
			return point(1)
		}
		if unknown == 0 {
			return point(0)
		}
		return anything
	case "all":
		if no > 0 {
			return point(0)
		}
		if unknown == 0 {
			return point(1)
		}
		return anything
	}
	return interval{float64(yes), float64(yes + unknown)}
}

// literals gives the version literals their keys under the schemes that the
// models decide. It writes only when a scheme has changed.
func (f *Facts) literals() {
	p := f.program
	for g := range p.literalGroups {
		group := &p.literalGroups[g]
		k := f.schemeOfModel(group.model)
		if f.schemeOf[group.model] == k {
			f.slow = f.slow || k >= 0 && group.slow[k]
			continue
		}
		f.schemeOf[group.model] = k
		spans, parsed := f.spans[group.first:group.end], f.parsed[group.first:group.end]
		if k < 0 {
			for i := range spans {
				spans[i], parsed[i] = anyVersion, unread
			}
			continue
		}
		copy(spans, group.spans[k])
		copy(parsed, group.parsed[k])
		f.slow = f.slow || group.slow[k]
	}
}

// Sure tells whether everything that is known is sure: then the facts are the
// same as those bound with BindOptions.Sure.
func (f *Facts) Sure() bool {
	if f.dirty {
		f.settle(f.program.order)
	}
	if f.observed != nil {
		for _, v := range f.observed.values {
			if v.State == Known && v.Certainty < 1 {
				return false
			}
		}
	}
	return !slices.ContainsFunc(f.facts, func(x fact) bool { return x.state == Known && x.certainty < 1 })
}
