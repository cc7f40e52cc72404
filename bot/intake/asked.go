package intake

import (
	"ferrule/knowledge"
	"ferrule/rules"
)

// What answers a question may be put in a few of the words that the pack has
// for it: this share of them, by how much each tells, and by how much more
// than the next answer.
const (
	leastCovered = 0.6
	clearlyAhead = 1.2
)

// mostAround is how many words a message may have for one of them alone to be
// the answer.
const mostAround = 4

// isUnit tells whether a token is a unit: the V of "13.7 V" is no answer.
func (s *scan) isUnit(i int) bool {
	_, ok := units[s.tokens[i].text]
	return ok && s.kind(i-1) == number
}

// askedAnswers takes the answers to what was asked that are not found as
// phrases: the question says what the words are about, so that fewer do.
func (s *scan) askedAnswers() {
	for _, name := range s.ctx.Asked {
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
	first, last int
}

func (c covered) says() string { return c.phrase.sense.senseKey() }

// coverage looks for the words of a phrase anywhere in the message.
func (s *scan) coverage(p *loosePhrase) covered {
	c := covered{phrase: p, first: len(s.tokens)}
	all, there, denied := 0.0, 0.0, false
	for _, need := range p.needs {
		x := max(1, s.lexicon.loose.rarity[need])
		all += x
		for i := range s.meant {
			if contains(s.meant[i].ids, need) && !s.claimed[s.meant[i].token] && !s.isUnit(s.meant[i].token) {
				there += x
				c.first, c.last = min(c.first, s.meant[i].token), max(c.last, s.meant[i].token+1)
				break
			}
		}
	}
	free := 0
	for i := range s.meant {
		denied = denied || contains(s.meant[i].ids, not)
		if !s.claimed[s.meant[i].token] && s.kind(s.meant[i].token) == word {
			free++
		}
	}
	if there < leastCovered*all || denied != p.negates || len(p.needs) == 1 && free > mostAround {
		return covered{phrase: p}
	}
	c.score = there * there / all
	return c
}
