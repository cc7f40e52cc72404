package intake

import (
	"math"
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
)

// readingOf picks the reading of a quantity: one named in its clause, else
// what it corrects, else the one that was asked for, else one named just
// before, else the only one that its unit fits.
func (s *scan) readingOf(q *quantity, c *clause) (*knowledge.Reading, *match) {
	if r, m := s.named(q, c); r != nil {
		return r, m
	}
	if o := s.corrected(q, nil); o != nil {
		return s.pack.Reading(o.Reading), nil
	}
	last := s.pack.Reading(s.ctx.Last)
	if last != nil && (last.Kind != knowledge.Number || !q.plausible(last) || !c.corrects && s.takesBack(q) == nil) {
		last = nil
	}
	r := s.askedNumber(q, c)
	switch {
	case last != nil && (r == nil || s.takesBack(q) != nil || !q.plausible(r)):
		return last, nil
	case r != nil:
		return r, nil
	}
	if r := s.likeTheLast(q, c); r != nil {
		return r, nil
	}
	if r := s.nowOf(q, c); r != nil {
		return r, nil
	}
	if r, m := s.namedBefore(q, c); r != nil {
		return r, m
	}
	return s.byUnit(q, c), nil
}

// likeTheLast returns the reading given just before, where the clause has no
// more than another thing of its kind and a number: "signal kp1 62, kp2 31".
func (s *scan) likeTheLast(q *quantity, c *clause) *knowledge.Reading {
	n := len(s.out.Readings)
	if n == 0 || len(q.units) > 0 || c.classes == 0 {
		return nil
	}
	r := s.pack.Reading(s.out.Readings[n-1].Reading)
	if r.Kind != knowledge.Number || !c.classes.has(r.Class) || !q.plausible(r) || s.subject(r.Class, q.first) == s.out.Readings[n-1].Subject || !s.bare(q, c) {
		return nil
	}
	return r
}

// nowOf returns the reading that the clause before says was something else,
// where this one says nothing but a number: "signal was 60 %, now 35 %".
func (s *scan) nowOf(q *quantity, c *clause) *knowledge.Reading {
	n := len(s.out.Readings)
	if n == 0 || !s.out.Readings[n-1].was || s.clauseOf[c.first] == 0 {
		return nil
	}
	before := &s.clauses[s.clauseOf[c.first]-1]
	g := &s.out.Readings[n-1]
	r := s.pack.Reading(g.Reading)
	if before.sentence != c.sentence || g.Start < s.tokens[before.first].start || !q.plausible(r) || !s.bare(q, c) {
		return nil
	}
	return r
}

// prefer returns the one of several readings that the circumstances speak for
// alone: what was asked, what the clause is about, what is plausible.
// Among readings that are named alike, the first of the pack is taken where
// nothing else tells.
func (s *scan) prefer(fits []*knowledge.Reading, q *quantity, c *clause, named bool) *knowledge.Reading {
	for _, better := range []func(*knowledge.Reading) bool{s.isAsked, q.plausible} {
		if len(fits) <= 1 {
			break
		}
		if some := slices.DeleteFunc(slices.Clone(fits), func(r *knowledge.Reading) bool { return !better(r) }); len(some) > 0 {
			fits = some
		}
	}
	var best *knowledge.Reading
	most, second := math.Inf(-1), math.Inf(-1)
	for _, r := range fits {
		switch x := s.speaksFor(r, q, c); {
		case x > most:
			best, most, second = r, x, most
		case x > second:
			second = x
		}
	}
	if most-second < leastPreferred && !named {
		return nil
	}
	return best
}

// leastPreferred is by how much a reading has to be ahead of the next one.
const leastPreferred = 0.5

// speaksFor adds up what speaks for a reading being meant by a quantity: words
// around it that belong to the reading, the thing that the clause or the
// message is about, and how usual it is. The figures were tried out on
// messages: common practice, no source.
func (s *scan) speaksFor(r *knowledge.Reading, q *quantity, c *clause) float64 {
	x := 0.0
	if c.classes.has(r.Class) {
		x += 3
	}
	if s.about.has(r.Class) {
		x += 2
	} else if s.spokenOf.has(r.Class) {
		x++
	}
	if s.beside(r) {
		x -= 2
	}
	if r.Usual {
		x++
	}
	if r.Unit == "ohm" || r.Unit == "kohm" {
		if len(q.units) == 0 {
			x -= 2 // ohms are seldom left out, volts often
		}
	}
	return x + min(s.affinity(r, q), mostAffinity)
}

// mostAffinity is how much the words around can say at most.
const mostAffinity = 4

// affinity is how much the words around a quantity belong to a reading.
func (s *scan) affinity(r *knowledge.Reading, q *quantity) float64 {
	const reach = 6
	v := s.lexicon.vocabulary[r]
	if v == nil {
		return 0
	}
	at, _ := slices.BinarySearchFunc(s.meant, q.first, func(m meant, token int) int { return m.token - token })
	sum, seen := 0.0, [2 * reach]int32{}
	n := 0
	sentence := s.clause(q.first).sentence
	for i := max(0, at-reach); i < min(len(s.meant), at+reach); i++ {
		if s.clause(s.meant[i].token).sentence != sentence {
			continue
		}
		for _, id := range s.meant[i].ids {
			if w := v[id]; w > 0 && !slices.Contains(seen[:n], id) && n < len(seen) {
				seen[n] = id
				n++
				d := math.Abs(float64(i-at)) + 1
				sum += w / math.Sqrt(d)
			}
		}
	}
	return sum
}

// askedNumber returns the reading asked for that the quantity answers. A bare
// number has to be all that its clause says.
func (s *scan) askedNumber(q *quantity, c *clause) *knowledge.Reading {
	var fits []*knowledge.Reading
	for _, name := range s.ctx.Asked {
		if r := s.pack.Reading(name); r != nil && r.Kind == knowledge.Number {
			if _, ok := q.in(r); ok {
				fits = append(fits, r)
			}
		}
	}
	if len(fits) > 1 {
		fits = slices.DeleteFunc(fits, func(r *knowledge.Reading) bool { return !q.plausible(r) })
	}
	if len(fits) != 1 || len(q.units) == 0 && !s.bare(q, c) {
		return nil
	}
	return fits[0]
}

// mostWithBare is how many telling words a message may have for its only
// number to be the answer whatever they say.
const mostWithBare = 4

// bare tells whether a number is the only one of the message, or all that its
// clause says.
func (s *scan) bare(q *quantity, c *clause) bool {
	if s.values == 1 && len(s.meant) <= mostWithBare {
		return true
	}
	for i := max(c.first, q.first-window); i < min(c.last, q.last+window); i++ {
		inside := i >= q.first && i < q.last
		if !inside && s.kind(i) != mark && !s.taken[i] && !s.roleOf(i).has(filler) {
			return false
		}
	}
	return true
}

// byUnit returns the only reading that a quantity with a unit can be. Times
// are no readings by themselves: they may be how long the work took.
func (s *scan) byUnit(q *quantity, c *clause) *knowledge.Reading {
	if len(q.units) == 0 {
		return s.usually(q, c)
	}
	if r := s.lengthOfCable(q); r != nil {
		return r
	}
	if q.units[0].Dimension() == units.Duration || s.is(q.last, "of") || len(s.byDimension[q.units[0].Dimension()]) > 1 && s.namedOtherwise(q, c) {
		return nil
	}
	var fits []*knowledge.Reading
	for _, u := range q.units {
		for _, r := range s.byDimension[u.Dimension()] {
			if (u.Dimension() == units.Length || u.Dimension() == units.Area) && s.affinity(r, q) < leastForLength {
				continue // "2 m off it is quiet": most lengths are no reading
			}
			if _, ok := q.in(r); ok && !slices.Contains(fits, r) {
				fits = append(fits, r)
			}
		}
	}
	return s.prefer(fits, q, c, false)
}

// lengthOfCable reads "70 m of 0.22 mm2": the length of what has that section.
func (s *scan) lengthOfCable(q *quantity) *knowledge.Reading {
	if q.units[0].Dimension() != units.Length {
		return nil
	}
	for k := range s.quantities {
		o := &s.quantities[k]
		if o.first < q.last || o.first > q.last+2 || len(o.units) == 0 || !slices.Contains(o.units, units.SquareMillimetre) {
			continue
		}
		for _, section := range s.byDimension[units.Area] {
			area, _, _ := strings.Cut(section.Name.S, ".")
			for _, r := range s.byDimension[units.Length] {
				if strings.HasPrefix(r.Name.S, area+".") && r.Unit == "m" {
					return r
				}
			}
		}
	}
	return nil
}

// usually returns what a bare number is in a message about a complaint that
// one usual reading matters for: "52 with the gate open" is the signal of a
// device that is lost. It has to stand apart from what it could count.
func (s *scan) usually(q *quantity, c *clause) *knowledge.Reading {
	whole := q.low == math.Trunc(q.low) && q.high == math.Trunc(q.high)
	if len(s.complaintsKnown()) == 0 || q.low < 3 || q.ordinal || !whole || !s.standsApart(q, c) {
		return nil
	}
	for _, g := range s.out.Readings {
		if s.pack.Reading(g.Reading).Unit == "%" && s.sameSentence(g.Start, q.first) {
			return nil // "noise 30 with the lights on, 6 with them off"
		}
	}
	var found *knowledge.Reading
	for _, r := range s.byDimension[units.Share] {
		if r.Usual && s.matters(r) && !s.gives(r) && q.plausible(r) {
			if found != nil {
				return nil
			}
			found = r
		}
	}
	return found
}

// sameSentence tells whether a place of the text is in the sentence of a token.
func (s *scan) sameSentence(place, near int) bool {
	i, _ := slices.BinarySearchFunc(s.tokens, place, func(t token, at int) int { return t.start - at })
	return i < len(s.tokens) && s.clause(i).sentence == s.clause(near).sentence
}

// standsApart tells whether neither a thing to count nor a time is near a
// number: the end of the clause or a word such as with follows, and no "at"
// stands before it.
func (s *scan) standsApart(q *quantity, c *clause) bool {
	if s.roleOf(q.first-1).has(timeBefore) || s.kind(q.first-1) == number || s.namedOtherwise(q, c) {
		return false
	}
	return q.last >= c.last || s.kind(q.last) == mark || s.roleOf(q.last).has(goesOn)
}

// leastForLength is how much the words around have to say for a length.
const leastForLength = 1.0

// byDimension sorts the numbers that a technician can be asked for.
func byDimension(p *knowledge.Pack) map[units.Dimension][]*knowledge.Reading {
	m := map[units.Dimension][]*knowledge.Reading{}
	for i := range p.Readings {
		if r := &p.Readings[i]; r.Kind == knowledge.Number && r.Askable() && r.Unit != "" {
			u, _ := units.BySymbol(r.Unit) // a pack has no others
			m[u.Dimension()] = append(m[u.Dimension()], r)
		}
	}
	return m
}
