package intake

import (
	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
)

// memberSet gathers what a message says of one set of one thing.
type memberSet struct {
	reading     *knowledge.Reading
	subject     rules.Subject
	has, hasNot []string
	only        bool
	first, last int
}

// members reads sets: each member is known by itself, and only, both and
// neither say something of the others.
func (s *scan) members() {
	var sets []memberSet
	for i := range s.found.by[answer] {
		m := &s.found.by[answer][i]
		if c := s.clause(m.first); c.question || c.conditional {
			continue
		}
		for k := range m.senses {
			if x := &m.senses[k]; x.reading.Kind == knowledge.Set && s.belongs(m, x, sets) {
				sets = s.addMember(sets, m, x)
			}
		}
	}
	for i := range sets {
		s.giveSet(&sets[i])
	}
	s.wholeSets(sets)
}

// belongs tells whether a member's name is meant as one: the set was asked
// for or is named in the clause, or only, not, or an earlier member says so.
// "12 V on the keypad bus" is none, since it measures.
func (s *scan) belongs(m *match, x *sense, sets []memberSet) bool {
	c := s.clause(m.first)
	if s.isAsked(x.reading) || s.onlyAt(m, c) || s.roleBehind(m, present) || s.roleBehind(m, absent) {
		return true
	}
	if slices.ContainsFunc(sets, func(o memberSet) bool {
		return o.reading == x.reading && s.clause(o.first).sentence == c.sentence
	}) {
		return true
	}
	if c.firstValue > 0 {
		return false
	}
	return s.namedIn(c, m, x.reading) || s.negated(m.first, m.last)
}

func (s *scan) addMember(sets []memberSet, m *match, x *sense) []memberSet {
	subject := s.subject(x.reading.Class, m.first)
	i := slices.IndexFunc(sets, func(o memberSet) bool { return o.reading == x.reading && o.subject == subject })
	if i < 0 {
		i = len(sets)
		sets = append(sets, memberSet{reading: x.reading, subject: subject, first: m.first})
	}
	set := &sets[i]
	set.last = m.last
	set.only = set.only || s.onlyAt(m, s.clause(m.first))
	list := &set.has
	if s.negated(m.first, m.last) || s.roleBehind(m, absent) {
		list = &set.hasNot
	}
	if !slices.Contains(*list, x.choice) {
		*list = append(*list, x.choice)
	}
	return sets
}

// roleBehind tells whether a word of a role stands closely behind a member,
// with small words or the terminals between: "keypad bus terminals are empty".
func (s *scan) roleBehind(m *match, r role) bool {
	c := s.clause(m.first)
	for i := m.last; i < min(c.last, m.last+4); i++ {
		if x := s.found.covering(speech, i); x != nil && x.has(r) {
			return true
		}
		if !s.roleOf(i).has(filler) && !s.is(i, "terminals") && !s.is(i, "side") {
			break
		}
	}
	return false
}

// onlyAt tells whether "only" belongs to a member: before it with nothing but
// the set's name and small words between, or just behind it.
func (s *scan) onlyAt(m *match, c *clause) bool {
	for i := m.first - 1; i >= max(c.first, m.first-5); i-- {
		switch {
		case s.roleOf(i).has(only):
			return true
		case s.roleOf(i).has(filler), s.found.covering(name, i) != nil, s.joinsOn(i):
		default:
			i = -1
		}
	}
	return m.last < c.last && s.roleOf(m.last).has(only)
}

func (s *scan) giveSet(set *memberSet) {
	if set.only && len(set.hasNot) == 0 {
		for _, name := range s.pack.ChoiceNames(set.reading) {
			if !slices.Contains(set.has, name) {
				set.hasNot = append(set.hasNot, name)
			}
		}
	}
	s.give(set.reading, set.subject, rules.Members(set.has, set.hasNot), set.first, set.last)
}

// wholeSets reads both and neither, for the set that was asked for or that is
// named in the clause. Both needs a set of two.
func (s *scan) wholeSets(sets []memberSet) {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		c := s.clause(m.first)
		all, none := m.has(both), m.has(neither)
		if !all && !none || c.question || c.conditional {
			continue
		}
		r := s.setMeant(m, c)
		if r == nil || all && len(r.Choices) != 2 || slices.ContainsFunc(sets, func(o memberSet) bool { return o.reading == r }) {
			continue
		}
		names := s.pack.ChoiceNames(r)
		v := rules.Members(names, nil)
		if none || s.negatedBefore(m.first) {
			v = rules.Members(nil, names)
		}
		s.give(r, s.subject(r.Class, m.first), v, m.first, m.last)
		return
	}
}

func (s *scan) setMeant(m *match, c *clause) *knowledge.Reading {
	if r := s.asked(knowledge.Set); r != nil {
		return r
	}
	for i := max(c.first, m.first-window); i < min(c.last, m.last+window); i++ {
		if n := s.found.covering(name, i); n != nil && n.senses[0].reading.Kind == knowledge.Set {
			return n.senses[0].reading
		}
	}
	// "both buses" names the members of one set only.
	buses := false
	for i := m.first; i < m.last; i++ {
		x := s.found.covering(equipment, i)
		buses = buses || x != nil && x.senses[0].class == knowledge.Bus
	}
	if !buses {
		return nil
	}
	var found *knowledge.Reading
	for i := range s.pack.Readings {
		if r := &s.pack.Readings[i]; r.Kind == knowledge.Set && r.Askable() && r.Ask != "" && len(r.Choices) == 2 {
			if found != nil {
				return nil
			}
			found = r
		}
	}
	return found
}
