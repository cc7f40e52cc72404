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
	for _, c := range s.looseIn(complaint) {
		if !s.pack.Symptom(c.sense.symptom).Asked || s.asks(c.first) {
			all = append(all, c)
		}
	}
	choose(all, map[int]bool{}, func(c candidate) bool {
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
			s.taken[i], s.claimed[i] = s.taken[i] || s.kind(i) == word, true
		}
		return true
	})
}

// compatibility takes a question about two kinds of thing for one about
// whether they go together: "can the wick go on a fen?"
func (s *scan) compatibility() {
	if len(s.out.Symptoms) > 0 || s.pack.Symptom(compatibilityQuestion) == nil {
		return
	}
	for n := range s.clauses {
		c := &s.clauses[n]
		var kinds classes
		first, last := -1, 0
		for i := c.first; i < c.last; i++ {
			if m := s.found.covering(equipment, i); m != nil && m.first == i && m.senses[0].model != "" {
				kinds |= classBit(m.senses[0].class)
				if first < 0 {
					first = m.first
				}
				last = m.last
			}
		}
		if kinds&(kinds-1) != 0 && (c.question || s.roleOf(s.firstSaid(c.first, c.last)).has(goesTogether)) {
			s.out.Symptoms = append(s.out.Symptoms, SymptomAt{compatibilityQuestion, s.tokens[first].start, s.tokens[last-1].end})
			return
		}
	}
}

// asks tells whether the sentence of a token is a question, or begins as one.
func (s *scan) asks(token int) bool {
	sentence := s.clause(token).sentence
	first := true
	for n := range s.clauses {
		c := &s.clauses[n]
		if c.sentence != sentence {
			continue
		}
		if c.question || first && s.roleOf(s.firstSaid(c.first, c.last)).has(goesTogether) {
			return true
		}
		first = false
	}
	return false
}

const compatibilityQuestion = "compatibility_question"

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
