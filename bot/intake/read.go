package intake

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
	"ferrule/rules"
)

// Reader reads messages with the words of a pack. It does not change once it
// is built, and any number of messages may be read at the same time.
type Reader struct {
	pack        *knowledge.Pack
	lexicon     *lexicon
	spoken      spoken
	causes      *causeIndex
	byDimension map[units.Dimension][]*knowledge.Reading
	relevance   relevance
	guesser     *guesser
	question    string // the symptom that is asked rather than reported
}

// New returns a reader for a compiled pack. It takes any pack; Collisions
// tells which words of it can't be told apart.
func New(program *rules.Program) *Reader {
	p := program.Pack()
	l := newLexicon()
	words, err := conversationWords()
	if err == nil {
		err = l.addConversation(words)
	}
	if err != nil {
		panic(err) // words.yaml is part of the program, and tested
	}
	numbers, err := spokenWords()
	if err != nil {
		panic(err) // so is numbers.yaml
	}
	l.addPack(p)
	of := newRelevance(program)
	return &Reader{p, l, numbers, newCauseIndex(p), byDimension(p), of, newGuesser(p, l, of), onlyQuestion(p)}
}

// mostRead bounds what is read of one message; a pasted file may be longer.
const mostRead = 1 << 20

// mostBinary is the share of unreadable characters above which a text is none.
const mostBinary = 0.1

// scan is the reading of one message.
type scan struct {
	*Reader
	ctx     Context
	text    string
	tokens  []token
	found   *matches
	meant   []meant
	loosely [layers][]candidate // phrases that were found loosely
	looked  bool
	asking  []bool // by sentence

	clauses  []clause
	clauseOf []int32 // by token
	claimed  []bool  // by token: a complaint or an answer rests on it
	taken    []bool  // by token: belongs to something understood
	index    []bool  // by token: a subject's number, no value

	mentions     map[knowledge.Class][]mention // in order
	about        classes                       // of numbered things and complaints
	spokenOf     classes                       // of everything that a word names
	quantities   []quantity
	boundNames   []bool     // by the first token of a name: has its value
	values       int        // quantities that are not taken back
	was          bool       // the quantity being bound is said of before
	unbound      []quantity // durations that are no reading
	commandMatch *match     // the phrase of the command
	out          Message
}

// Read understands a text that was redacted. A text that is no text gives an
// empty message.
func (r *Reader) Read(text string, c Context) Message {
	if len(text) > mostRead {
		text = text[:mostRead]
	}
	if unprintable(text) {
		return Message{}
	}
	s := r.newScan(text, c)
	if offered, ok := s.offered(); ok {
		given := r.newScan(offered, c).read()
		given.moveTo(text)
		return given
	}
	return s.read()
}

// newScan begins the reading of a text.
func (r *Reader) newScan(text string, c Context) *scan {
	tokens := tokenize(text)
	return &scan{
		Reader: r, ctx: c, text: text, tokens: tokens, mentions: map[knowledge.Class][]mention{},
		taken: make([]bool, len(tokens)), index: make([]bool, len(tokens)), claimed: make([]bool, len(tokens)), boundNames: make([]bool, len(tokens)),
	}
}

func (s *scan) read() Message {
	s.words()
	s.parts()
	s.meanings()
	s.out.Declined = s.declined()
	s.out.Command = s.command()
	s.visit()
	s.takePhrases()
	s.findMentions()
	s.findQuantities()
	if s.out.Command != Close && s.out.Command != NoFault && s.out.Command != OffTest && s.out.Command != Safe {
		s.readings()
	}
	s.doneOnTest()
	s.closing()
	s.leftOver()
	s.out.Gone = s.saysGone()
	s.dropRoutine()
	s.out.Passed = s.passedOver()
	slices.SortStableFunc(s.out.Readings, func(a, b Given) int { return a.Start - b.Start })
	return s.out
}

// words looks the words up, in the language of the text.
func (s *scan) words() {
	s.lexicon.spellAll(s.tokens)
	language, spoken := s.language()
	s.out.Language = language
	for i := range s.tokens {
		if w := s.tokens[i].word; w != 0 {
			s.tokens[i].roles = s.lexicon.roles[w].in(spoken)
		}
	}
	s.found = s.lexicon.find(s.tokens, spoken)
}

// readings finds everything that the message says of the system.
func (s *scan) readings() {
	s.symptoms()
	s.compatibility()
	s.models()
	s.versions()
	s.numbers()
	s.answers()
	s.members()
	s.askedAnswers()
	s.replies()
}

func unprintable(text string) bool {
	bad := 0
	for _, r := range text {
		if r == utf8.RuneError || r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\v' && r != '\f' {
			bad++
		}
	}
	return float64(bad) > mostBinary*float64(len(text))
}

// roleOf is what a token is by itself.
func (s *scan) roleOf(i int) roles {
	if i < 0 || i >= len(s.tokens) {
		return 0
	}
	return s.tokens[i].roles
}

// takePhrases marks the tokens of phrases as understood. A number inside one
// belongs to it: the 8 of "sedge 8" counts nothing.
func (s *scan) takePhrases() {
	for y := range s.found.by {
		for i := range s.found.by[y] {
			m := &s.found.by[y][i]
			for j := m.first; j < m.last; j++ {
				s.taken[j] = s.taken[j] || j != m.gap && (layer(y) != speech || s.kind(j) != number)
			}
		}
	}
}

// give adds a reading that rests on the tokens from first to last.
func (s *scan) give(r *knowledge.Reading, subject rules.Subject, v rules.Value, first, last int) *Given {
	c := s.clause(first)
	if c.hedged && v.State == rules.Known {
		v.Certainty = hedgedCertainty
	}
	g := Given{
		Reading: r.Name.S, Subject: subject, Value: v, Unit: r.Unit, Correction: c.corrects || c.scratches,
		Start: s.tokens[first].start, End: s.tokens[last-1].end, was: s.was,
	}
	g.Text = s.text[g.Start:g.End]
	if reason := implausible(r, v); reason != "" {
		g.Value.State, g.Reason = rules.Questioned, reason
	}
	for i := first; i < last; i++ {
		s.claimed[i] = true
		if s.kind(i) != word || s.found.covering(name, i) != nil {
			s.taken[i] = true
		}
	}
	for i := range s.out.Readings {
		o := &s.out.Readings[i]
		if o.Reading == g.Reading && o.Subject == g.Subject && (g.Correction || sameValue(o.Value, g.Value)) {
			g.was = g.was && o.was
			o.was = g.was
			if g.Correction || g.Value.Certainty >= o.Value.Certainty {
				*o = g
			}
			return o
		}
	}
	if len(s.out.Readings) >= mostReadings {
		return &g
	}
	s.out.Readings = append(s.out.Readings, g)
	return &s.out.Readings[len(s.out.Readings)-1]
}

// mostReadings bounds what one message can give.
const mostReadings = 500

// hedgedCertainty is how sure "I think" is: common practice, no source.
const hedgedCertainty = 0.7

func implausible(r *knowledge.Reading, v rules.Value) string {
	if r.Kind != knowledge.Number || r.Plausible == nil || v.State != rules.Known || v.Low <= r.Plausible.High && v.High >= r.Plausible.Low {
		return ""
	}
	return strings.TrimSpace(fmt.Sprintf("outside %g-%g %s", r.Plausible.Low, r.Plausible.High, r.Unit))
}

func sameValue(a, b rules.Value) bool {
	return a.State == b.State && a.Low == b.Low && a.High == b.High && a.Text == b.Text && len(a.Has) == len(b.Has) && len(a.HasNot) == len(b.HasNot) &&
		strings.Join(a.Has, "\x00") == strings.Join(b.Has, "\x00") && strings.Join(a.HasNot, "\x00") == strings.Join(b.HasNot, "\x00")
}

// isAsked tells whether a reading was asked for last.
func (s *scan) isAsked(r *knowledge.Reading) bool {
	return slices.Contains(s.ctx.Asked, r.Name.S)
}

// asked returns the single reading of a kind that was asked for last, or nil.
func (s *scan) asked(kind knowledge.Kind) *knowledge.Reading {
	var found *knowledge.Reading
	for _, name := range s.ctx.Asked {
		if r := s.pack.Reading(name); r != nil && r.Kind == kind {
			if found != nil && found != r {
				return nil
			}
			found = r
		}
	}
	return found
}
