package intake

import (
	"cmp"
	"slices"
)

// meant is what the words of a message mean, without those that carry nothing.
type meant struct {
	token int
	ids   []int32
}

// meanings works out what each word of the message means.
func (s *scan) meanings() {
	language := languageNumber(s.out.Language)
	var room []int32
	for i := 0; i < len(s.tokens); i++ {
		t := &s.tokens[i]
		start := len(room)
		if m := s.found.covering(concept, i); m != nil && m.first == i {
			for _, x := range m.senses {
				room = append(room, x.concept) // beside what its words mean alone
			}
		}
		switch {
		case t.kind == mark:
			continue
		case t.kind == number:
			if id, ok := s.lexicon.concepts.ids[t.text]; ok {
				room = append(room, id)
			}
		default:
			c := s.lexicon.concepts
			room = c.meanings(room, s.spelled(t), s.text[t.start:t.end], language)
			if left, right, ok := c.compound(t.text, language); ok && len(room) == start {
				room = c.meaning(room, left, language)
				s.meant = append(s.meant, meant{i, room[start:len(room):len(room)]})
				start = len(room)
				room = c.meaning(room, right, language)
			}
		}
		if len(room) > start || t.kind == word && !s.lexicon.concepts.stops[language][t.text] {
			s.meant = append(s.meant, meant{i, room[start:len(room):len(room)]})
		}
	}
}

// spelled is the word that a token was read as.
func (s *scan) spelled(t *token) string {
	if t.word != 0 && int(t.word) < len(s.lexicon.spell.words) && t.text != s.lexicon.spell.words[t.word] && s.lexicon.spell.words[t.word] != "" && s.lexicon.words[t.text] == 0 {
		return s.lexicon.spell.words[t.word]
	}
	return t.text
}

// candidate is a phrase that was found, exactly or loosely.
type candidate struct {
	sense       *sense
	first, last int // tokens, the end left out
	tokens      []int
	weight      float64
	negated     bool
}

// looseIn finds the loose phrases of a layer.
func (s *scan) looseIn(y layer) []candidate {
	if !s.looked {
		s.looked = true
		s.lookLoosely()
	}
	return s.loosely[y]
}

// lookLoosely tries the phrases that are filed under each word. Most are
// passed over at once, since some of their words are nowhere near.
func (s *scan) lookLoosely() {
	near := s.nearby()
	for at := range s.meant {
		for _, id := range s.meant[at].ids {
			if s.repeats(at, id) {
				continue
			}
			if int(id) >= len(s.lexicon.loose.by) {
				continue
			}
			for i := range s.lexicon.loose.by[id] {
				e := &s.lexicon.loose.by[id][i]
				if e.words.lacks(&near[at]) > e.mayLack {
					continue
				}
				p := &s.lexicon.loose.phrases[e.phrase]
				y := p.sense.layer
				if p.shared && !(y == answer && s.isAsked(p.sense.reading)) || p.weight < s.leastFor(p) {
					continue
				}
				if c, ok := s.looseAt(p, at, id); ok {
					s.loosely[y] = append(s.loosely[y], c)
				}
			}
		}
	}
}

// nearby are the meanings around each word, as far as a phrase can reach.
func (s *scan) nearby() []wordSet {
	const reach = mostNeeds + slackOfMore
	own := make([]wordSet, len(s.meant))
	for i := range s.meant {
		for _, id := range s.meant[i].ids {
			own[i].add(id)
		}
	}
	near := make([]wordSet, len(s.meant))
	for i := range near {
		for j := max(0, i-reach); j < min(len(own), i+reach+1); j++ {
			for k := range near[i] {
				near[i][k] |= own[j][k]
			}
		}
	}
	return near
}

// leastFor is the least weight that a phrase counts with: more where the
// language of the message does not have it.
func (s *scan) leastFor(p *loosePhrase) float64 {
	const foreign = 1.3
	if s.out.Language != "" && p.spoken&(1<<languageNumber(s.out.Language)) == 0 {
		return foreign * s.lexicon.loose.least
	}
	return s.lexicon.loose.least
}

// repeats tells whether a word stood just before already, so that its phrases
// were tried: long rows of one word cost nothing.
func (s *scan) repeats(at int, id int32) bool {
	return at > 0 && slices.Contains(s.meant[at-1].ids, id) && at > 1 && slices.Contains(s.meant[at-2].ids, id)
}

// looseAt looks for the words of a phrase around one of them.
func (s *scan) looseAt(p *loosePhrase, at int, id int32) (candidate, bool) {
	slack := slackOfTwo
	if len(p.needs) > 2 {
		slack = slackOfMore
	}
	reach := len(p.needs) + slack - 1
	c := s.clauseOf[s.meant[at].token]
	sentence := s.clauses[c].sentence
	first, last := at, at
	var places [mostNeeds]int
	used := places[:0]
	used = append(used, at)
	missed := 0.0
	for _, need := range p.needs {
		if need == id {
			continue
		}
		place := s.nearestMeant(need, at, reach, sentence, used)
		if place < 0 && len(p.needs) >= mayMiss && missed == 0 {
			missed = s.lexicon.loose.rarity[need]
			continue
		}
		if place < 0 {
			return candidate{}, false
		}
		used = append(used, place)
		first, last = min(first, place), max(last, place)
	}
	if last-first+1 > len(p.needs)+slack {
		return candidate{}, false
	}
	from, to := s.clauseOf[s.meant[first].token], s.clauseOf[s.meant[last].token]
	if from != to && (len(p.needs) == 2 || to-from > 1) {
		return candidate{}, false
	}
	negation := s.negationAround(first, last, from)
	if p.negates && negation < 0 {
		return candidate{}, false
	}
	weight := p.weight - 0.3*float64(last-first+1-len(used)) - missedCosts*missed
	if missed > 0 && (weight < moreMissed*s.lexicon.loose.least || missed > mostMissed*p.weight) {
		return candidate{}, false
	}
	out := candidate{sense: &p.sense, weight: weight, negated: negation >= 0 && !p.negates}
	if p.negates {
		used = append(used, negation)
	}
	for _, place := range used {
		out.tokens = append(out.tokens, s.meant[place].token)
	}
	slices.Sort(out.tokens)
	out.first, out.last = out.tokens[0], out.tokens[len(out.tokens)-1]+1
	return out, true
}

// nearestMeant is the place nearest to at that means id, in the sentence and
// not used, or -1.
func (s *scan) nearestMeant(id int32, at, reach, sentence int, used []int) int {
	for d := 0; d <= reach; d++ {
		for _, place := range [2]int{at - d, at + d} {
			if place < 0 || place >= len(s.meant) || slices.Contains(used, place) || !slices.Contains(s.meant[place].ids, id) {
				continue
			}
			if s.clauses[s.clauseOf[s.meant[place].token]].sentence == sentence {
				return place
			}
		}
	}
	return -1
}

// negationAround is the place of a negation among the words from first to
// last, or closely before them in the clause, or -1.
func (s *scan) negationAround(first, last int, clause int32) int {
	for place := last; place >= max(0, first-negationReach); place-- {
		if slices.Contains(s.meant[place].ids, not) && (place >= first || s.clauseOf[s.meant[place].token] == clause) {
			return place
		}
	}
	// In these languages it stands behind the verb: "la led s'allume pas".
	switch behind := last + 1; s.out.Language {
	case "fr", "de", "nl":
		if behind < len(s.meant) && slices.Contains(s.meant[behind].ids, not) && s.clauseOf[s.meant[behind].token] == clause {
			return behind
		}
	}
	return -1
}

// exactWeight is how much a phrase tells that stands word by word: more than
// the same words found loosely.
func (s *scan) exactWeight(m *match) float64 {
	const asItStands = 4
	x := float64(asItStands)
	at, _ := slices.BinarySearchFunc(s.meant, m.first, func(m meant, token int) int { return m.token - token })
	for ; at < len(s.meant) && s.meant[at].token < m.last; at++ {
		most := 0.0
		for _, id := range s.meant[at].ids {
			most = max(most, s.lexicon.loose.rarity[id])
		}
		x += most
	}
	return x
}

// choose accepts candidates from the weightiest on, each that rests on a word
// which none before it rests on. Claimed are, by token, those that are rested
// on already; it is changed.
func choose(all []candidate, claimed []bool, accept func(candidate) bool) {
	slices.SortStableFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(b.weight, a.weight), cmp.Compare(a.first, b.first), cmp.Compare(len(a.tokens), len(b.tokens)))
	})
	for _, c := range all {
		free := 0
		for _, i := range c.tokens {
			if !claimed[i] {
				free++
			}
		}
		if free == 0 || 2*free < len(c.tokens) && len(c.tokens) > 2 {
			continue
		}
		if accept(c) {
			for _, i := range c.tokens {
				claimed[i] = true
			}
		}
	}
}
