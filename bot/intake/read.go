package intake

import (
	"fmt"
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules"
)

// Reader reads messages with the words of a pack. It is safe for concurrent use.
type Reader struct {
	pack    *knowledge.Pack
	lexicon *lexicon
	causes  []causeWords
}

// New returns a reader for a pack.
func New(p *knowledge.Pack) *Reader {
	return &Reader{p, newLexicon(p), newCauseWords(p)}
}

// scan is the reading of one message.
type scan struct {
	*Reader
	ctx    Context
	text   string
	tokens []token
	taken  []bool
	hits   []hit
	out    Message

	spokenOf map[knowledge.Class]int // the subject named last
}

// longestRead bounds the work for one message; what is behind is not read.
const longestRead = 64 << 10

// Read understands a text that was redacted.
func (r *Reader) Read(text string, c Context) Message {
	if len(text) > longestRead {
		text = strings.ToValidUTF8(text[:longestRead], "")
	}
	s := &scan{Reader: r, ctx: c, text: text, tokens: tokenize(text), spokenOf: map[knowledge.Class]int{}}
	s.out.Declined = declinedFor(s.words())
	s.out.Command = commandOf(s.words())
	s.visitWords()
	s.lexicon.correct(s.tokens)
	s.taken = make([]bool, len(s.tokens))
	if s.out.Command == Close || s.out.Command == OnTest || s.out.Command == OffTest || s.out.Command == NoFault {
		s.out.Cause = s.causeNamed(s.words())
		return s.out
	}
	s.hits = s.lexicon.find(s.tokens)
	for _, h := range s.hits {
		for i := h.first; i < h.last; i++ {
			s.taken[i] = true
		}
	}
	for start := 0; start < len(s.tokens); {
		end := start
		for end < len(s.tokens) && !s.clauseEnds(end) {
			end++
		}
		s.clause(start, end)
		start = end + 1
	}
	s.answer()
	s.out.Cause = s.causeNamed(s.words())
	return s.out
}

// Empty tells whether nothing at all was understood.
func (m Message) Empty() bool {
	return len(m.Symptoms) == 0 && len(m.Readings) == 0 && m.Command == NoCommand && m.Declined == "" &&
		m.Site == "" && m.Cause == "" && m.Minutes == 0 && m.Confirmed == ""
}

// words is the message as its words with single spaces.
func (s *scan) words() string { return join(s.tokens) }

// clauseEnds tells whether a token parts two clauses. A mark inside a phrase
// of the pack does not.
func (s *scan) clauseEnds(i int) bool { return s.tokens[i].ends() && !s.taken[i] }

// clause reads the tokens from start to end.
func (s *scan) clause(start, end int) {
	c := clauseOf{scan: s, start: start, end: end, certainty: 1, subject: map[knowledge.Class]int{}}
	for _, h := range s.hits {
		if h.first >= start && h.last <= end {
			c.hits = append(c.hits, h)
		}
	}
	c.hedge()
	c.subjects()
	c.symptoms()
	c.looseSymptoms()
	c.models()
	c.versions()
	c.numbers()
	c.choices()
	c.sets()
	c.yesNo()
}

// subject is the thing in this clause of a class, or the one in focus.
func (c *clauseOf) subjectOf(class knowledge.Class) rules.Subject {
	n := c.subject[class]
	if n == 0 {
		n = c.spokenOf[class] // in an earlier clause
	}
	if n == 0 {
		n = max(1, c.ctx.Focus[class])
	}
	return rules.Subject{Class: class, N: n}
}

// clauseOf is one clause of a message.
type clauseOf struct {
	*scan
	start, end int
	hits       []hit
	certainty  float64
	subject    map[knowledge.Class]int
}

var hedges = []string{
	"i think", "i believe", "i guess", "probably", "maybe", "perhaps", "might be", "should be", "not sure", "could be", "presumably", "seems",
	"ich glaube", "wahrscheinlich", "vielleicht", "chyba", "creo que", "quizás", "je crois", "peut être", "credo", "forse", "misschien", "ik denk",
}

// hedgedCertainty is how sure "I think" is.
const hedgedCertainty = 0.7

func (c *clauseOf) hedge() {
	words := " " + join(c.tokens[c.start:c.end]) + " "
	for _, h := range hedges {
		if strings.Contains(words, " "+h+" ") {
			c.certainty = hedgedCertainty
		}
	}
}

// subjects finds "kp1", "keypad 2", "zone 4": a class word with a number
// behind it that no unit follows.
func (c *clauseOf) subjects() {
	for i := c.start; i+1 < c.end; i++ {
		class, ok := classWords[c.tokens[i].text]
		next := c.tokens[i+1]
		if !ok || next.kind != number || strings.ContainsAny(next.text, ".,") || len(next.text) > 3 {
			continue
		}
		if i+2 < c.end && unitOf[c.tokens[i+2].text].unit != "" {
			continue
		}
		n, _ := parseNumber(next.text)
		if n >= 1 {
			c.subject[class] = int(n)
			c.spokenOf[class] = int(n)
			c.taken[i], c.taken[i+1] = true, true
		}
	}
}

func (c *clauseOf) symptoms() {
	for _, h := range c.hits {
		for _, s := range h.senses {
			if s.kind == aSymptom && !slices.ContainsFunc(c.out.Symptoms, func(o SymptomAt) bool { return o.Symptom == s.name }) && !c.negated(h.first, true) {
				c.out.Symptoms = append(c.out.Symptoms, SymptomAt{s.name, c.tokens[h.first].start, c.tokens[h.last-1].end})
			}
		}
	}
}

// looseSymptoms finds complaints with other words between theirs, where no
// complaint stands word by word.
func (c *clauseOf) looseSymptoms() {
	if len(c.out.Symptoms) > 0 {
		return
	}
	for i := c.start; i < c.end; i++ {
		for _, ph := range c.lexicon.loose {
			if last := ph.looseAt(c.tokens, i, c.end); last > 0 && !c.negated(i, true) {
				c.out.Symptoms = append(c.out.Symptoms, SymptomAt{ph.symptom, c.tokens[i].start, c.tokens[last-1].end})
				return
			}
		}
	}
}

// give adds a reading that rests on the tokens from first to last.
func (s *scan) give(r *knowledge.Reading, subject rules.Subject, v rules.Value, first, last int) {
	g := Given{
		Reading: r.Name.S, Subject: subject, Value: v,
		Start: s.tokens[first].start, End: s.tokens[last-1].end,
	}
	g.Text = s.text[g.Start:g.End]
	if v.State == rules.Known && r.Kind == knowledge.Number && r.Plausible != nil && (v.Low > r.Plausible.High || v.High < r.Plausible.Low) {
		g.Value.State = rules.Questioned
		g.Reason = strings.TrimSpace(fmt.Sprintf("outside %g-%g %s", r.Plausible.Low, r.Plausible.High, r.Unit))
	}
	for i, o := range s.out.Readings {
		if o.Reading == g.Reading && o.Subject == g.Subject && r.Kind == knowledge.Set {
			s.out.Readings[i] = joined(s.text, o, g)
			return
		}
		if o.Reading == g.Reading && o.Subject == g.Subject && (s.corrects(first) || sameValue(o.Value, v)) {
			s.out.Readings[i] = g
			return
		}
	}
	s.out.Readings = append(s.out.Readings, g)
}

// joined adds up what two clauses say of a set; the later word on a member
// holds.
func joined(text string, a, b Given) Given {
	for _, m := range a.Value.Has {
		if !slices.Contains(b.Value.Has, m) && !slices.Contains(b.Value.HasNot, m) {
			b.Value.Has = append(b.Value.Has, m)
		}
	}
	for _, m := range a.Value.HasNot {
		if !slices.Contains(b.Value.Has, m) && !slices.Contains(b.Value.HasNot, m) {
			b.Value.HasNot = append(b.Value.HasNot, m)
		}
	}
	b.Value.Certainty = min(a.Value.Certainty, b.Value.Certainty)
	b.Start = min(a.Start, b.Start)
	b.Text = text[b.Start:b.End]
	return b
}

func sameValue(a, b rules.Value) bool {
	return a.Low == b.Low && a.High == b.High && a.Text == b.Text && slices.Equal(a.Has, b.Has) && slices.Equal(a.HasNot, b.HasNot)
}

// corrects tells whether a word of correction stands before a token.
func (s *scan) corrects(first int) bool {
	before := " " + join(s.tokens[:first]) + " "
	for _, w := range []string{" sorry ", " sry ", " i meant ", " i mean ", " scratch that ", " correction ", " no wait ", " rather "} {
		if strings.Contains(before, w) {
			return true
		}
	}
	return false
}

// models finds models and kinds; the longest phrase won already.
func (c *clauseOf) models() {
	for _, h := range c.hits {
		for _, s := range h.senses {
			if s.kind != aModel {
				continue
			}
			e := c.pack.Model(s.name)
			r := c.pack.Reading(string(e.Class) + ".model")
			if r == nil || e.Class == knowledge.Panel && e.Generic {
				continue // "the panel" says nothing
			}
			v := rules.Named(s.name)
			v.Certainty = c.certainty
			c.give(r, c.subjectOf(e.Class), v, h.first, h.last)
			break
		}
	}
}

// reading returns the reading that a hit names, among those of some kinds.
func (c *clauseOf) reading(h hit, kinds ...knowledge.Kind) (*knowledge.Reading, bool) {
	for _, s := range h.senses {
		if s.kind == aReading {
			if r := c.pack.Reading(s.name); slices.Contains(kinds, r.Kind) {
				return r, s.negated
			}
		}
	}
	return nil, false
}

// askedFor returns the single reading of some kinds that was asked for last.
func (s *scan) askedFor(kinds ...knowledge.Kind) *knowledge.Reading {
	var found *knowledge.Reading
	for _, name := range s.ctx.Asked {
		if r := s.pack.Reading(name); r != nil && slices.Contains(kinds, r.Kind) {
			if found != nil {
				return nil
			}
			found = r
		}
	}
	return found
}

// negated tells whether a word such as no or not stands up to three words
// before a token in its clause; close only looks at the word before.
func (c *clauseOf) negated(first int, close bool) bool {
	far := 3
	if close {
		far = 1
	}
	for i := first - 1; i >= c.start && i >= first-far; i-- {
		if negations[c.tokens[i].text] {
			return true
		}
	}
	return false
}

var negations = map[string]bool{
	"no": true, "not": true, "without": true, "isnt": true, "arent": true, "never": true, "none": true, "doesnt": true, "dont": true, "wasnt": true,
	"didnt": true, "hasnt": true, "neither": true, "nor": true, "cannot": true, "cant": true, "wont": true,
	"nicht": true, "kein": true, "keine": true, "keinen": true, "ohne": true, "nie": true, "bez": true, "sin": true, "ningún": true, "pas": true, "sans": true,
	"non": true, "senza": true, "niet": true, "geen": true, "zonder": true,
}
