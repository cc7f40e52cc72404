package intake

import (
	"math/bits"
	"unicode"

	"ferrule/knowledge"
)

// tongues is a set of languages: bit n is knowledge.Languages[n].
type tongues uint8

// learnTongue notes that a language has the words of a phrase.
func (l *lexicon) learnTongue(phrase string, language int) {
	for _, t := range tokenize(phrase) {
		if t.kind == word {
			l.tongue[l.id(t.text)] |= 1 << language
		}
	}
}

// learnTongues notes words that mean nothing else: they are no phrases.
func (l *lexicon) learnTongues(w knowledge.Words) {
	for n, language := range knowledge.Languages {
		for _, phrase := range w[language] {
			l.learnTongue(phrase, n)
		}
	}
}

// A word that only one language has speaks for it more than one that several
// share; a letter that only some languages write counts like such a word.
const votes = 840 // divided without rest by 1 to 8

// leastVotes is what a language needs to be recognised at all, and leastLead
// by how much it has to lead, in words that it has alone.
const (
	leastVotes = votes / 2
	leastLead  = votes / 8
)

// leastToSwitch is how many words it takes to change the language of a
// conversation, and they have to be ahead by one that it has alone.
const leastToSwitch = 2

// loanShare: one English word in so many is taken for a loan word.
const loanShare = 4

// letters are those that give a language away. Many people type without them.
var letters = func() map[rune]tongues {
	m := map[rune]tongues{}
	for language, own := range map[string]string{
		"de": "äöüß", "pl": "ąćęłńóśźż", "es": "áéíóúñ¿¡", "fr": "àâçèéêëîïôùûœ", "it": "àèéìòù", "nl": "éëïĳ",
	} {
		for _, r := range own {
			m[r] |= 1 << languageNumber(language)
		}
	}
	return m
}()

// language is the one that most words of the message belong to, or "" where
// that can't be told: a number, or a word that many languages share.
//
// The second result are the languages whose words of conversation count: that
// of the message, English, of which everybody uses some, and any other that
// has a word here that no other has; all where it can't be told.
func (s *scan) language() (string, tongues) {
	var count, words, alone [8]int
	for i := range s.tokens {
		t := &s.tokens[i]
		if t.kind != word {
			continue
		}
		if _, unit := unitsWritten[t.text]; t.word != 0 && !unit {
			vote(&count, s.lexicon.tongue[t.word])
			for n := range words {
				words[n] += int(s.lexicon.tongue[t.word]>>n) & 1
				if s.lexicon.tongue[t.word] == 1<<n {
					alone[n]++
				}
			}
		}
		for _, r := range s.text[t.start:t.end] {
			if set := letters[unicode.ToLower(r)]; set != 0 {
				vote(&count, set)
				break
			}
		}
	}
	spoken := tongues(1)
	for n := range count {
		if alone[n] > 0 {
			spoken |= 1 << n
		}
	}
	// English words are said everywhere, and the other way round seldom; but a
	// language that has no word here alone has to have more of the shared ones.
	full := count[0]
	count[0] -= full / loanShare
	for n := 1; n < len(knowledge.Languages); n++ {
		if alone[n] == 0 && (alone[0] > 0 || count[n] <= full) {
			count[n] = 0
		}
	}
	best, second := 0, -1
	for n := 1; n < len(knowledge.Languages); n++ {
		switch {
		case count[n] > count[best]:
			best, second = n, best
		case second < 0 || count[n] > count[second]:
			second = n
		}
	}
	if count[best] < leastVotes || count[best]-count[second] < leastLead {
		return "", 1<<len(knowledge.Languages) - 1
	}
	spoken |= 1 << best
	if s.ctx.Spoken != "" && (words[best] < leastToSwitch || count[best]-count[languageNumber(s.ctx.Spoken)] < votes) {
		return s.ctx.Spoken, spoken | 1<<languageNumber(s.ctx.Spoken)
	}
	return knowledge.Languages[best], spoken
}

func vote(count *[8]int, set tongues) {
	share := votes / max(1, bits.OnesCount8(uint8(set)))
	for ; set != 0; set &= set - 1 {
		count[bits.TrailingZeros8(uint8(set))] += share
	}
}
