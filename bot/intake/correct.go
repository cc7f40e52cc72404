package intake

import (
	"slices"

	"ferrule/knowledge"
)

// corrected returns the value given in this message that a quantity takes the
// place of, or nil. Where the wrong value is told as well ("38 not 83"), it
// decides; else it is the last one of the reading, or of any reading that the
// quantity can be.
func (s *scan) corrected(q *quantity, r *knowledge.Reading) *Given {
	c := s.clause(q.first)
	wrong := s.takesBack(q)
	if wrong == nil && !c.corrects && !c.scratches {
		return nil
	}
	var found *Given
	for i := range s.out.Readings {
		g := &s.out.Readings[i]
		o := s.pack.Reading(g.Reading)
		if o.Kind != knowledge.Number || r != nil && o != r {
			continue
		}
		if !q.plausible(o) && r == nil {
			continue
		}
		if wrong != nil {
			if v, ok := wrong.in(o); ok && v.Low == g.Value.Low && v.High == g.Value.High {
				return g
			}
		}
		found = g
	}
	return found
}

// takesBack returns the "not 83" that a quantity is the right value for.
func (s *scan) takesBack(q *quantity) *quantity {
	if q.takenBack {
		return nil
	}
	if q.instead == 0 {
		return nil
	}
	return &s.quantities[q.instead-1]
}

// scratched drops the last value before each "scratch that".
func (s *scan) scratched() {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		if !m.has(scratch) {
			continue
		}
		place := s.tokens[m.first].start
		for n, g := range slices.Backward(s.out.Readings) {
			if g.End <= place {
				s.out.Readings = slices.Delete(s.out.Readings, n, n+1)
				break
			}
		}
	}
}
