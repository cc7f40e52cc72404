package intake

import "slices"

// manner is how much of a message a command has to be.
type manner uint8

const (
	alone    manner = iota // all of it, but for small words
	first                  // what it begins with
	clausal                // what a clause begins with
	anywhere               // somewhere
)

// commands in order of precedence.
var commands = []struct {
	command Command
	manner  manner
}{
	{OffTest, anywhere}, {OnTest, anywhere}, {NoFault, clausal}, {Close, first}, {NewCase, first}, {Reopen, clausal},
	{Failed, clausal}, {Done, clausal}, {Safe, anywhere}, {Undo, alone}, {Why, alone}, {More, alone}, {Readings, alone}, {SiteHistory, alone}, {Help, alone}, {Speak, alone},
	{DontKnow, clausal}, {Cant, clausal}, {Thanks, first}, {Greeting, first},
}

// command finds what the message asks for besides its readings.
func (s *scan) command() Command {
	if len(s.clauses) == 0 {
		return NoCommand
	}
	found := map[Command]*match{}
	start := s.firstSaid(0, len(s.tokens))
	if start == len(s.tokens) && s.is(0, "?") {
		return Help
	}
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		for _, x := range m.senses {
			if x.command != NoCommand && found[x.command] == nil && s.commands(m, x.command, start) {
				found[x.command] = m
			}
		}
	}
	for _, c := range commands {
		if m := found[c.command]; m != nil {
			if c.command == Close && found[NoFault] != nil {
				continue
			}
			s.commandMatch = m
			if c.command == Speak {
				s.out.Reply = m.senses[slices.IndexFunc(m.senses, func(x sense) bool { return x.command == Speak })].choice
			}
			return c.command
		}
	}
	if m := s.found.covering(speech, start); m != nil && m.has(scratch) && s.firstSaid(m.last, len(s.tokens)) == len(s.tokens) {
		return Undo
	}
	return s.yesOrNo(start)
}

// commands tells whether a phrase is a command where it stands.
func (s *scan) commands(m *match, c Command, start int) bool {
	in := s.clause(m.first)
	manner := mannerOf(c)
	if (c == NewCase || c == Safe) && m.words == 1 {
		manner = alone // "new lights in since last week" is no new case
	}
	switch manner {
	case alone:
		return m.first <= start && s.firstSaid(m.last, len(s.tokens)) == len(s.tokens)
	case first:
		return m.first <= start && !in.conditional
	case clausal:
		return m.first <= s.firstSaid(in.first, in.last) && !in.conditional && !(in.question && c == Done)
	}
	return !in.question && !in.conditional && !s.negatedBefore(m.first)
}

func mannerOf(c Command) manner {
	for _, x := range commands {
		if x.command == c {
			return x.manner
		}
	}
	return alone
}

// firstSaid is the first token from i on that is more than a mark or a small
// word, or last.
func (s *scan) firstSaid(i, last int) int {
	for i < last && (s.kind(i) == mark && !s.measuresMark(i) || s.roleOf(i).has(filler) && s.found.covering(speech, i).only(filler)) {
		i++
	}
	return i
}

func (s *scan) measuresMark(i int) bool { return s.is(i, "%") || s.is(i, "°") }

// only tells whether a match says nothing but this role.
func (m *match) only(r role) bool {
	if m == nil {
		return true
	}
	for _, x := range m.senses {
		if x.role != r {
			return false
		}
	}
	return true
}

// yesOrNo takes a message that begins with yes or no and a comma, or is no
// more than that.
func (s *scan) yesOrNo(start int) Command {
	m := s.found.covering(speech, start)
	if m == nil || m.first != start {
		return NoCommand
	}
	c := s.clause(start)
	rest := s.firstSaid(m.last, c.last)
	for rest < c.last && (s.roleOf(rest).has(negation) || s.roleOf(rest).has(filler) || s.kind(rest) == mark || s.pronoun(rest)) {
		rest++
	}
	more := rest < c.last
	s.commandMatch = m
	switch {
	case m.has(yes) && m.has(no), !m.has(yes) && !m.has(no):
	case more && !(m.has(yes) && s.asksYesNo()):
	case m.has(yes):
		return Yes
	default:
		return No
	}
	s.commandMatch = nil
	return NoCommand
}

// saysGone tells whether the message says that the fault is gone, or that all
// works.
func (s *scan) saysGone() bool {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		if !m.has(confirmSymptomGone) {
			continue
		}
		if c := s.clause(m.first); !c.question && !c.conditional && !s.claimed[m.first] && !s.negated(m.first, m.last) {
			return true
		}
	}
	return false
}

func (s *scan) asksYesNo() bool {
	for _, name := range s.ctx.Asked {
		if r := s.pack.Reading(name); r != nil && r.Kind == "yes/no" {
			return true
		}
	}
	return false
}

func (s *scan) pronoun(i int) bool {
	switch s.tokens[i].text {
	case "does", "do", "they", "all", "them", "did", "there", "mate", "thanks", "sir":
		return true
	}
	return false
}
