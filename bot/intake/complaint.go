package intake

// loosePhrase is a complaint of several words, between which others may
// stand: "keypad at the back door shows nothing".
type loosePhrase struct {
	symptom string
	words   []int32
}

// mostBetween is how many words may stand between those of a loose phrase.
const mostBetween = 4

// leastLoose is the least length of its words: loose phrases with "no" or
// "off" in them would be found everywhere.
const leastLoose = 4

func (l *lexicon) addLoose(words []string, symptom string) {
	p := loosePhrase{symptom: symptom}
	for _, w := range words {
		if len(words) < 2 || len(w) < leastLoose {
			return
		}
		p.words = append(p.words, l.id(w))
	}
	l.loose[p.words[0]] = append(l.loose[p.words[0]], p)
}

// complaints are the phrases of symptoms; where there is none word by word,
// the first with other words between.
func (s *scan) complaints() []match {
	if len(s.found.by[complaint]) > 0 {
		return s.found.by[complaint]
	}
	for i := range s.tokens {
		for _, p := range s.lexicon.loose[s.tokens[i].word] {
			if s.tokens[i].word == 0 {
				break
			}
			if last := s.looseAt(p, i); last > 0 {
				s.taken[i], s.taken[last-1] = true, true
				return []match{{first: i, last: last, words: len(p.words), gap: -1, senses: []sense{{layer: complaint, symptom: p.symptom}}}}
			}
		}
	}
	return nil
}

// looseAt returns the token behind a loose phrase that begins at token i in
// its clause, or 0.
func (s *scan) looseAt(p loosePhrase, i int) int {
	next, limit := 0, min(s.clause(i).last, i+window)
	for end := i + len(p.words) + mostBetween; i < min(end, limit); i++ {
		if s.roleOf(i).has(filler) {
			end++
		}
		if s.tokens[i].word == p.words[next] {
			if next++; next == len(p.words) {
				return i + 1
			}
		}
	}
	return 0
}
