package intake

import (
	"slices"
	"strconv"

	"ferrule/knowledge"
	"ferrule/rules"
)

// mention is a thing that the message names by its number: keypad 2, kp1.
type mention struct {
	n           int
	first, last int
}

// The greatest numbers that follow a word with a space and are still the
// number of a thing: there are many zones, but few hubs.
var mostOf = map[knowledge.Class]int{
	knowledge.Hub: 32, knowledge.Module: 99, knowledge.Device: 256, knowledge.Zone: 999, knowledge.Bus: 16, knowledge.Battery: 16, knowledge.Path: 8,
}

// mostZones is the greatest number behind "zone" that is no resistance.
const mostZones = 128

// mostOfModel is the same behind the name of a model.
const mostOfModel = 9

// findMentions looks behind every word for a class and every model.
func (s *scan) findMentions() {
	for i := range s.found.by[equipment] {
		m := &s.found.by[equipment][i]
		x := m.senses[0]
		if mostOf[x.class] == 0 {
			continue
		}
		at, n, ok := s.indexBehind(m, x)
		if !ok {
			continue
		}
		s.index[at], s.taken[at] = true, true
		s.mentions[x.class] = append(s.mentions[x.class], mention{n, m.first, at + 1})
		s.about |= classBit(x.class)
	}
}

// indexBehind returns the number of a thing behind its word.
func (s *scan) indexBehind(m *match, x sense) (at, n int, ok bool) {
	at = m.last
	for at < m.last+2 && (s.is(at, "#") || s.is(at, "-") && s.glued(at) && s.glued(at+1) || s.is(at, ".") || s.roleOf(at).has(numberSign)) {
		at++
	}
	if s.kind(at) != number || s.tokens[at].line || s.clauseOf[at] != s.clauseOf[m.first] {
		return 0, 0, false
	}
	n, err := strconv.Atoi(s.tokens[at].text)
	most := mostOf[x.class]
	if x.model != "" {
		most = mostOfModel
	}
	if s.taken[at] && !s.onlyGap(at) || err != nil || n < 1 || n > most || s.measures(at) || s.counts(at) || s.isValueOf(m, at) {
		return 0, 0, false
	}
	return at, n, true
}

// onlyGap tells whether a number stands inside a phrase without belonging to it.
func (s *scan) onlyGap(i int) bool {
	for y := complaint; y < layers; y++ {
		if m := s.found.covering(y, i); m != nil && m.gap != i {
			return false
		}
	}
	return true
}

// measures tells whether a unit, a range or a point follows the number.
func (s *scan) measures(i int) bool {
	if _, _, ok := s.unitAt(i + 1); ok && !s.unitIsWord(i+1) {
		return true
	}
	next := i + 1
	return s.glued(next) && s.kind(next) == word && s.glued(next+1) && s.kind(next+1) == number || // 4k7
		(s.is(next, "-") || s.is(next, ":") || s.is(next, "/")) && s.glued(next) && s.kind(next+1) == number && s.glued(next+1)
}

// unitIsWord tells whether a unit's letter is the beginning of something else:
// "zone 4 m..." is no metre where a name follows at once ("kp 2 v 1.06").
func (s *scan) unitIsWord(i int) bool {
	return s.tokens[i].spaced && len(s.tokens[i].text) == 1 && s.kind(i+1) == number
}

// counts tells whether the number counts what follows: "hub 1 bus only" is
// one bus, and not hub 1.
func (s *scan) counts(i int) bool {
	if n := s.found.covering(name, i+1); n != nil && n.first == i+1 && s.kind(n.last) != number {
		for _, x := range n.senses {
			if x.reading.Kind == knowledge.Number && x.reading.Unit == "" {
				return true // "hub 2 floors down"
			}
		}
	}
	m := s.found.covering(equipment, i+1)
	if m == nil || m.first != i+1 || len(m.senses) == 0 || m.senses[0].class != knowledge.Bus || m.senses[0].model != "" {
		return false
	}
	return s.kind(m.last) != number
}

// isValueOf tells whether the number is rather the value of a reading that
// the same word names, or of the only one asked for: "battery 13".
func (s *scan) isValueOf(m *match, at int) bool {
	if s.glued(at) {
		return false
	}
	another := false
	c := s.clause(at)
	for i := at + 1; i < min(c.last, at+window); i++ {
		another = another || s.kind(i) == number
	}
	n, _ := strconv.Atoi(s.tokens[at].text)
	if m.senses[0].class == knowledge.Zone && n <= mostZones {
		return false // a loop's ohms are more
	}
	if named := s.found.covering(name, m.first); named != nil && !another && n > 4 {
		for _, x := range named.senses {
			if x.reading.Kind == knowledge.Number {
				return true
			}
		}
	}
	if named := s.namedNumber(c, at); named && !another && n > mostOfModel {
		return true
	}
	return !another && n > mostOfModel && s.asked(knowledge.Number) != nil
}

// namedNumber tells whether a clause names a number before a token and gives
// no other value for it.
func (s *scan) namedNumber(c *clause, at int) bool {
	for i := max(c.first, at-window); i < at; i++ {
		if s.kind(i) == number && !s.index[i] {
			return false
		}
	}
	for i := max(c.first, at-window); i < at; i++ {
		if m := s.found.covering(name, i); m != nil && m.senses[0].reading.Kind == knowledge.Number {
			return true
		}
	}
	return false
}

// subject is the thing of a class that the words at a token are about: the
// one named before it in the clause, where the clause names its things behind
// their values the one behind, else the last one named in the message, else
// the one in focus.
func (s *scan) subject(class knowledge.Class, token int) rules.Subject {
	c := s.clause(token)
	named := s.mentions[class]
	at, _ := slices.BinarySearchFunc(named, token+1, func(m mention, t int) int { return m.first - t })
	if behind := at; behind < len(named) && named[behind].first < c.last && (at == 0 || named[at-1].first < c.first || s.valuesFirst(c, class)) {
		return rules.Subject{Class: class, N: named[behind].n}
	}
	if at > 0 {
		return rules.Subject{Class: class, N: named[at-1].n}
	}
	return rules.Subject{Class: class, N: max(1, s.ctx.Focus[class])}
}

// valuesFirst tells whether a clause says "62% on kp1 and 31% on kp2".
func (s *scan) valuesFirst(c *clause, class knowledge.Class) bool {
	named := s.mentions[class]
	at, _ := slices.BinarySearchFunc(named, c.first, func(m mention, t int) int { return m.first - t })
	return c.firstValue > 0 && at < len(named) && c.firstValue-1 < named[at].first
}
