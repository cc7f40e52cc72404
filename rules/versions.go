package rules

import (
	"errors"
	"math"
	"slices"

	"ferrule/knowledge"
	"ferrule/knowledge/firmware"
)

// span is what is known of a version: its key lies between lo and hi.
type span struct{ lo, hi uint64 }

var anyVersion = span{0, math.MaxUint64}

// parsed is a version as written, read under one scheme.
type parsed struct {
	span
	version    firmware.Version
	ordered    bool // version can be compared, though it may have no key
	keyed      bool
	ambiguous  []string
	understood bool
}

// unread stands for a version that is not known or has no scheme.
var unread = &parsed{span: anyVersion}

func parseVersion(s firmware.Scheme, text string) *parsed {
	v, err := s.Parse(text)
	if err != nil {
		var ambiguous *firmware.AmbiguousError
		if errors.As(err, &ambiguous) {
			return parseCandidates(s, ambiguous.Candidates)
		}
		return unread
	}
	key, keyed := v.Key()
	p := &parsed{span: anyVersion, version: v, ordered: true, keyed: keyed, understood: true}
	if keyed {
		p.span = span{key, key}
	}
	return p
}

// parseCandidates spans the versions that an ambiguous text may mean.
func parseCandidates(s firmware.Scheme, candidates []string) *parsed {
	p := &parsed{span: span{math.MaxUint64, 0}, keyed: true, ambiguous: candidates, understood: true}
	for _, c := range candidates {
		v, err := s.Parse(c)
		if err != nil {
			return &parsed{span: anyVersion, ambiguous: candidates, understood: true}
		}
		key, keyed := v.Key()
		if !keyed {
			return &parsed{span: anyVersion, ambiguous: candidates, understood: true}
		}
		p.lo, p.hi = min(p.lo, key), max(p.hi, key)
	}
	if p.lo > p.hi {
		p.span = anyVersion
	}
	return p
}

// schemes are the version schemes that the equipment of the pack names.
type schemes struct {
	names   []string
	byName  map[string]int
	list    []firmware.Scheme
	models  map[string]int // model -> scheme
	choices []int          // interned model -> scheme, or -1
}

func (c *compiler) schemes() {
	s := &c.program.schemes
	s.byName, s.models = map[string]int{}, map[string]int{}
	for i := range c.pack.Equipment {
		e := &c.pack.Equipment[i]
		if e.Scheme == "" {
			continue
		}
		k, ok := s.byName[e.Scheme]
		if !ok {
			scheme, known := firmware.LookupScheme(e.Scheme)
			if !known {
				c.problems.Add(e.At, "see ferrule calc version", "the model %s names an unknown version scheme %q", e.Model.S, e.Scheme)
				continue
			}
			k = len(s.list)
			s.byName[e.Scheme] = k
			s.names, s.list = append(s.names, e.Scheme), append(s.list, scheme)
		}
		s.models[e.Model.S] = k
	}
	s.choices = make([]int, len(c.program.choices))
	for i, name := range c.program.choices {
		s.choices[i] = -1
		if k, ok := s.models[name]; ok {
			s.choices[i] = k
		}
	}
}

// schemesFor returns the schemes that a reading of models can stand for.
func (c *compiler) schemesFor(model int) []int {
	var out []int
	for _, name := range c.pack.ChoiceNames(c.program.readings[model].Reading) {
		if k, ok := c.program.schemes.models[name]; ok && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

// schemeReadings finds the reading that each version's scheme comes from. A
// property without scheme_from is a version of the other model.
func (c *compiler) schemeReadings() {
	for i := range c.program.readings {
		r := &c.program.readings[i]
		if r.version < 0 {
			continue
		}
		from := r.Scheme
		if from == nil && r.Property != nil {
			from = r.Property.For
		}
		if from == nil {
			continue
		}
		if k, ok := c.program.index[from.S]; ok && c.holdsModels(k, from) {
			r.scheme = k
		}
	}
}

func (c *compiler) holdsModels(reading int, at *knowledge.Str) bool {
	r := &c.program.readings[reading]
	if _, ok := c.pack.ModelClass(r.Reading); ok {
		return true
	}
	c.problems.Add(at.Pos, "name a choice without choices of its own, such as hub.model", "%s does not hold models", at.S)
	return false
}

// literal is a version written in an expression. Its key depends on the
// scheme, so that it has a slot like a reading.
type literal struct {
	text   string
	scheme int // reading of the model
	slot   int
}

type literalKey struct {
	text   string
	scheme int
}

func (t *typer) comparedVersions(op cmpOp, l, r operand, at int) *tri {
	p := t.c.program
	left := &p.readings[l.reading]
	reads, shown := union(l.reads, r.reads), shownLeaf{side{l.text, l.reading}, side{r.text, r.reading}}
	if r.kind == isString {
		if left.scheme < 0 {
			t.fault(at, "add scheme_from: to the reading "+l.text, "nothing says how versions of %s are ordered", l.text)
			return t.undecided()
		}
		slot, ok := t.literal(r, left.scheme)
		if !ok {
			return t.undecided()
		}
		return t.c.build.versions(op, left.version, slot, reads, shown)
	}
	right := &p.readings[r.reading]
	switch {
	case left.scheme < 0:
		left.scheme = right.scheme
	case right.scheme < 0:
		right.scheme = left.scheme
	}
	if left.scheme != right.scheme || left.scheme < 0 {
		t.fault(at, "compare versions whose scheme_from is the same reading", "%s and %s are versions of different things", l.text, r.text)
		return t.undecided()
	}
	return t.c.build.versions(op, left.version, right.version, reads, shown)
}

// literal returns the slot of a constant, which must be a version in at least
// one of the schemes that it may be held against.
func (t *typer) literal(o operand, scheme int) (slot int, ok bool) {
	c := t.c
	var ambiguous []string
	possible := c.schemesFor(scheme)
	fits := len(possible) == 0
	for _, k := range possible {
		switch p := parseVersion(c.program.schemes.list[k], o.str); {
		case len(p.ambiguous) > 0:
			ambiguous = p.ambiguous
		case p.understood:
			fits = true
		}
	}
	switch {
	case !fits && ambiguous != nil:
		t.fault(o.at, "write one of them: "+joined(ambiguous), "the version %q can be read in several ways", o.str)
		return 0, false
	case !fits:
		t.fault(o.at, "write it as it is shown on the equipment", "%q is no version in the schemes of %s", o.str, c.program.readings[scheme].Name.S)
		return 0, false
	}
	key := literalKey{o.str, scheme}
	if slot, ok = c.literals[key]; ok {
		return slot, true
	}
	// Readings come first; the final order is made when all are known.
	slot = c.program.versions + len(c.program.literals)
	c.literals[key] = slot
	c.program.literals = append(c.program.literals, literal{o.str, scheme, slot})
	return slot, true
}
