package intake

// match is a phrase of one layer: tokens first to last, the end left out.
type match struct {
	first, last int
	words       int // of the phrase; small words in between do not count
	gap         int // a subject's number inside it ("hub 2 fw"), or -1
	senses      []sense
	dropped     bool
}

// has tells whether the match has a role.
func (m *match) has(r role) bool {
	for i := range m.senses {
		if m.senses[i].role == r {
			return true
		}
	}
	return false
}

// matches are the phrases of a message by layer, from left to right.
type matches struct {
	by [layers][]match
	at [layers][]int32 // by token: the number of the match that covers it, plus 1
}

// mostSteps bounds the search from one token.
const mostSteps = 96

// mostSkipped is how many small words may stand between two of a phrase.
const mostSkipped = 2

// finder walks the trie from one token.
type finder struct {
	*lexicon
	tokens []token
	spoken tongues
	steps  int
	best   [layers]match
}

func (l *lexicon) find(tokens []token, spoken tongues) *matches {
	found := &matches{}
	var free [layers]int
	f := finder{lexicon: l, tokens: tokens, spoken: spoken}
	for i := range tokens {
		if !l.first[tokens[i].word] && !l.first[tokens[i].form] {
			continue
		}
		f.steps, f.best = 0, [layers]match{}
		f.walk(0, i, i, 0, 0, -1)
		for y := range f.best {
			if m := f.best[y]; m.words > 0 && i >= free[y] {
				free[y] = m.last
				found.by[y] = append(found.by[y], m)
			}
		}
	}
	found.cover(len(tokens))
	return found
}

// walk follows the trie from a node with the token at pos. A word may follow
// directly, or behind small words, marks that join, and one subject's number.
func (f *finder) walk(node int32, first, pos, words, skipped, gap int) {
	if f.steps++; pos >= len(f.tokens) || f.steps > mostSteps {
		return
	}
	t := &f.tokens[pos]
	if pos > first && t.line {
		return
	}
	for _, id := range [2]int32{t.word, t.form} {
		if next, ok := f.next[key(node, id)]; ok && id != 0 {
			f.note(next, match{first: first, last: pos + 1, words: words + 1, gap: gap})
			f.walk(next, first, pos+1, words+1, 0, gap)
		}
	}
	if pos == first || skipped >= mostSkipped {
		return
	}
	switch {
	case t.kind == mark && (t.text == "-" || t.text == "/" || t.text == "'"):
		f.walk(node, first, pos+1, words, skipped+1, gap)
	case t.kind == word && t.roles.has(filler):
		f.walk(node, first, pos+1, words, skipped+1, gap)
	case t.kind == number && gap < 0 && len(t.text) <= 3 && f.namesClass(first, pos):
		f.walk(node, first, pos+1, words, skipped+1, pos)
	}
}

// namesClass tells whether tokens first to pos are the word for a class, such
// as the hub in "hub 2 fw".
func (f *finder) namesClass(first, pos int) bool {
	node, ok := int32(0), false
	for i := first; i < pos; i++ {
		if node, ok = f.next[key(node, f.tokens[i].word)]; !ok {
			return false
		}
	}
	for _, s := range f.senses[node] {
		if s.layer == equipment && s.model == "" {
			return true
		}
	}
	return false
}

func (f *finder) note(node int32, m match) {
	var seen [layers]bool
	for _, s := range f.senses[node] {
		if s.layer == speech && s.tongue&f.spoken == 0 {
			continue
		}
		b := &f.best[s.layer]
		switch {
		case m.words > b.words || m.words == b.words && m.last < b.last:
			m.senses = nil
			*b = m
			seen[s.layer] = true
			b.senses = append(b.senses, s)
		case seen[s.layer]:
			b.senses = append(b.senses, s)
		}
	}
}

// cover notes which match covers each token, and drops those inside a longer
// one of another layer that say something else there.
func (m *matches) cover(n int) {
	for y := range m.by {
		m.at[y] = make([]int32, n)
		for i, x := range m.by[y] {
			for j := x.first; j < x.last; j++ {
				m.at[y][j] = int32(i + 1)
			}
		}
	}
	for y := range m.by {
		for i := range m.by[y] {
			m.by[y][i].dropped = m.overruled(layer(y), &m.by[y][i])
		}
	}
	for y := range m.by {
		kept := m.by[y][:0]
		clear(m.at[y])
		for _, x := range m.by[y] {
			if x.dropped {
				continue
			}
			kept = append(kept, x)
			for j := x.first; j < x.last; j++ {
				m.at[y][j] = int32(len(kept))
			}
		}
		m.by[y] = kept
	}
}

// covering returns the match of a layer that covers a token, or nil.
func (m *matches) covering(y layer, token int) *match {
	if token < 0 || token >= len(m.at[y]) || m.at[y][token] == 0 {
		return nil
	}
	return &m.by[y][m.at[y][token]-1]
}

// overruled tells whether a match stands inside a longer one that takes its
// meaning: the model in "keypad bus", the command in "works on a short lead".
// Names keep theirs: the signal in "signal low" is still the level.
func (m *matches) overruled(y layer, x *match) bool {
	for other := layer(0); other < layers; other++ {
		o := m.covering(other, x.first)
		if other == y || o == nil || o.words < 2 || o.words <= x.words || o.first > x.first || o.last < x.last {
			continue
		}
		switch other {
		case speech:
			if y != equipment {
				return true
			}
		case complaint:
			if y == speech {
				return true
			}
		case equipment:
			if y == speech || y == name || y == answer {
				return true
			}
		case name:
			if y == speech || y == equipment && o.gap < 0 {
				return true
			}
		case answer:
			if y == speech || y == equipment && o.gap < 0 || y == complaint && o.senses[0].no {
				return true
			}
		}
	}
	return false
}
