package intake

import (
	"strings"

	"ferrule/knowledge"
)

// layer parts the senses of phrases: the longest phrase wins within a layer,
// and layers overlap freely.
type layer uint8

const (
	speech    layer = iota // words of conversation and commands
	complaint              // symptoms
	equipment              // models and the words for classes
	name                   // what a value is given for
	answer                 // choices, members, yes and no
	concept                // words of several words that mean the same as others
	layers
)

// sense is one thing that a phrase stands for.
type sense struct {
	layer   layer
	role    role               // speech
	command Command            // speech
	symptom string             // complaint
	model   string             // equipment
	class   knowledge.Class    // equipment
	reading *knowledge.Reading // name, answer
	choice  string             // answer: the choice or the member; the command speak: the language
	no      bool               // answer: a phrase that says no by itself
	concept int32              // concept
	tongue  tongues            // the languages that say so
}

// lexicon finds phrases in a row of tokens: a trie over word numbers.
type lexicon struct {
	words  map[string]int32
	next   map[uint64]int32
	senses [][]sense // by node; node 0 is the root
	roles  []rolesIn // by word: what it is by itself
	spell  spelling
	first  map[int32]bool // words that a phrase may begin with
	tongue []tongues      // by word: the languages that have it

	concepts *concepts
	loose    looseIndex

	// vocabulary is how much each word belongs to a number that is measured.
	vocabulary map[*knowledge.Reading]map[int32]float64

	written map[int32]string // by node: the words of its phrase, where somebody wants to know
}

func newLexicon() *lexicon {
	return &lexicon{
		words: map[string]int32{}, next: map[uint64]int32{}, senses: make([][]sense, 1), roles: make([]rolesIn, 1), tongue: make([]tongues, 1),
		spell: spelling{byHash: map[uint64][]int32{}}, first: map[int32]bool{}, concepts: newConcepts(),
	}
}

func key(node, word int32) uint64 { return uint64(node)<<32 | uint64(uint32(word)) }

// id returns the number of a folded word, and gives one out if need be.
func (l *lexicon) id(w string) int32 {
	if id, ok := l.words[w]; ok {
		return id
	}
	id := int32(len(l.words) + 1)
	l.words[w] = id
	l.roles = append(l.roles, rolesIn{})
	l.tongue = append(l.tongue, 0)
	return id
}

// add puts a phrase into the lexicon in the forms in which people type it:
// as it is, without small words inside, and with hyphenated parts together.
func (l *lexicon) add(phrase string, language int, s sense) {
	s.tongue = 1 << language
	var full, short, joined []string
	tokens := tokenize(phrase)
	for i, t := range tokens {
		if t.kind == mark {
			continue
		}
		full = append(full, t.text)
		inside := len(short) > 0 && i < len(tokens)-1
		if w := l.words[t.text]; !inside || w == 0 || !l.roles[w][language].has(filler) {
			short = append(short, t.text)
		}
		if n := len(joined); n > 0 && i > 0 && tokens[i-1].text == "-" && t.kind == word && tokens[i-2].kind == word {
			joined[n-1] += t.text
		} else {
			joined = append(joined, t.text)
		}
	}
	if len(full) == 0 || len(full) == 1 && tokens[0].kind == number {
		return // a number alone means something only as an answer
	}
	if _, unit := unitsWritten[full[0]]; unit && len(full) == 1 && s.layer == name {
		return // a unit is no name: it says what any such number is in
	}
	l.put(full, s)
	if len(joined) < len(full) {
		l.put(joined, s)
	}
	if len(short) > 1 && len(short) < len(full) {
		l.put(short, s)
	}
}

func (l *lexicon) put(words []string, s sense) {
	node := int32(0)
	for i, w := range words {
		id := l.id(w)
		if i == 0 {
			l.first[id] = true
		}
		next, ok := l.next[key(node, id)]
		if !ok {
			next = int32(len(l.senses))
			l.senses = append(l.senses, nil)
			l.next[key(node, id)] = next
		}
		node = next
		if s.layer != speech {
			l.spell.learn(w, id)
		}
	}
	if l.written != nil {
		l.written[node] = strings.Join(words, " ")
	}
	for i, old := range l.senses[node] {
		if old.tongue = s.tongue; old == s {
			l.senses[node][i].tongue |= s.tongue
			return
		}
	}
	l.senses[node] = append(l.senses[node], s)
}

// addPack takes over the words of a pack.
func (l *lexicon) addPack(p *knowledge.Pack) {
	l.addConcepts(p)
	defer func() { l.loose.weigh(l.concepts.last) }()
	defer l.addVocabulary(p)
	for i := range p.Symptoms {
		s := &p.Symptoms[i]
		l.addWords(s.Title, s.Words, sense{layer: complaint, symptom: s.Name.S})
	}
	for i := range p.Equipment {
		e := &p.Equipment[i]
		l.addWords(e.Model.S, e.Words, sense{layer: equipment, model: e.Model.S, class: e.Class})
	}
	for i := range p.Readings {
		l.addReading(&p.Readings[i])
	}
}

func (l *lexicon) addReading(r *knowledge.Reading) {
	if r.Words == nil && r.Ask == "" {
		return // nobody gives it
	}
	l.addContext(r)
	named := sense{layer: name, reading: r}
	if r.Kind == knowledge.YesNo {
		named.layer = answer
		l.addWords("", r.Negative, sense{layer: answer, reading: r, no: true})
		l.addWords("", r.Words, named)
	} else {
		l.addWords(r.Title, r.Words, named)
	}
	for _, c := range r.Choices {
		l.addWords(c.Name.S, c.Words, sense{layer: answer, reading: r, choice: c.Name.S})
		if c.Title != "" {
			l.addWords(c.Title, nil, sense{layer: answer, reading: r, choice: c.Name.S})
		}
	}
}

// addContext notes the words of a question, which an answer may leave out.
func (l *lexicon) addContext(r *knowledge.Reading) {
	if l.loose.context == nil {
		l.loose.context = map[*knowledge.Reading]map[int32]bool{}
	}
	set := map[int32]bool{}
	for _, text := range []string{r.Title, r.Ask} {
		needs, _, _ := l.concepts.needs(text, titleLanguage)
		for _, id := range needs {
			set[id] = true
		}
	}
	l.loose.context[r] = set
}

func (l *lexicon) addWords(title string, w knowledge.Words, s sense) {
	if title != "" {
		l.add(title, titleLanguage, s)
		l.addLoose(title, titleLanguage, s)
		l.learnTongue(title, titleLanguage)
	}
	for n, language := range knowledge.Languages {
		for _, phrase := range w[language] {
			if strings.TrimSpace(phrase) != "" {
				phrase, asItStands := knowledge.AsItStands(phrase)
				l.add(phrase, n, s)
				if !asItStands {
					l.addLoose(phrase, n, s)
				}
				l.learnTongue(phrase, n)
			}
		}
	}
}
