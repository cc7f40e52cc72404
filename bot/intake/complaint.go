package intake

// symptoms takes every complaint that is stated and not negated.
func (s *scan) symptoms() {
	var all []candidate
	for i := range s.found.by[complaint] {
		m := &s.found.by[complaint][i]
		for k := range m.senses {
			all = append(all, candidate{
				sense: &m.senses[k], first: m.first, last: m.last, tokens: s.said(m.first, m.last),
				weight: s.exactWeight(m), negated: s.negatedBefore(m.first),
			})
		}
	}
	all = append(all, s.looseIn(complaint)...)
	choose(all, func(c candidate) bool {
		if s.clause(c.first).conditional || c.negated {
			return false
		}
		for _, x := range s.out.Symptoms {
			if x.Symptom == c.sense.symptom {
				return true
			}
		}
		s.about |= classBit(s.pack.Symptom(c.sense.symptom).Class)
		s.out.Symptoms = append(s.out.Symptoms, SymptomAt{c.sense.symptom, s.tokens[c.first].start, s.tokens[c.last-1].end})
		for _, i := range c.tokens {
			s.taken[i] = true
		}
		return true
	})
}

// said are the tokens from first to last that are words or numbers.
func (s *scan) said(first, last int) []int {
	var out []int
	for i := first; i < last; i++ {
		if s.kind(i) != mark && !s.roleOf(i).has(filler) {
			out = append(out, i)
		}
	}
	if out == nil {
		out = append(out, first)
	}
	return out
}
