package intake

import (
	"strings"

	"ferrule/knowledge"
)

// clause is a piece of a message between commas and the like: tokens first to
// last, the end left out.
type clause struct {
	first, last int
	sentence    int
	question    bool // it asks, and states nothing
	conditional bool // it begins with if
	hedged      bool // "I think"
	corrects    bool // "sorry, ..."
	scratches   bool // "scratch that, ..."
	empty       bool // nothing but words of conversation
	classes     classes
	firstValue  int // the token of its first quantity, plus 1
}

// classes is a set of classes of subject.
type classes uint16

func (c classes) has(x knowledge.Class) bool { return c&classBit(x) != 0 }

func classBit(x knowledge.Class) classes {
	for i, c := range knowledge.Classes {
		if c == x {
			return 1 << i
		}
	}
	return 0
}

// clauses parts the message, and works out what holds for each part.
func (s *scan) parts() {
	s.clauseOf = make([]int32, len(s.tokens))
	sentence, first := 0, 0
	end := func(last int) {
		if last > first {
			s.clauses = append(s.clauses, clause{first: first, last: last, sentence: sentence})
		}
		first = last
	}
	for i, t := range s.tokens {
		if s.inside(i) {
			continue
		}
		if t.line {
			end(i)
			sentence++
		}
		switch {
		case t.kind == word && i > first && s.roleOf(i).has(but):
			end(i)
		case t.kind != mark:
		case t.text == "," || t.text == ";" || t.text == "…":
			end(i)
		case t.text == "." && !s.abbreviated(i), t.text == "!", t.text == "?":
			end(i + 1)
			sentence++
		}
	}
	end(len(s.tokens))
	for n := range s.clauses {
		c := &s.clauses[n]
		for i := c.first; i < c.last; i++ {
			s.clauseOf[i] = int32(n)
		}
		s.judge(c)
	}
	s.spread()
}

// inside tells whether a token stands within a phrase, so that no clause can
// end before it.
func (s *scan) inside(i int) bool {
	for y := layer(0); y < layers; y++ {
		if m := s.found.covering(y, i); m != nil && m.first < i {
			return true
		}
	}
	return false
}

// abbreviated tells whether the full stop at i belongs to a word: ca. 40.
func (s *scan) abbreviated(i int) bool {
	if i == 0 || !s.glued(i) || s.kind(i-1) != word {
		return false
	}
	w := s.tokens[i-1].text
	return (strings.Contains(" no nr ca approx temp min max ok resp ref v vs num ", " "+w+" ") || len(w) == 1) && s.kind(i+1) != mark && i+1 < len(s.tokens) && !s.tokens[i+1].line
}

// judge looks at the words of one clause.
func (s *scan) judge(c *clause) {
	for i := c.first; i < c.last; i++ {
		if t := s.tokens[i]; t.kind == mark && t.text == "?" {
			c.question = true
		}
		if m := s.found.covering(equipment, i); m != nil && m.first == i {
			c.classes |= classBit(m.senses[0].class)
			s.spokenOf |= c.classes
		}
		m := s.found.covering(speech, i)
		if m == nil || m.first != i {
			continue
		}
		c.hedged = c.hedged || m.has(hedge)
		c.corrects = c.corrects || m.has(correction)
		c.scratches = c.scratches || m.has(scratch)
	}
	start := c.first
	for start < c.last && s.kind(start) == mark {
		start++
	}
	if start+1 < c.last && s.roleOf(start).has(conditional) && !s.inside(start+1) {
		c.conditional = true
	}
	c.empty = s.says(c, nil) == 0
}

// says counts the tokens of a clause that are more than conversation.
func (s *scan) says(c *clause, unless *match) int {
	n := 0
	for i := c.first; i < c.last; i++ {
		t := s.tokens[i]
		m := s.found.covering(speech, i)
		switch {
		case t.kind == mark || m != nil && (m != unless || unless == nil):
		case s.roleOf(i).has(filler):
		default:
			n++
		}
	}
	return n
}

// spread carries what stands in a clause of its own over to its neighbour:
// "not sure, gen 1" and "gen 1, I think"; "sorry, 38".
func (s *scan) spread() {
	for n := range s.clauses {
		c := &s.clauses[n]
		if !c.empty {
			continue
		}
		if c.hedged {
			if n > 0 && s.clauses[n-1].sentence == c.sentence && !s.clauses[n-1].empty {
				s.clauses[n-1].hedged = true
			} else if n+1 < len(s.clauses) {
				s.clauses[n+1].hedged = true
			}
		}
		if n+1 < len(s.clauses) {
			s.clauses[n+1].corrects = s.clauses[n+1].corrects || c.corrects
			s.clauses[n+1].scratches = s.clauses[n+1].scratches || c.scratches
		}
	}
}

func (s *scan) clause(token int) *clause { return &s.clauses[s.clauseOf[token]] }

// negated tells whether a phrase is turned round by a word such as not in
// front of it, or closely behind it ("LED not on").
func (s *scan) negated(first, last int) bool {
	if s.negatedBefore(first) {
		return true
	}
	c := s.clause(first)
	for i := last; i < c.last && i <= last+1; i++ {
		if s.roleOf(i).has(negation) && !s.notSure(i) && !s.is(i, "no") {
			return !s.startsPhrase(i) && !s.startsPhrase(i+1)
		}
		if !s.roleOf(i).has(filler) {
			break
		}
	}
	return false
}

// negatedBefore tells whether a word such as no or not stands in front, with
// nothing but small words between.
func (s *scan) negatedBefore(first int) bool {
	c := s.clause(first)
	for i, seen := first-1, 0; i >= c.first && seen < 3; i, seen = i-1, seen+1 {
		if s.roleOf(i).has(negation) && !s.notSure(i) {
			return true
		}
		if s.kind(i) != mark && !s.roleOf(i).has(filler) && !s.joinsOn(i) {
			break
		}
		if s.is(i, ":") {
			break
		}
	}
	return false
}

// joinsOn are words that may stand between a negation and what it negates:
// not on the keypad bus, not wired to it.
func (s *scan) joinsOn(i int) bool {
	switch s.tokens[i].text {
	case "on", "to", "at", "in", "any", "wired", "connected", "an", "am", "auf", "mit", "do", "en", "a", "su", "al", "op", "aan", "sur", "au":
		return true
	}
	m := s.found.covering(name, i)
	return m != nil
}

func (s *scan) notSure(i int) bool {
	m := s.found.covering(speech, i)
	return m != nil && m.words > 1
}

// startsPhrase tells whether a phrase of the pack begins at a token or behind
// the small words there.
func (s *scan) startsPhrase(i int) bool {
	for ; i < len(s.tokens) && s.roleOf(i).has(filler); i++ {
	}
	for _, y := range []layer{complaint, answer} {
		if m := s.found.covering(y, i); m != nil && m.first == i {
			return true
		}
	}
	return false
}
