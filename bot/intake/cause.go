package intake

import (
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
)

// causeIndex finds the causes of the pack by the words of their titles and
// names.
type causeIndex struct {
	causes []causeWords
	byWord map[string][]int
}

type causeWords struct {
	name  string
	title string // folded words
	words int
}

func newCauseIndex(p *knowledge.Pack) *causeIndex {
	x := &causeIndex{byWord: map[string][]int{}}
	for i := range p.Causes {
		c := &p.Causes[i]
		words := telling(c.Title + " " + strings.ReplaceAll(c.Name.S, "_", " "))
		x.causes = append(x.causes, causeWords{c.Name.S, plainText(c.Title), len(words)})
		for _, w := range words {
			x.byWord[w] = append(x.byWord[w], i)
		}
	}
	return x
}

// telling are the words of a text that tell causes apart, by their stems.
func telling(text string) []string {
	var out []string
	for _, t := range tokenize(text) {
		if t.kind != word || len(t.text) < 3 || untelling[t.text] {
			continue
		}
		if w := stem(t.text); !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

func stem(w string) string {
	for _, tail := range []string{"ing", "ed", "es", "s"} {
		if len(w) > len(tail)+3 && strings.HasSuffix(w, tail) {
			return w[:len(w)-len(tail)]
		}
	}
	return w
}

var untelling = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(`the and was too that this with not for its close closed min mins minutes hour measured gone complaint
		back swapped works now cause fix fixed done confirmed because had has been were are from which other than then unproven symptom
		proven took into who whose where there they them what when will can but how out all any fault found`) {
		m[w] = true
	}
	return m
}()

// mostCauses is how many candidates are given when none stands out.
const mostCauses = 4

// likelier is how much more the words count for the cause that the
// conversation is about.
const likelier = 8

// longestCause is how many tokens a message may have that names a cause
// without being asked to close.
const longestCause = 40

// closing reads the cause and the minutes of a closing message, or of the
// answer to the question for them.
func (s *scan) closing() {
	closes := s.out.Command == Close || s.out.Command == NoFault
	s.out.Minutes = s.minutes(closes)
	switch {
	case s.out.Command == NoFault:
		s.out.Cause = noFault
	case closes || s.ctx.Closing || len(s.tokens) <= longestCause:
		s.out.Cause, s.out.Causes = s.causeNamed(closes || s.ctx.Closing || len(s.out.Readings)+len(s.out.Symptoms) == 0)
	}
	if !closes && !s.ctx.Closing {
		s.out.Causes = nil
	}
}

func (s *scan) minutes(closes bool) float64 {
	from := s.unbound
	if closes {
		from = s.quantities
	}
	for _, q := range from {
		for _, u := range q.units {
			if u.Dimension() == units.Duration && q.low >= 0 {
				s.take(q.first, q.last)
				x, _ := u.In(units.Minute, (q.low+q.high)/2)
				return x
			}
		}
	}
	return 0
}

// causeNamed finds the cause that a message names: its title or name as a
// whole, else, if that will do, the one that shares most telling words with it.
func (s *scan) causeNamed(roughly bool) (string, []string) {
	said := " " + plainText(s.text) + " "
	for i := range s.causes.causes {
		if c := &s.causes.causes[i]; strings.Contains(said, " "+c.title+" ") || strings.Contains(s.text, c.name) && strings.Contains(c.name, "_") {
			return c.name, nil
		}
	}
	if s.saysRole(otherCause) {
		return somethingElse, nil
	}
	if !roughly {
		return "", nil
	}
	text := s.text
	if m := s.commandMatch; m != nil && m.first < m.last {
		text = s.raw(0, m.first) + " " + s.raw(m.last, len(s.tokens))
	}
	return s.causes.best(telling(text), s.ctx.Likely)
}

// best returns the cause that most of the words point to, when it stands out
// from the next; else the likeliest few. A word that few causes share weighs
// more than one that many do.
func (x *causeIndex) best(words []string, likely string) (string, []string) {
	type score struct {
		cause  int
		weight float64
		shared int
	}
	byCause := map[int]*score{}
	for _, w := range words {
		for _, i := range x.byWord[w] {
			if byCause[i] == nil {
				byCause[i] = &score{cause: i}
			}
			byCause[i].weight += 1 / float64(len(x.byWord[w])+1)
			byCause[i].shared++
		}
	}
	var scores []*score
	for i, c := range byCause {
		c.weight *= float64(c.shared) / float64(x.causes[i].words+2)
		if x.causes[i].name == likely {
			c.weight *= likelier
			c.shared++
		}
		scores = append(scores, c)
	}
	slices.SortFunc(scores, func(a, b *score) int {
		switch {
		case a.weight > b.weight:
			return -1
		case a.weight < b.weight:
			return 1
		}
		return a.cause - b.cause
	})
	if len(scores) > 0 && scores[0].shared >= 2 && (len(scores) == 1 || scores[0].weight > 1.2*scores[1].weight) {
		return x.causes[scores[0].cause].name, nil
	}
	var names []string
	for _, c := range scores[:min(mostCauses, len(scores))] {
		names = append(names, x.causes[c.cause].name)
	}
	return "", names
}
