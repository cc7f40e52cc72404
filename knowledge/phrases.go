package knowledge

import (
	"slices"
	"strings"
)

// Phrases are more words for something that stands elsewhere in the pack, so
// that the words of a language can be a file of its own, which somebody who
// speaks it can edit. They name one symptom, reading, choice of a reading, or
// model.
type Phrases struct {
	At       Pos   `yaml:"-"`
	Symptom  *Str  `yaml:"symptom"`
	Reading  *Str  `yaml:"reading"`
	Choice   *Str  `yaml:"choice"` // of the reading
	Model    *Str  `yaml:"model"`
	Words    Words `yaml:"words"`
	Negative Words `yaml:"negative"` // yes/no: phrases that say no by themselves
	Reports  Words `yaml:"reports"`  // symptoms: whole first messages, from which it is learnt
}

// addPhrases gives each of them to what it is for. It runs before validation,
// which then sees the words where they are used.
func (p *Pack) addPhrases(problems *Problems) {
	for i := range p.Phrases {
		f := &p.Phrases[i]
		if words, negative := p.wordsOf(f, problems); words != nil {
			words.add(f.Words)
			if f.Symptom != nil {
				p.Symptom(f.Symptom.S).Reports.add(f.Reports)
			} else if len(f.Reports) > 0 {
				problems.Add(f.At, "name a symptom", "reports: are of symptoms")
			}
			switch {
			case negative != nil:
				negative.add(f.Negative)
			case len(f.Negative) > 0:
				problems.Add(f.At, "give the words of each answer instead", "negative: is for readings that are yes/no")
			}
		}
	}
}

// wordsOf returns the words that phrases add to, or nil.
func (p *Pack) wordsOf(f *Phrases, problems *Problems) (words, negative *Words) {
	named := 0
	for _, s := range []*Str{f.Symptom, f.Reading, f.Model} {
		if s != nil {
			named++
		}
	}
	if named != 1 || f.Choice != nil && f.Reading == nil {
		problems.Add(f.At, "write one of symptom:, reading: and model:, and choice: only with reading:", "it is not clear what these words are for")
		return nil, nil
	}
	switch {
	case f.Symptom != nil:
		if s := p.Symptom(f.Symptom.S); s != nil {
			return &s.Words, nil
		}
		problems.Add(f.Symptom.Pos, nearestOrAll(f.Symptom.S, sortedKeys(p.symptoms)), "unknown symptom %q", f.Symptom.S)
	case f.Model != nil:
		if m := p.Model(f.Model.S); m != nil {
			return &m.Words, nil
		}
		problems.Add(f.Model.Pos, nearestOrAll(f.Model.S, sortedKeys(p.equipment)), "unknown model %q", f.Model.S)
	default:
		return p.wordsOfReading(f, problems)
	}
	return nil, nil
}

func (p *Pack) wordsOfReading(f *Phrases, problems *Problems) (words, negative *Words) {
	r := p.Reading(f.Reading.S)
	switch {
	case r == nil:
		problems.Add(f.Reading.Pos, DidYouMean(f.Reading.S, p.ReadingNames()), "unknown reading %q", f.Reading.S)
		return nil, nil
	case f.Choice == nil && r.Kind == YesNo:
		return &r.Words, &r.Negative
	case f.Choice == nil:
		return &r.Words, nil
	}
	for i := range r.Choices {
		if r.Choices[i].Name.S == f.Choice.S {
			return &r.Choices[i].Words, nil
		}
	}
	problems.Add(f.Choice.Pos, nearestOrAll(f.Choice.S, p.ChoiceNames(r)), "%s has no choice %q", r.Name.S, f.Choice.S)
	return nil, nil
}

// add puts the phrases behind those that are there, each once.
func (w *Words) add(more Words) {
	if len(more) > 0 && *w == nil {
		*w = Words{}
	}
	for _, language := range Languages {
		for _, phrase := range more[language] {
			same := func(old string) bool { return strings.EqualFold(old, phrase) }
			if !slices.ContainsFunc((*w)[language], same) {
				(*w)[language] = append((*w)[language], phrase)
			}
		}
	}
}
