package intake

import (
	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
)

// What answers a question may be put in a few of the words that the pack has
// for it: this share of them, by how much each tells, and by how much more
// than the next answer.
const (
	leastCovered = 0.6
	clearlyAhead = 1.2
	// moreForOthers is what an answer to a further question of a list has to say.
	moreForOthers = 9.0
)

// mostAround is how many words a message may have for one of them alone to be
// the answer.
const mostAround = 2

// isUnit tells whether a token is a unit: the V of "13.7 V" is no answer.
func (s *scan) isUnit(i int) bool {
	_, ok := unitsWritten[s.tokens[i].text]
	return ok && s.kind(i-1) == number
}

// askedAnswers takes the answers to what was asked that are not found as
// phrases: the question says what the words are about, so that fewer do.
func (s *scan) askedAnswers() {
	if m := s.found.covering(speech, 0); m != nil && m.has(askHow) {
		return // "how do i shut it off for now" asks, and answers nothing
	}
	for n, name := range s.ctx.Asked {
		r := s.pack.Reading(name)
		if r == nil || r.Kind != knowledge.Choice && r.Kind != knowledge.YesNo || s.gives(r) {
			continue
		}
		var best, second covered
		for i := range s.lexicon.loose.byReading[r] {
			c := s.coverage(&s.lexicon.loose.byReading[r][i])
			switch {
			case c.score <= 0:
			case best.phrase == nil || c.score > best.score:
				if best.phrase != nil && best.says() != c.says() {
					second = best
				}
				best = c
			case c.says() != best.says() && c.score > second.score:
				second = c
			}
		}
		if best.phrase == nil || best.score < clearlyAhead*second.score {
			continue
		}
		if n > 0 && (best.found < 2 || best.score < moreForOthers) {
			continue // what was asked besides has to be answered more clearly
		}
		if n == 0 && r.Kind == knowledge.YesNo && s.out.Command == No && !best.phrase.sense.no {
			continue // "no, just a power cut": the no is the answer
		}
		v := rules.Named(best.phrase.sense.choice)
		if r.Kind == knowledge.YesNo {
			v = rules.Yes(!best.phrase.sense.no)
		}
		s.give(r, s.focused(r), v, best.first, best.last)
		s.take(best.first, best.last)
	}
}

// covered is how much of a phrase a message says.
type covered struct {
	phrase      *loosePhrase
	score       float64
	found       int // words
	first, last int
}

func (c covered) says() string { return c.phrase.sense.senseKey() }

// coverage looks for the words of a phrase in the message. Words that the
// question holds itself may be left out of an answer: "all the time" answers
// when the path is lost.
func (s *scan) coverage(p *loosePhrase) covered {
	c := covered{phrase: p, first: len(s.tokens)}
	context := s.lexicon.loose.context[p.sense.reading]
	all, there, found, left := 0.0, 0.0, 0, 0
	first, last := len(s.meant), -1
	for _, need := range p.needs {
		x := max(1, s.lexicon.loose.rarity[need])
		at := s.freelyMeant(need)
		if at < 0 && context[need] {
			left++
			continue
		}
		all += x
		if at < 0 {
			continue
		}
		there += x
		found++
		first, last = min(first, at), max(last, at)
		c.first, c.last = min(c.first, s.meant[at].token), max(c.last, s.meant[at].token+1)
	}
	if found == 0 || there < leastCovered*all {
		return covered{phrase: p}
	}
	free := 0
	for i := range s.meant {
		if !s.claimed[s.meant[i].token] && s.kind(s.meant[i].token) == word {
			free++
		}
	}
	denied := s.negationAround(first, last, s.clauseOf[s.meant[first].token]) >= 0
	alone := found == 1 && free > mostAround || found <= 2 && s.freeNumber()
	if denied != p.negates || alone || left > 0 && len(s.meant) >= 2*mostAround {
		return covered{phrase: p}
	}
	c.score, c.found = there*there/all, found
	return c
}

// freeNumber tells whether the message has a number that names no thing: then
// one word beside it belongs to that, as in "190 mA on that run".
func (s *scan) freeNumber() bool {
	for i := range s.tokens {
		if s.kind(i) == number && !s.index[i] {
			return true
		}
	}
	return false
}

// freelyMeant is the place of a word that means id and answers nothing else
// yet, or -1.
func (s *scan) freelyMeant(id int32) int {
	for i := range s.meant {
		c := s.clause(s.meant[i].token)
		if slices.Contains(s.meant[i].ids, id) && !c.question && !c.conditional && !s.claimed[s.meant[i].token] && !s.isUnit(s.meant[i].token) {
			return i
		}
	}
	return -1
}
