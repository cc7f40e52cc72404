package intake

import (
	"math"
	"slices"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
	"ferrule/rules"
)

// in returns the quantity in the unit of a reading, and whether it can be one.
func (q *quantity) in(r *knowledge.Reading) (rules.Value, bool) {
	low, high := q.low, q.high
	switch {
	case len(q.units) == 0:
	case r.Unit == "":
		return rules.Value{}, false
	default:
		own, _ := units.BySymbol(r.Unit)
		fits := false
		for _, u := range q.units {
			var a, b float64
			var ok bool
			if a, ok = u.In(own, q.low); !ok {
				continue
			}
			b, _ = u.In(own, q.high)
			low, high, fits = a, b, true
			break
		}
		if !fits {
			return rules.Value{}, false
		}
	}
	return q.widened(r, low, high), true
}

// widened opens a value by "about" and by bounds. An exclusive bound stands
// just beside its number.
func (q *quantity) widened(r *knowledge.Reading, low, high float64) rules.Value {
	if q.share > 0 {
		low, high = low-math.Abs(low)*q.share, high+math.Abs(high)*q.share
	}
	if p := r.Plausible; p != nil && q.share > 0 && low <= p.High && high >= p.Low {
		low, high = max(low, p.Low), min(high, p.High)
	}
	if q.bound.up {
		high = math.Inf(1)
	}
	if q.bound.down {
		low = math.Inf(-1)
	}
	if !q.bound.with {
		if q.bound.up {
			low = math.Nextafter(low, math.Inf(1))
		}
		if q.bound.down {
			high = math.Nextafter(high, math.Inf(-1))
		}
	}
	return rules.Between(low, high)
}

func (q *quantity) plausible(r *knowledge.Reading) bool {
	v, ok := q.in(r)
	return ok && implausible(r, v) == ""
}

// numbers binds each quantity to the reading that it belongs to.
func (s *scan) numbers() {
	for i := range s.quantities {
		q := &s.quantities[i]
		c := s.clause(q.first)
		if s.taken[q.first] && s.found.covering(name, q.first) == nil && s.kind(q.first) == number || c.conditional || s.isGone(q) {
			continue
		}
		if len(q.units) > 0 && q.units[0].Dimension() == units.NoScale {
			s.out.NoScale = append(s.out.NoScale, Span{s.tokens[q.first].start, s.tokens[q.last-1].end})
			s.take(q.first, q.last)
			continue
		}
		r, m := s.readingOf(q, c)
		switch {
		case r != nil:
			s.bind(q, r, m)
		case q.isDuration():
			s.unbound = append(s.unbound, *q)
		}
	}
	s.dropPast()
}

// isGone tells whether "not 83" takes a value back: where the clause or the
// one before gives the right one, the wrong one says no more.
func (s *scan) isGone(q *quantity) bool {
	if !q.takenBack {
		return false
	}
	return q.instead > 0
}

// saidOfBefore tells whether a quantity is what a reading was before.
func (s *scan) saidOfBefore(q *quantity, c *clause) bool {
	for i := max(c.first, q.first-3); i < min(c.last, q.last+4); i++ {
		if m := s.found.covering(speech, i); m != nil && m.has(past) {
			return true
		}
	}
	return false
}

// dropPast drops what a reading was before, where the message says what
// it is now: "signal is 35 % but was 60 %".
func (s *scan) dropPast() {
	s.out.Readings = slices.DeleteFunc(s.out.Readings, func(g Given) bool {
		return g.was && slices.ContainsFunc(s.out.Readings, func(o Given) bool {
			return !o.was && o.Reading == g.Reading && o.Subject == g.Subject
		})
	})
}

// bind gives the quantity as the value of a reading.
func (s *scan) bind(q *quantity, r *knowledge.Reading, m *match) {
	v, ok := q.in(r)
	if !ok {
		return
	}
	if q.unsure {
		v.Certainty = hedgedCertainty
	}
	first, last := q.first, q.last
	if m != nil {
		first, last = min(first, m.first), max(last, m.last)
		s.boundNames[m.first] = true
	}
	subject := s.subject(r.Class, q.first)
	corrected := s.corrected(q, r)
	if corrected != nil {
		subject = corrected.Subject
	}
	s.was = s.saidOfBefore(q, s.clause(q.first))
	g := s.give(r, subject, v, first, last)
	s.was = false
	g.Correction = g.Correction || corrected != nil || s.takesBack(q) != nil
	s.take(q.first, q.last)
}

func (q *quantity) isDuration() bool {
	return len(q.units) > 0 && q.units[0].Dimension() == units.Duration
}
