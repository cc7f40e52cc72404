package intake

import (
	"strings"

	"github.com/agnivade/levenshtein"

	"ferrule/knowledge"
)

// sense is one thing that a phrase may stand for.
type sense struct {
	kind    senseKind
	name    string // symptom, reading, model or class
	choice  string // of a choice or set reading
	negated bool   // a phrase that says no by itself
}

type senseKind uint8

const (
	aSymptom senseKind = iota
	aReading
	aChoice
	aModel
	aClass
)

// lexicon finds the phrases of the pack in a row of tokens.
type lexicon struct {
	phrases map[string][]sense
	longest int
	known   map[string]bool // every word of every phrase
	loose   []loosePhrase
}

// classWords name a subject of a class in front of its number.
var classWords = map[string]knowledge.Class{
	"kp": knowledge.Device, "keypad": knowledge.Device, "device": knowledge.Device, "detector": knowledge.Device,
	"sensor": knowledge.Device, "pir": knowledge.Device, "hub": knowledge.Hub, "module": knowledge.Module,
	"expander": knowledge.Module, "zone": knowledge.Zone, "bus": knowledge.Bus, "battery": knowledge.Battery,
	"path": knowledge.Path, "bedienteil": knowledge.Device, "melder": knowledge.Device,
}

func newLexicon(p *knowledge.Pack) *lexicon {
	l := &lexicon{phrases: map[string][]sense{}, known: map[string]bool{}}
	for i := range p.Symptoms {
		s := &p.Symptoms[i]
		l.add(s.Title, sense{kind: aSymptom, name: s.Name.S})
		l.addAll(s.Words, sense{kind: aSymptom, name: s.Name.S})
	}
	for i := range p.Readings {
		r := &p.Readings[i]
		if r.Words != nil {
			l.add(r.Title, sense{kind: aReading, name: r.Name.S})
		}
		l.addAll(r.Words, sense{kind: aReading, name: r.Name.S})
		l.addAll(r.Negative, sense{kind: aReading, name: r.Name.S, negated: true})
		if !r.Askable() {
			continue
		}
		for _, c := range r.Choices {
			s := sense{kind: aChoice, name: r.Name.S, choice: c.Name.S}
			l.add(c.Name.S, s)
			l.addAll(c.Words, s)
		}
	}
	for i := range p.Equipment {
		e := &p.Equipment[i]
		l.add(e.Model.S, sense{kind: aModel, name: e.Model.S})
		l.addAll(e.Words, sense{kind: aModel, name: e.Model.S})
	}
	return l
}

// loosePhrase is a complaint of several words, between which others may stand:
// "keypad at the back door shows nothing".
type loosePhrase struct {
	symptom string
	words   []string
}

// mostBetween is how many words may stand between those of a loose phrase.
const mostBetween = 4

// looseAt returns the token behind a loose phrase that starts at a token, or 0.
func (ph loosePhrase) looseAt(tokens []token, i, end int) int {
	next := 0
	for limit := min(end, i+len(ph.words)+mostBetween); i < limit; i++ {
		if tokens[i].text == ph.words[next] {
			if next++; next == len(ph.words) {
				return i + 1
			}
		} else if next == 0 {
			return 0
		}
	}
	return 0
}

func (l *lexicon) addAll(w knowledge.Words, s sense) {
	for _, lang := range knowledge.Languages {
		for _, phrase := range w[lang] {
			l.add(phrase, s)
		}
	}
}

func (l *lexicon) add(phrase string, s sense) {
	tokens := tokenize(phrase)
	if len(tokens) == 0 {
		return
	}
	key := join(tokens)
	for _, old := range l.phrases[key] {
		if old == s {
			return
		}
	}
	l.phrases[key] = append(l.phrases[key], s)
	l.longest = max(l.longest, len(tokens))
	if s.kind == aSymptom && len(tokens) > 1 && len(tokens[0].text) > 3 {
		ph := loosePhrase{symptom: s.name}
		for _, t := range tokens {
			ph.words = append(ph.words, t.text)
		}
		l.loose = append(l.loose, ph)
	}
	for _, t := range tokens {
		l.known[t.text] = true
	}
}

func join(tokens []token) string {
	var b strings.Builder
	for i, t := range tokens {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.text)
	}
	return b.String()
}

// hit is a phrase found: tokens first to last, the end left out.
type hit struct {
	first, last int
	senses      []sense
}

// find returns the phrases in a row of tokens, longest first from the left,
// none overlapping another.
func (l *lexicon) find(tokens []token) []hit {
	var hits []hit
	for i := 0; i < len(tokens); {
		n, senses := l.at(tokens[i:])
		if n == 0 {
			i++
			continue
		}
		hits = append(hits, hit{i, i + n, senses})
		i += n
	}
	return hits
}

func (l *lexicon) at(tokens []token) (int, []sense) {
	for n := min(l.longest, len(tokens)); n > 0; n-- {
		if senses := l.phrases[join(tokens[:n])]; senses != nil {
			return n, senses
		}
	}
	return 0, nil
}

// correct replaces words that are one slip of the finger from a word of the
// vocabulary, where just one such word is near. Numbers and short words are
// never touched.
func (l *lexicon) correct(tokens []token) {
	for i, t := range tokens {
		if t.kind != word || len(t.text) < 5 || len(t.text) > 24 || l.known[t.text] || commonWords[t.text] || l.known[strings.TrimSuffix(t.text, "s")] || l.known[strings.TrimSuffix(t.text, "es")] {
			continue
		}
		near, found := "", 0
		for w := range l.known {
			if d := len(w) - len(t.text); len(w) >= 5 && d >= -1 && d <= 1 && w[0] == t.text[0] && levenshtein.ComputeDistance(w, t.text) == 1 {
				near, found = w, found+1
			}
		}
		if found == 1 {
			tokens[i].text = near
		}
	}
}

// commonWords are plain words near a word of the trade.
var commonWords = map[string]bool{
	"there": true, "these": true, "where": true, "while": true, "would": true, "could": true, "should": true,
	"light": true, "right": true, "might": true, "after": true, "again": true, "still": true, "other": true,
}
