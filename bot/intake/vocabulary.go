package intake

import (
	"math"

	"ferrule/knowledge"
)

// addVocabulary works out which words belong to which number: those of its
// title and its names, each the more the fewer numbers share it.
func (l *lexicon) addVocabulary(p *knowledge.Pack) {
	l.vocabulary = map[*knowledge.Reading]map[int32]float64{}
	count := map[int32]float64{}
	for i := range p.Readings {
		r := &p.Readings[i]
		if r.Kind != knowledge.Number || r.Words == nil && r.Ask == "" {
			continue
		}
		v := map[int32]float64{}
		note := func(phrase string, language int) {
			needs, _, _ := l.concepts.needs(phrase, language)
			for _, id := range needs {
				v[id] = 1
			}
		}
		note(r.Title, titleLanguage)
		for n, language := range knowledge.Languages {
			for _, phrase := range r.Words[language] {
				note(phrase, n)
			}
		}
		for id := range v {
			count[id]++
		}
		l.vocabulary[r] = v
	}
	n := float64(len(l.vocabulary) + 1)
	for _, v := range l.vocabulary {
		for id := range v {
			v[id] = math.Log(n/count[id]) / 2
		}
	}
}
