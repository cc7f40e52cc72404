package rules

import (
	"fmt"
	"slices"

	"ferrule/knowledge/firmware"
)

// OriginKind says where a value came from.
type OriginKind uint8

// The origins, in the order of precedence.
const (
	FromNowhere  OriginKind = iota
	FromGiven               // somebody gave it
	FromProperty            // the model of the equipment says so
	FromDerived             // it follows from other readings
	FromDefault             // nothing is known, and the pack has a default
	FromOthers              // it follows from the other subjects
	FromConflict            // given and model disagree
)

// String returns the origin in a word.
func (k OriginKind) String() string {
	return [...]string{"unknown", "given", "property", "derived", "default", "others", "conflict"}[k]
}

// fact is what is known of one reading besides its slots.
type fact struct {
	certainty float64
	state     State
	origin    OriginKind
}

// Facts are the readings of the subjects in focus, laid out for evaluation.
// They belong to one conversation and are reused; a Program may have many.
type Facts struct {
	program  *Program
	facts    []fact
	given    []Value    // by the subjects in focus
	property []Value    // for FromProperty and FromConflict
	nums     []interval // readings first, then what rules compute
	spans    []span     // versions: readings first, then literals
	parsed   []*parsed  // beside spans
	has      []uint64   // sets: readings first, then what rules compute
	hasNot   []uint64

	sure     bool
	dirty    bool
	slow     bool // some version has no key
	touched  []int
	focus    [numClasses]int
	observed *Observed
	schemeOf []int // reading of models -> scheme of its literals now, or -1
	versions map[versionKey]*parsed
	last     []lastVersion // of each version reading
	problems []Problem     // of computed readings
	refused  []Problem     // of given values
	owner    string        // the reading being computed
	machine  machine
	sub      *Facts // for the other subjects
	seen     []int
}

const numClasses = 9

type versionKey struct {
	scheme int
	text   string
}

// lastVersion spares the look-up when a version is bound again.
type lastVersion struct {
	key    versionKey
	parsed *parsed
}

// Problem is something that went wrong at run time. It makes one condition
// unknown, and everything else goes on.
type Problem struct {
	Rule string // or reading, or evidence table
	Err  error
}

// Error returns the problem on one line.
func (p Problem) Error() string { return p.Rule + ": " + p.Err.Error() }

// Unwrap returns the cause.
func (p Problem) Unwrap() error { return p.Err }

// NewFacts returns facts of which nothing is known.
func (p *Program) NewFacts() *Facts {
	f := &Facts{
		program:  p,
		facts:    make([]fact, len(p.readings)),
		given:    make([]Value, len(p.readings)),
		property: make([]Value, len(p.readings)),
		nums:     make([]interval, p.nums),
		spans:    make([]span, p.versions+len(p.literals)),
		parsed:   make([]*parsed, p.versions+len(p.literals)),
		last:     make([]lastVersion, p.versions),
		has:      make([]uint64, p.sets),
		hasNot:   make([]uint64, p.sets),
		schemeOf: make([]int, len(p.readings)),
		versions: map[versionKey]*parsed{},
		dirty:    true,
	}
	for i := range f.nums {
		f.nums[i] = anything
	}
	for _, c := range p.constants {
		f.nums[c.slot] = point(c.c)
	}
	for i := range f.spans {
		f.spans[i], f.parsed[i] = anyVersion, unread
	}
	for i := range f.schemeOf {
		f.schemeOf[i] = -1
	}
	for i := range f.focus {
		f.focus[i] = 1
	}
	return f
}

// Slot returns the slot of a reading for Facts.Set.
func (p *Program) Slot(reading string) (slot int, ok bool) {
	slot, ok = p.index[reading]
	return slot, ok
}

// Set changes one reading of the subject in focus: the fast way when the
// facts of a conversation are kept. A zero Value takes the reading back.
// Readings over other subjects keep what Bind saw of them.
func (f *Facts) Set(slot int, v Value) {
	if f.given[slot].State == Unknown && v.State != Unknown {
		f.touched = append(f.touched, slot)
	}
	f.place(slot, &v)
}

func (f *Facts) place(slot int, v *Value) {
	r := &f.program.shapes[slot]
	f.given[slot] = *v
	f.dirty = f.dirty || r.feeds
	if len(f.refused) > 0 {
		f.refused = slices.DeleteFunc(f.refused, func(p Problem) bool { return p.Rule == f.program.readings[slot].Name.S })
	}
	if r.computed {
		return // settle takes it from there
	}
	f.clear(slot)
	f.useGiven(slot)
}

// clear forgets what the slots of a reading say.
func (f *Facts) clear(i int) {
	r, fact := &f.program.shapes[i], &f.facts[i]
	fact.state, fact.origin, fact.certainty = f.given[i].State, FromNowhere, 0
	if fact.state == Known {
		fact.state = Unknown // until it has been used
	}
	switch r.kind {
	case kindSet:
		f.has[r.set], f.hasNot[r.set] = 0, 0
	case kindVersion:
		f.spans[r.version] = anyVersion
		f.parsed[r.version] = unread
	default:
		f.nums[i] = anything
	}
}

// useGiven takes the given value if it may be relied on.
func (f *Facts) useGiven(i int) bool {
	v := &f.given[i]
	if v.State != Known || f.sure && v.Certainty < 1 {
		return false
	}
	return f.write(i, v, FromGiven, v.Certainty)
}

// write puts a value into the slots of a reading. A value that is none (not a
// number, a choice that the pack does not have) is reported and not used.
func (f *Facts) write(i int, v *Value, origin OriginKind, certainty float64) bool {
	r, fact := &f.program.shapes[i], &f.facts[i]
	switch r.kind {
	case kindNumber, kindYesNo:
		x := interval{v.Low, v.High}
		if x.empty() {
			return f.fail(i, "%g to %g is no range", v.Low, v.High)
		}
		f.nums[i] = x
	case kindChoice:
		id, ok := f.program.readings[i].choices[v.Text]
		if !ok {
			return f.fail(i, "%q is no choice of it", v.Text)
		}
		f.nums[i] = point(float64(id))
	case kindSet:
		f.writeSet(&f.program.readings[i], v)
	case kindVersion:
		if !f.writeVersion(&f.program.readings[i], v.Text) {
			fact.state = Questioned
			return false
		}
	}
	fact.state, fact.origin, fact.certainty = Known, origin, certainty
	return true
}

func (f *Facts) fail(i int, format string, args ...any) bool {
	r := &f.program.readings[i]
	p := Problem{r.Name.S, fmt.Errorf(format, args...)}
	if r.computed {
		f.problems = append(f.problems, p)
	} else {
		f.refused = append(f.refused, p)
	}
	return false
}

// writeSet adds members; one that is said to be both in and out is unknown.
func (f *Facts) writeSet(r *reading, v *Value) {
	in, out := r.bits(v)
	f.has[r.set], f.hasNot[r.set] = in&^out, out&^in
}

func (r *reading) bits(v *Value) (in, out uint64) {
	for _, m := range v.Has {
		if bit, ok := r.members[m]; ok {
			in |= 1 << bit
		}
	}
	for _, m := range v.HasNot {
		if bit, ok := r.members[m]; ok {
			out |= 1 << bit
		}
	}
	return in, out
}

// writeVersion reads a version under the scheme of its model. Without a
// scheme it is known but has no order; a text that is no version is refused.
func (f *Facts) writeVersion(r *reading, text string) bool {
	k := f.scheme(r)
	if k < 0 {
		return true
	}
	last := &f.last[r.version]
	if key := (versionKey{k, text}); last.key != key || last.parsed == nil {
		last.key, last.parsed = key, f.version(k, text)
	}
	p := last.parsed
	if !p.understood {
		return false
	}
	f.spans[r.version], f.parsed[r.version] = p.span, p
	f.slow = f.slow || p.ordered && !p.keyed
	return true
}

// version parses with a memory, so that a conversation parses once.
func (f *Facts) version(scheme int, text string) *parsed {
	key := versionKey{scheme, text}
	p := f.versions[key]
	if p == nil {
		if len(f.versions) > 4096 {
			clear(f.versions)
		}
		p = parseVersion(f.program.schemes.list[scheme], text)
		f.versions[key] = p
	}
	return p
}

// scheme returns the scheme of a version reading, or -1 while its model is
// not known.
func (f *Facts) scheme(r *reading) int {
	if r.scheme < 0 {
		return -1
	}
	return f.schemeOfModel(r.scheme)
}

// schemeOfModel returns the scheme that a reading of models stands for.
func (f *Facts) schemeOfModel(model int) int {
	if x := f.nums[model]; f.facts[model].state == Known && x.isPoint() {
		return f.program.schemes.choices[int(x.lo)]
	}
	return -1
}

// text returns the text of a known choice, version or text.
func (f *Facts) text(i int) string {
	switch fact := &f.facts[i]; fact.origin {
	case FromGiven:
		return f.given[i].Text
	case FromProperty:
		return f.property[i].Text
	case FromDefault:
		return f.program.readings[i].given.Text
	}
	return ""
}

// compareVersions is the slow way for versions that have no key.
func compareVersions(op cmpOp, a, b *parsed) Truth {
	if !a.ordered || !b.ordered {
		return Undecided
	}
	c, err := firmware.Version.Compare(a.version, b.version)
	if err != nil {
		return Undecided
	}
	return op.compare(point(float64(c)), point(0))
}
