package intake

import (
	"cmp"
	"slices"

	"ferrule/knowledge"
)

// The figures of how phrases and single words are weighed against each other
// were tried out on messages: common practice, no source.
const (
	phraseCounts = 0.5
	clearLead    = 0.4
	besides      = 4.0 // how far behind the likeliest a complaint may be that is said as well
	leastGuess   = 1.0 // what the words have to say for a guess at all
)

// symptoms takes the complaints that are stated and not negated: those that a
// phrase says, the likelier ones first. In the first message of a case that
// says none, all words together may tell.
func (s *scan) symptoms() {
	score := s.guesser.score(s)
	said := map[string]candidate{}
	choose(s.complaints(), make([]bool, len(s.tokens)), func(c candidate) bool {
		if s.clause(c.first).conditional || c.negated {
			return false
		}
		if old, ok := said[c.sense.symptom]; !ok || c.weight > old.weight {
			said[c.sense.symptom] = c
		}
		return true
	})
	best, second := -1, -1
	asking := s.asksAnywhere()
	for n, name := range s.guesser.symptoms {
		if c, ok := said[name]; ok {
			score[n] += phraseCounts * c.weight
		} else if s.pack.Symptom(name).Asked && !asking {
			continue
		}
		switch {
		case best < 0 || score[n] > score[best]:
			best, second = n, best
		case second < 0 || score[n] > score[second]:
			second = n
		}
	}
	if best < 0 {
		return
	}
	for n, name := range s.guesser.symptoms {
		c, ok := said[name]
		if ok && score[n] > score[best]-besides {
			s.complain(name, c.first, c.last)
			for _, i := range c.tokens {
				s.taken[i], s.claimed[i] = s.taken[i] || s.kind(i) == word, true
			}
		}
	}
	if name := s.guesser.symptoms[best]; s.ctx.Fresh && len(s.out.Symptoms) == 0 && (second < 0 || score[best]-score[second] > clearLead) && score[best] > leastGuess {
		if first, last := s.guesser.words(s, best); first >= 0 {
			s.complain(name, first, last)
		}
	}
	slices.SortStableFunc(s.out.Symptoms, func(a, b SymptomAt) int { return cmp.Compare(a.Start, b.Start) })
}

func (s *scan) complain(symptom string, first, last int) {
	s.about |= classBit(s.pack.Symptom(symptom).Class)
	s.out.Symptoms = append(s.out.Symptoms, SymptomAt{symptom, s.tokens[first].start, s.tokens[last-1].end})
}

// complaints are the phrases of complaints, as they stand and loosely.
func (s *scan) complaints() []candidate {
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
		whole := s.clauseOf[c.first] == s.clauseOf[c.last-1] // "sig 35, 10v8 at the far end" are two things
		if whole && (!s.pack.Symptom(c.sense.symptom).Asked || s.asks(c.first)) && !slices.ContainsFunc(c.tokens, s.inSet) {
			all = append(all, c)
		}
	}
	return all
}

// onlyQuestion is the symptom of a pack that is asked rather than reported; ""
// if there is none, or more than one.
func onlyQuestion(p *knowledge.Pack) string {
	found := ""
	for i := range p.Symptoms {
		switch s := &p.Symptoms[i]; {
		case s.Asked && found != "":
			return ""
		case s.Asked:
			found = s.Name.S
		}
	}
	return found
}

// compatibility takes a question about two kinds of thing for the question of
// the pack, whether they go together: "can the wick go on a fen?"
func (s *scan) compatibility() {
	if len(s.out.Symptoms) > 0 || s.question == "" {
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
			s.out.Symptoms = append(s.out.Symptoms, SymptomAt{s.question, s.tokens[first].start, s.tokens[last-1].end})
			return
		}
	}
}

// inSet tells whether a token belongs to the member of a set: "not on the
// keypad bus" says what is wired, and not what is missing.
func (s *scan) inSet(i int) bool {
	m := s.found.covering(answer, i)
	return m != nil && m.senses[0].reading.Kind == knowledge.Set
}

func (s *scan) asksAnywhere() bool {
	return slices.Contains(s.questions(), true)
}

// asks tells whether the sentence of a token is a question, or begins as one.
func (s *scan) asks(token int) bool { return s.questions()[s.clause(token).sentence] }

// questions tells of each sentence whether it asks.
func (s *scan) questions() []bool {
	if s.asking == nil && len(s.clauses) > 0 {
		s.asking = make([]bool, s.clauses[len(s.clauses)-1].sentence+1)
		before := -1
		for n := range s.clauses {
			c := &s.clauses[n]
			begins := c.sentence != before && s.roleOf(s.firstSaid(c.first, c.last)).has(goesTogether)
			s.asking[c.sentence] = s.asking[c.sentence] || c.question || begins
			before = c.sentence
		}
	}
	return s.asking
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
