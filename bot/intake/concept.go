package intake

import (
	"slices"
	"strings"

	"ferrule/knowledge"
)

// concepts says which words mean the same: a word counts by its stem, and a
// stem by the concepts of the pack that it belongs to, so that "bedienteil
// tot" is found by "keypad dead". Stems and concepts share one row of numbers.
type concepts struct {
	ids      map[string]int32
	of       map[stemIn][]int32 // the concepts of a stem, by language: off and offen are two
	stops    [8]map[string]bool
	negative map[string]bool
	more     map[string]bool // negations that say more than not
	last     int32
}

// stemIn is a stem as a language has it.
type stemIn struct {
	language int8
	id       int32
}

// not is the concept of all words that negate.
const not int32 = 1

func newConcepts() *concepts {
	c := &concepts{ids: map[string]int32{}, of: map[stemIn][]int32{}, negative: map[string]bool{}, more: map[string]bool{}, last: not}
	for i := range c.stops {
		c.stops[i] = map[string]bool{}
	}
	return c
}

// addStops takes over words that carry no meaning in a phrase.
func (c *concepts) addStops(w knowledge.Words) {
	for n, language := range knowledge.Languages {
		for _, phrase := range w[language] {
			for _, t := range tokenize(phrase) {
				c.stops[n][t.text] = true
			}
		}
	}
}

// addNegative takes over the words that mean not, but for those that say more.
func (c *concepts) addNegative(w knowledge.Words) {
	for _, text := range singleWords(w) {
		if !c.more[text] {
			c.negative[text] = true
		}
	}
}

// addMore takes over negations that say more than not.
func (c *concepts) addMore(w knowledge.Words) {
	for _, text := range singleWords(w) {
		c.more[text] = true
		delete(c.negative, text)
	}
}

// singleWords are the phrases of all languages that are one word, folded.
func singleWords(w knowledge.Words) []string {
	var out []string
	for _, phrases := range w {
		for _, phrase := range phrases {
			if tokens := tokenize(phrase); len(tokens) == 1 {
				out = append(out, tokens[0].text)
			}
		}
	}
	return out
}

// idOf returns the number of a stem, and gives one out if need be.
func (c *concepts) idOf(stem string) int32 {
	id, ok := c.ids[stem]
	if !ok {
		c.last++
		id = c.last
		c.ids[stem] = id
	}
	return id
}

// add takes over a concept of the pack. Its members of several words are left
// to the lexicon, which finds them as phrases; the number is that of the concept.
func (c *concepts) add(w knowledge.Words, phrase func(string, int, int32)) {
	c.last++
	concept := c.last
	for n, language := range knowledge.Languages {
		for _, member := range w[language] {
			tokens := tokenize(member)
			if len(tokens) != 1 {
				phrase(member, n, concept)
				continue
			}
			key := stemIn{int8(n), c.idOf(stemOf(tokens[0].text, language))}
			if !slices.Contains(c.of[key], concept) {
				c.of[key] = append(c.of[key], concept)
			}
		}
	}
}

// meanings appends what a word can mean to ids: nothing for a small word.
// Language is the number of the language that it is taken for, English as well.
func (c *concepts) meanings(ids []int32, folded, raw string, language int) []int32 {
	if c.negative[folded] {
		return append(ids, not)
	}
	if c.stops[language][folded] || language > 0 && c.stops[0][folded] && !c.hasStem(folded, language) {
		return ids
	}
	if rest, negates, ok := elided(raw); ok {
		if negates {
			ids = append(ids, not)
		}
		folded = rest
		if c.stops[language][folded] {
			return ids
		}
	}
	ids = c.meaning(ids, folded, language)
	if language > 0 {
		ids = c.meaning(ids, folded, 0)
	}
	return ids
}

// compound returns the two words that a German or Dutch word is put together
// from, where both are known: akkusicherung, accuzekering.
func (c *concepts) compound(folded string, language int) (left, right string, ok bool) {
	const shortest = 3
	if name := knowledge.Languages[language]; name != "de" && name != "nl" || len(folded) < 2*shortest+2 {
		return "", "", false
	}
	for i := len(folded) - shortest; i >= shortest; i-- {
		right = folded[i:]
		if !c.hasConcept(right, language) {
			continue
		}
		for _, joint := range []string{"", "s", "n", "en", "e"} {
			left, found := strings.CutSuffix(folded[:i], joint)
			if found && len(left) >= shortest && c.hasConcept(left, language) {
				return left, right, true
			}
		}
	}
	return "", "", false
}

func (c *concepts) hasConcept(folded string, language int) bool {
	id, ok := c.ids[stemOf(folded, knowledge.Languages[language])]
	return ok && len(c.of[stemIn{int8(language), id}]) > 0
}

func (c *concepts) hasStem(folded string, language int) bool {
	_, ok := c.ids[stemOf(folded, knowledge.Languages[language])]
	return ok
}

func (c *concepts) meaning(ids []int32, folded string, language int) []int32 {
	id, ok := c.ids[stemOf(folded, knowledge.Languages[language])]
	if !ok {
		return ids
	}
	if of := c.of[stemIn{int8(language), id}]; len(of) > 0 {
		for _, x := range of {
			if !slices.Contains(ids, x) {
				ids = append(ids, x)
			}
		}
		return ids
	}
	if !slices.Contains(ids, id) {
		ids = append(ids, id)
	}
	return ids
}

// needs returns what a phrase of a language needs, each once: one number for
// each of its words that carry meaning; how many of them are words and not
// digits; and whether it negates.
func (c *concepts) needs(phrase string, language int) (needs []int32, telling int, negates bool) {
	for _, t := range tokenize(phrase) {
		if t.kind != word {
			if t.kind == number {
				needs = append(needs, c.idOf(t.text))
			}
			continue
		}
		folded, raw := t.text, phrase[t.start:t.end]
		if c.negative[folded] {
			negates = true
			continue
		}
		if rest, n, ok := elided(raw); ok {
			negates = negates || n
			folded = rest
		}
		if c.stops[language][folded] {
			continue
		}
		id := c.idOf(stemOf(folded, knowledge.Languages[language]))
		if of := c.of[stemIn{int8(language), id}]; len(of) > 0 {
			id = of[0]
		}
		if !slices.Contains(needs, id) {
			needs = append(needs, id)
			telling++
		}
	}
	return needs, telling, negates
}

// languageNumber is the place of a language in knowledge.Languages, English
// where it is not known.
func languageNumber(name string) int {
	return max(0, slices.Index(knowledge.Languages, name))
}
