package intake

import (
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"
)

// shortestSpelled is the least length of a word that typing errors are
// forgiven in: in shorter ones every slip is another word.
const shortestSpelled = 5

// spelling finds the word of the pack that an unknown word is one slip of the
// finger away from. Two words that differ in one letter, or in two that
// changed places, become equal when the right letter is left out of each; so
// the words are kept by the hashes of themselves with each letter left out.
type spelling struct {
	byHash map[uint64][]int32
	words  []string // by number
}

// learn adds a word of the pack.
func (s *spelling) learn(w string, id int32) {
	for int(id) >= len(s.words) {
		s.words = append(s.words, "")
	}
	if s.words[id] != "" || !spellable(w) {
		return
	}
	s.words[id] = w
	shortened(w, func(h uint64) {
		if !slices.Contains(s.byHash[h], id) {
			s.byHash[h] = append(s.byHash[h], id)
		}
	})
}

func spellable(w string) bool {
	if len(w) < shortestSpelled || len(w) > 32 {
		return false
	}
	for i := 0; i < len(w); i++ {
		if w[i] < 'a' || w[i] > 'z' {
			return false
		}
	}
	return true
}

// shortened calls f with the hash of the word and of the word without each of
// its letters (FNV-1a, 64 bits).
func shortened(w string, f func(uint64)) {
	for skip := -1; skip < len(w); skip++ {
		h := uint64(14695981039346656037)
		for i := 0; i < len(w); i++ {
			if i != skip {
				h = (h ^ uint64(w[i])) * 1099511628211
			}
		}
		f(h)
	}
}

// nearest returns the only word near w, or 0. Where two are near, the one that
// differs in one letter wins over one with two letters changed round; between
// equals there is no telling, unless they are forms of one word.
func (s *spelling) nearest(w string) int32 {
	if !spellable(w) || everyday[w] {
		return 0
	}
	best, cost, tie := int32(0), 3, false
	shortened(w, func(h uint64) {
		for _, id := range s.byHash[h] {
			d := slip(w, s.words[id])
			switch {
			case d > 2 || id == best:
			case d < cost:
				best, cost, tie = id, d, false
			case d == cost && !sameStem(s.words[id], s.words[best]):
				tie = true
			}
		}
	})
	if tie || cost > 2 {
		return 0
	}
	return best
}

// slip is 1 for one letter wrong, missing or too many, 2 for two neighbours
// changed round, and 3 for anything else.
func slip(a, b string) int {
	if a[0] != b[0] && len(a) < 7 {
		return 3 // the first letter is seldom wrong, and telling
	}
	switch d := levenshtein.ComputeDistance(a, b); {
	case d <= 1:
		return 1
	case d == 2 && len(a) == len(b) && swapped(a, b):
		return 2
	}
	return 3
}

func swapped(a, b string) bool {
	for i := 0; i+1 < len(a); i++ {
		if a[i] != b[i] {
			return a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
		}
	}
	return false
}

func sameStem(a, b string) bool {
	return strings.HasPrefix(a, b) && len(a)-len(b) <= 2 || strings.HasPrefix(b, a) && len(b)-len(a) <= 2
}

// everyday are plain words that are one letter away from a word of the trade.
var everyday = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(`about above after again alone along among areas aside asked based being below board bound bring broke
		brown build built calls cards cases cause chain chair check cheap child clean clear click close cloud count cover cross dated daily
		doors doubt dozen draft drawn dream dress drive early earth eight empty enter every exact extra field fight final first fixed flash
		floor force found frame fresh front fully glass goods grand great green group hands happy heard heart heavy hello holds hours house
		human ideas image inner issue items kinds known label large later learn least leave legal lever light limit lines lists lived local
		looks loose lower lunch lying maker means media mixed model month mouse mouth moved music named needs never night noted offer often
		older order other ought outer owner paint panes paper party parts peace phase phone piece place plain plane plate point pound power
		press price prime print prior proof prove quick quiet quite radio raise range rapid ready refer right rough round route scale scene
		scope sense serve seven shall shape share sharp sheet shelf shell shift shirt shock short shown sight since sites sixth skill sleep
		small smart smoke solid solve sorry sound south space spare speak speed spend split spoke staff stage stairs stand stars start state
		steam steel stick still stock stone stood store story strip stuck study style table taken talks taste taxes teach terms thank their
		there these thick thing think third those three times tired title today tools total touch tough tower track trade train treat trees
		trial tried trips truck truly trust truth twice under union until upper urban usual valid value video visit vital voice waste watch
		water weeks wheel where which while white whole whose woman world worry worse worst worth would wound write wrong wrote years young
		better become before behind beside better bought caught coming corner course during easily either enough except family figure follow
		former friend garden ground having higher inside likely listen little living longer making manage matter medium member middle minute
		moment mother moving nearby needed normal notice number office online option others outside person played please policy public pulled
		pushed rather really reason recent record remain remove repeat reply result return safely school second series should simple single
		slight slowly something sometimes special spring square start station status street strong summer supply system taking thanks though
		through ticket trying turned unable unless within without working weather whether another different customer building because`) {
		m[w] = true
	}
	return m
}()

// spell gives every word its number. A word that is not known is looked up
// without its plural ending, and then among the words that are near it.
func (l *lexicon) spellAll(tokens []token) {
	for i := range tokens {
		t := &tokens[i]
		if t.kind == mark {
			continue
		}
		if id, ok := l.words[t.text]; ok || t.kind == number {
			t.word = id
			if t.kind == word {
				t.form = l.singular(t.text)
			}
			continue
		}
		if t.word = l.singular(t.text); t.word == 0 {
			t.word = l.spell.nearest(t.text)
		}
	}
}

func (l *lexicon) singular(w string) int32 {
	n := len(w)
	switch {
	case n >= 6 && strings.HasSuffix(w, "ies"):
		if id := l.words[w[:n-3]+"y"]; id != 0 {
			return id
		}
	case n >= 5 && strings.HasSuffix(w, "es"):
		if id := l.words[w[:n-2]]; id != 0 {
			return id
		}
	}
	if n >= 4 && w[n-1] == 's' {
		if id := l.words[w[:n-1]]; id != 0 {
			return id
		}
	}
	if n >= 4 && w[n-1] != 's' {
		if id := l.words[w+"s"]; id != 0 && len(w) >= 5 {
			return id
		}
	}
	return 0
}
