package intake

import (
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules"
)

// answers takes the choices and the yes/no readings that the message states.
func (s *scan) answers() {
	var all []candidate
	exact := map[*sense]*match{}
	for i := range s.found.by[answer] {
		m := &s.found.by[answer][i]
		if x := s.senseOf(m, s.clause(m.first)); x != nil {
			exact[x] = m
			all = append(all, candidate{sense: x, first: m.first, last: m.last, tokens: s.said(m.first, m.last), weight: s.exactWeight(m)})
		}
	}
	for _, c := range s.looseIn(answer) {
		if c.sense.reading.Kind != knowledge.Set && !slices.ContainsFunc(c.tokens, s.inSet) {
			all = append(all, c)
		}
	}
	given := map[answered]bool{}
	choose(all, s.modelWords(), func(x candidate) bool {
		c := s.clause(x.first)
		is := answered{x.sense.reading, s.subject(x.sense.reading.Class, x.first)}
		if c.question || c.conditional || given[is] {
			return false
		}
		if exact[x.sense] == nil && s.beside(x.sense.reading) && (len(x.tokens) < leastBeside || x.weight < moreBeside*s.lexicon.loose.least) {
			return false
		}
		if m := exact[x.sense]; m != nil && m.first == x.first {
			given[is] = s.answer(m, x.sense, c)
		} else {
			given[is] = s.answerLoosely(x)
		}
		for _, i := range x.tokens {
			s.claimed[i] = s.claimed[i] || given[is]
		}
		return given[is]
	})
}

// modelWords tells of each token whether it belongs to the name of a model: it
// says what it is, and no more.
func (s *scan) modelWords() []bool {
	out := make([]bool, len(s.tokens))
	for i := range s.found.by[equipment] {
		m := &s.found.by[equipment][i]
		if m.senses[0].model == "" {
			continue
		}
		for j := m.first; j < m.last; j++ {
			out[j] = true
		}
	}
	return out
}

// What is beside the complaint has to be said more clearly, in so many words
// and with so much more weight.
const (
	leastBeside = 3
	moreBeside  = 1.6
)

// answered is what a choice or a yes/no was given for.
type answered struct {
	reading *knowledge.Reading
	subject rules.Subject
}

// answerLoosely gives what a loose phrase says. A negation that is not part of
// it turns a yes into a no, and says nothing of a choice.
func (s *scan) answerLoosely(x candidate) bool {
	r := x.sense.reading
	v := rules.Named(x.sense.choice)
	if r.Kind == knowledge.YesNo {
		v = rules.Yes(x.sense.no == x.negated)
	} else if x.negated {
		return false
	}
	s.give(r, s.subject(r.Class, x.first), v, x.first, x.last)
	for _, i := range x.tokens {
		s.taken[i] = s.taken[i] || s.kind(i) == word // a number may still be a value
	}
	return true
}

// senseOf returns the sense of a phrase that several readings may share: the
// one asked for, or named in the clause, or the only one.
func (s *scan) senseOf(m *match, c *clause) *sense {
	var all, better []*sense
	for i := range m.senses {
		x := &m.senses[i]
		if x.reading.Kind == knowledge.Set {
			continue
		}
		all = append(all, x)
		if s.isAsked(x.reading) || s.namedIn(c, m, x.reading) {
			better = append(better, x)
		}
	}
	switch {
	case len(better) == 1:
		return better[0]
	case len(better) == 0 && len(all) == 1 && s.tellsAlone(m, all[0]):
		return all[0]
	}
	return nil
}

// tellsAlone tells whether a phrase says by itself what it is about. A choice
// in one word ("router", "steady") does not; the pack's words for yes and no
// are meant to.
func (s *scan) tellsAlone(m *match, x *sense) bool {
	return x.reading.Kind == knowledge.YesNo || m.words > 1
}

// namedIn tells whether a reading is named close to an answer.
func (s *scan) namedIn(c *clause, m *match, r *knowledge.Reading) bool {
	for i := max(c.first, m.first-window); i < min(c.last, m.last+window); i++ {
		if n := s.found.covering(name, i); n != nil && slices.ContainsFunc(n.senses, func(x sense) bool { return x.reading == r }) {
			return true
		}
	}
	return false
}

func (s *scan) answer(m *match, x *sense, c *clause) bool {
	r := x.reading
	negated := s.negated(m.first, m.last)
	if r.Kind != knowledge.YesNo {
		if !negated {
			s.give(r, s.subject(r.Class, m.first), rules.Named(x.choice), m.first, m.last)
		}
		return !negated
	}
	v, last := !x.no, m.last
	if negated {
		v = !v
	}
	if said, end, ok := s.saidBehind(m, c); ok && !x.no && !negated {
		v, last = said, end
	}
	s.give(r, s.subject(r.Class, m.first), rules.Yes(v), m.first, last)
	return true
}

// saidBehind reads "LED: no", "light = on", "tamper off".
func (s *scan) saidBehind(m *match, c *clause) (value bool, end int, ok bool) {
	i := m.last
	for i < c.last && (s.is(i, ":") || s.is(i, "=") || s.roleOf(i).has(filler)) {
		i++
	}
	if i >= c.last || s.startsPhrase(i) || i+1 < c.last && s.kind(i+1) == word && !s.roleOf(i+1).has(filler) && s.is(i, "no") {
		return false, 0, false
	}
	switch w := s.roleOf(i); {
	case w.has(no), w.has(stateOff):
		return false, i + 1, true
	case w.has(yes), w.has(stateOn):
		return true, i + 1, true
	}
	return false, 0, false
}

// replies binds what answers the last question: yes, no, don't know, a choice
// by its name.
func (s *scan) replies() {
	s.scratched()
	switch s.out.Command {
	case Yes, No:
		// Of several questions it is the first that "no, ..." answers; a yes or
		// no alone is for the only one that can be answered so.
		r := s.firstAsked()
		if len(s.meant) <= 1 && s.asked(knowledge.YesNo) != nil {
			r = s.asked(knowledge.YesNo)
		}
		if r != nil && r.Kind == knowledge.YesNo && !s.gives(r) {
			s.give(r, s.focused(r), rules.Yes(s.out.Command == Yes), 0, s.firstWord()+1)
		}
	case DontKnow, Cant:
		s.unavailable()
	}
	s.wholeAnswer()
}

func (s *scan) firstAsked() *knowledge.Reading {
	if len(s.ctx.Asked) == 0 {
		return nil
	}
	return s.pack.Reading(s.ctx.Asked[0])
}

// firstWord is the first token that is no mark.
func (s *scan) firstWord() int {
	for i := range s.tokens {
		if s.tokens[i].kind != mark {
			return i
		}
	}
	return 0
}

func (s *scan) gives(r *knowledge.Reading) bool {
	return slices.ContainsFunc(s.out.Readings, func(g Given) bool { return g.Reading == r.Name.S })
}

func (s *scan) focused(r *knowledge.Reading) rules.Subject {
	return rules.Subject{Class: r.Class, N: max(1, s.ctx.Focus[r.Class])}
}

// wholeAnswer takes a message that is nothing but an answer of the reading
// asked for: a button's text.
func (s *scan) wholeAnswer() {
	said := plainText(s.text)
	for _, name := range s.ctx.Asked {
		r := s.pack.Reading(name)
		if r == nil || r.Kind != knowledge.Choice && r.Kind != knowledge.Text || s.gives(r) || said == "" {
			continue
		}
		for _, choice := range s.pack.ChoiceNames(r) {
			if plainText(choice) == said {
				s.give(r, s.focused(r), rules.Named(choice), 0, len(s.tokens))
			}
		}
		if r.Kind == knowledge.Text && len(s.ctx.Asked) == 1 && s.out.Command == NoCommand {
			s.give(r, s.focused(r), rules.Named(strings.TrimSpace(s.text)), 0, len(s.tokens))
		}
	}
}

// plainText is a text as its folded words.
func plainText(text string) string {
	var words []string
	for _, t := range tokenize(text) {
		if t.kind != mark {
			words = append(words, t.text)
		}
	}
	return strings.Join(words, " ")
}

// unavailable marks what the technician can't tell: the readings named in the
// same clause, else those asked for.
func (s *scan) unavailable() {
	v := rules.Value{State: rules.Unavailable, Certainty: 1}
	m := s.commandMatch
	c := s.clause(m.first)
	named := false
	for i := m.last; i < min(c.last, m.last+window); i++ {
		n := s.found.covering(name, i)
		if n == nil || n.first != i || s.boundNames[i] {
			continue
		}
		if r := n.senses[0].reading; r.Askable() && len(n.senses) == 1 {
			s.give(r, s.subject(r.Class, i), v, m.first, n.last)
			named = true
		}
	}
	if named || s.says(c, nil) > 3 {
		return
	}
	asked := s.ctx.Asked
	if s.out.Command == DontKnow && len(asked) > 1 {
		asked = asked[:1] // the others are asked again, each by itself
	}
	for _, name := range asked {
		if r := s.pack.Reading(name); r != nil && !s.gives(r) {
			s.give(r, s.focused(r), v, m.first, m.last)
		}
	}
}

// offered replaces "2" by the second answer that was offered, unless a number
// was asked for.
func (s *scan) offered() (string, bool) {
	if len(s.ctx.Choices) == 0 || s.asked(knowledge.Number) != nil || len(s.tokens) == 0 || len(s.tokens) > 2 || s.tokens[0].kind != number {
		return "", false
	}
	if len(s.tokens) == 2 && s.tokens[1].kind != mark {
		return "", false
	}
	n := 0
	for _, d := range s.tokens[0].text {
		if d < '0' || d > '9' || n > len(s.ctx.Choices) {
			return "", false
		}
		n = n*10 + int(d-'0')
	}
	if n < 1 || n > len(s.ctx.Choices) {
		return "", false
	}
	return s.ctx.Choices[n-1], true
}

// moveTo points everything at the whole of the text that was typed.
func (m *Message) moveTo(text string) {
	for i := range m.Readings {
		m.Readings[i].Start, m.Readings[i].End, m.Readings[i].Text = 0, len(text), text
	}
	for i := range m.Symptoms {
		m.Symptoms[i].Start, m.Symptoms[i].End = 0, len(text)
	}
	m.Left = nil
}
