package intake

import (
	"math"

	"ferrule/knowledge"
)

// window is how far from a number its name is looked for: a clause of a
// person is shorter, and a pasted log is no clause.
const window = 24

// named returns the reading named nearest in the clause, before rather than
// behind, that has no value yet and whose unit fits.
func (s *scan) named(q *quantity, c *clause) (*knowledge.Reading, *match) {
	var best *match
	var reading *knowledge.Reading
	least := math.MaxInt
	for i := max(c.first, q.first-window); i < min(c.last, q.last+window); i++ {
		m := s.found.covering(name, i)
		if m == nil || m.first != i {
			continue
		}
		r := s.oneOf(q, m, c)
		if r == nil {
			continue
		}
		d := q.first - m.last
		if d < 0 {
			d = max(m.first-q.last, 0)
		}
		d *= 2
		if m.first >= q.last {
			d++
		}
		if s.boundNames[m.first] {
			if len(q.units) == 0 && !c.corrects && s.takesBack(q) == nil {
				continue
			}
			d += 1000
		}
		ordinal := q.ordinal && m.first > q.last+1 // "2nd keypad, gen"
		if d < least && !ordinal && !s.hasItsOwn(q, m) {
			best, reading, least = m, r, d
		}
	}
	return reading, best
}

// hasItsOwn tells whether a name behind a quantity is followed by a number of
// its own: "1k1 and should be 2k2".
func (s *scan) hasItsOwn(q *quantity, m *match) bool {
	if m.first <= q.last {
		return false // "13.7 at the panel 10.4 at the module"
	}
	i := m.last
	for i < m.last+2 && (s.roleOf(i).has(filler) || s.is(i, ":") || s.is(i, "=") || s.is(i, "~")) {
		i++
	}
	for k := range s.quantities {
		if o := &s.quantities[k]; o != q && o.first <= i && i < o.last {
			return true
		}
		if s.quantities[k].first > i {
			break
		}
	}
	return false
}

// oneOf returns the reading that a name stands for, among those that the
// quantity fits.
func (s *scan) oneOf(q *quantity, m *match, c *clause) *knowledge.Reading {
	var fits []*knowledge.Reading
	for _, x := range m.senses {
		if x.reading.Kind != knowledge.Number {
			continue
		}
		if _, ok := q.in(x.reading); ok && !s.farFetched(q, x.reading) && !s.merelyThing(q, m, x.reading) {
			fits = append(fits, x.reading)
		}
	}
	return s.prefer(fits, q, c, true)
}

// merelyThing tells whether a name is just the word for a thing and the number
// does not look like a voltage: "keypad 28" may be anything, "keypad 10.8" and
// "10v8 keypad" are not.
func (s *scan) merelyThing(q *quantity, m *match, r *knowledge.Reading) bool {
	if m.words > 1 || r.Unit != "V" || len(q.units) > 0 || q.low != math.Trunc(q.low) {
		return false
	}
	x := s.found.covering(equipment, m.first)
	return x != nil && x.senses[0].model == "" && x.senses[0].class != r.Class
}

// farFetched tells whether a number without a unit would be a reading that
// matters to none of the complaints and is of no kind of thing that the
// message speaks of: "the noise goes down to 6" is no battery.
func (s *scan) farFetched(q *quantity, r *knowledge.Reading) bool {
	return len(q.units) == 0 && !s.isAsked(r) && s.beside(r) && !s.spokenOf.has(r.Class)
}

// namedBefore returns the reading that the clause before names last and gives
// no value for: "Signal level" on one line, "35 %" on the next.
func (s *scan) namedBefore(q *quantity, c *clause) (*knowledge.Reading, *match) {
	n := int(s.clauseOf[c.first]) - 1
	if n < 0 || q.first > c.first+2 || s.namedOtherwise(q, c) {
		return nil, nil
	}
	before := &s.clauses[n]
	for i := before.last - 1; i >= before.first; i-- {
		if s.kind(i) == number {
			return nil, nil
		}
		m := s.found.covering(name, i)
		if m == nil || m.last != i+1 {
			continue
		}
		if r := s.oneOf(q, m, c); r != nil && !s.boundNames[m.first] && s.endsWith(before, m) {
			return r, m
		}
		return nil, nil
	}
	return nil, nil
}

// endsWith tells whether hardly a word follows a phrase in a clause.
func (s *scan) endsWith(c *clause, m *match) bool {
	more := 0
	for i := m.last; i < c.last; i++ {
		if s.kind(i) != mark && !s.roleOf(i).has(filler) {
			more++
		}
	}
	return more <= 2
}

// namedOtherwise tells whether a word that nobody knows stands just before a
// quantity: "humidity 55 %" is no signal level, and "aux output 12 V" no cell.
func (s *scan) namedOtherwise(q *quantity, c *clause) bool {
	for i := q.first - 1; i >= c.first; i-- {
		switch {
		case s.kind(i) == mark, s.roleOf(i).has(filler):
		case s.taken[i]:
			return false
		case s.isPlace(i):
		default:
			return true
		}
	}
	return false
}

// isPlace tells whether a word says where: the keypad in the annexe shows 38 %.
func (s *scan) isPlace(i int) bool {
	i--
	if s.roleOf(i).has(filler) && !s.roleOf(i).has(inPlace) {
		i--
	}
	return s.roleOf(i).has(inPlace)
}
