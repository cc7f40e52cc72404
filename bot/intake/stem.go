package intake

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/dutch"
	"github.com/blevesearch/snowballstem/english"
	"github.com/blevesearch/snowballstem/french"
	"github.com/blevesearch/snowballstem/german"
	"github.com/blevesearch/snowballstem/italian"
	"github.com/blevesearch/snowballstem/spanish"
)

// stemmers take the endings off words, so that drops, dropped and dropping are
// one. The library has none for Polish.
var stemmers = map[string]func(*snowballstem.Env) bool{
	"en": english.Stem, "de": german.Stem, "es": spanish.Stem, "fr": french.Stem, "it": italian.Stem, "nl": dutch.Stem,
}

// shortestStemmed is the least length of a word that has an ending.
const shortestStemmed = 4

// stemOf returns the stem of a folded word in a language.
func stemOf(w, language string) string {
	if len(w) < shortestStemmed || len(w) > 40 {
		return w
	}
	if language == "pl" {
		return polishStem(w)
	}
	f := stemmers[language]
	if f == nil {
		return w
	}
	env := snowballstem.NewEnv(w)
	f(env)
	return env.Current()
}

// polishEndings by length, longest first. They are the common ones of nouns,
// adjectives and verbs without their accents; common practice, no source.
var polishEndings = strings.Fields(`owalismy owalem owania owaniem owanie iejsze owego owych owany owana owane owala owali owalo owac
	ujemy iecie uje uja ego emu ymi imi ami ach iem owi ych ich cie emy amy imy ala ali alo aly ila ili ilo ily
	esz asz isz ysz nie ow om em ie ia ii iu ej ym im ac ec ic yc al el il yl am a e i o u y`)

// leastPolish is how much of a word has to be left.
const leastPolish = 4

func polishStem(w string) string {
	for _, e := range polishEndings {
		if len(w)-len(e) >= leastPolish && strings.HasSuffix(w, e) {
			return w[:len(w)-len(e)]
		}
	}
	return w
}

// elided returns the folded word behind an elision (l'alarme, dell'allarme),
// and whether what stands before it negates (n'apparaît).
func elided(raw string) (rest string, negates, ok bool) {
	for i, r := range raw {
		if i > 0 && apostrophe(r) {
			rest = fold(raw[i+utf8.RuneLen(r):])
			head := fold(raw[:i])
			if first, _ := utf8.DecodeRuneInString(rest); !unicode.IsLetter(first) || len(rest) < 3 || !elisions[head] {
				return "", false, false
			}
			return rest, head == "n", true
		}
	}
	return "", false, false
}

var elisions = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields("l d n c s qu j m t jusqu lorsqu dell all nell sull dall quell un") {
		m[w] = true
	}
	return m
}()
