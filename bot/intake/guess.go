package intake

import (
	"math"

	"ferrule/knowledge"
)

// guesser tells from all words of a message together what it complains of:
// naive Bayes over what the words mean, learnt from the phrases of the pack.
type guesser struct {
	symptoms []string
	weight   map[int32][]float32 // by meaning: log P(meaning | symptom), less the mean over the symptoms
}

const (
	// ownWords is how many times the words of a complaint count against those
	// of the readings that matter for it.
	ownWords = 6.0
	// ofReports is how many times the words of whole messages count.
	ofReports = 6.0
	// unseen is the share that every word has in every complaint.
	unseen = 2.5
	// mostShared is for how many complaints a reading may matter and still tell
	// anything about which one it is.
	mostShared = 2
)

func newGuesser(p *knowledge.Pack, l *lexicon, of relevance) *guesser {
	g := &guesser{weight: map[int32][]float32{}}
	count := map[int32][]float64{}
	total := make([]float64, len(p.Symptoms))
	place := map[string]int{}
	for i := range p.Symptoms {
		g.symptoms = append(g.symptoms, p.Symptoms[i].Name.S)
		place[p.Symptoms[i].Name.S] = i
	}
	learn := func(symptoms []int, phrase string, language int, times float64) {
		needs, _, _ := l.concepts.needs(phrase, language)
		for _, id := range needs {
			if count[id] == nil {
				count[id] = make([]float64, len(total))
			}
			for _, n := range symptoms {
				count[id][n] += times / float64(len(symptoms))
				total[n] += times / float64(len(symptoms))
			}
		}
	}
	all := func(symptoms []int, w knowledge.Words, times float64) {
		for n, language := range knowledge.Languages {
			for _, phrase := range w[language] {
				learn(symptoms, phrase, n, times)
			}
		}
	}
	for i := range p.Symptoms {
		all([]int{i}, p.Symptoms[i].Words, ownWords)
		all([]int{i}, p.Symptoms[i].Reports, ofReports)
	}
	for i := range p.Readings {
		r := &p.Readings[i]
		var symptoms []int
		for name, readings := range of {
			if n, ok := place[name]; ok && readings[r.Name.S] {
				symptoms = append(symptoms, n)
			}
		}
		if len(symptoms) == 0 || len(symptoms) > mostShared {
			continue
		}
		all(symptoms, r.Words, 1)
		all(symptoms, r.Negative, 1)
		for _, c := range r.Choices {
			all(symptoms, c.Words, 1)
		}
	}
	kinds := float64(len(count) + 1)
	for id, by := range count {
		w := make([]float32, len(total))
		mean := 0.0
		for n := range total {
			x := math.Log((by[n] + unseen) / (total[n] + unseen*kinds))
			w[n] = float32(x)
			mean += x / float64(len(total))
		}
		for n := range w {
			w[n] -= float32(mean)
		}
		g.weight[id] = w
	}
	return g
}

// score adds up what the words of a message say for each complaint, in nats.
func (g *guesser) score(s *scan) []float64 {
	sum := make([]float64, len(g.symptoms))
	seen := map[int32]bool{}
	for i := range s.meant {
		for _, id := range s.meant[i].ids {
			w := g.weight[id]
			if w == nil || seen[id] {
				continue
			}
			seen[id] = true
			for n := range sum {
				sum[n] += float64(w[n]) / float64(len(s.meant[i].ids))
			}
		}
	}
	return sum
}

// words returns the tokens from the first to the last of those that say most
// for a complaint: what a guess rests on.
func (g *guesser) words(s *scan, symptom int) (first, last int) {
	const shown = 3
	var best [shown]struct {
		token int
		x     float32
	}
	for i := range s.meant {
		for _, id := range s.meant[i].ids {
			if w := g.weight[id]; w != nil {
				x := w[symptom] / float32(len(s.meant[i].ids))
				for n := range best {
					if x > best[n].x {
						copy(best[n+1:], best[n:])
						best[n].token, best[n].x = s.meant[i].token, x
						break
					}
				}
			}
		}
	}
	first = -1
	for _, b := range best {
		if b.x <= 0 {
			continue
		}
		if first < 0 {
			first, last = b.token, b.token+1
		}
		first, last = min(first, b.token), max(last, b.token+1)
	}
	return first, last
}
