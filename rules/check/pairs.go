package check

import (
	"cmp"
	"math"
	"slices"

	"ferrule/knowledge"
)

// Pair are two causes that explain the same complaint, and the table that
// tells them apart best.
type Pair struct {
	A, B     string
	Symptoms []string // that both explain
	Evidence string   // "" where no table tells them apart
	Band     int      // from 1
	Ratio    float64  // of the probabilities of that band, 1 or more
}

const (
	// LeastRatio is what two neighbours have to differ by in some band.
	LeastRatio = 3.0
	// leastShare is how often at least one of the two has to be seen in that
	// band: a band that is hardly ever seen tells nothing in practice.
	leastShare = 0.3
)

// Pairs lists all pairs of causes that share a complaint, the weakest first.
func Pairs(p *knowledge.Pack) []Pair {
	var out []Pair
	for i := range p.Causes {
		for j := range p.Causes[:i] {
			a, b := &p.Causes[j], &p.Causes[i]
			shared := sharedSymptoms(a, b)
			if len(shared) == 0 {
				continue
			}
			pair := Pair{A: a.Name.S, B: b.Name.S, Symptoms: shared, Ratio: 1}
			for k := range p.Evidence {
				pair.consider(&p.Evidence[k])
			}
			out = append(out, pair)
		}
	}
	slices.SortStableFunc(out, func(x, y Pair) int { return cmp.Compare(x.Ratio, y.Ratio) })
	return out
}

func sharedSymptoms(a, b *knowledge.Cause) []string {
	var out []string
	for _, s := range a.Symptoms {
		if slices.ContainsFunc(b.Symptoms, func(o knowledge.Named[float64]) bool { return o.Name.S == s.Name.S }) {
			out = append(out, s.Name.S)
		}
	}
	return out
}

// consider takes a table if it tells the pair apart better than those before.
func (x *Pair) consider(e *knowledge.Evidence) {
	a, named := rowOf(e, x.A)
	b, namedB := rowOf(e, x.B)
	if !named && !namedB {
		return
	}
	for band := range a {
		if band >= len(b) || max(a[band], b[band]) < leastShare {
			continue
		}
		if ratio := math.Exp(math.Abs(math.Log(a[band] / b[band]))); ratio > x.Ratio {
			x.Evidence, x.Band, x.Ratio = e.Name.S, band+1, ratio
		}
	}
}

// rowOf is the row of a cause, or that of all others.
func rowOf(e *knowledge.Evidence, cause string) (row []float64, named bool) {
	for _, g := range e.Given {
		if g.Name.S == cause {
			return g.Value, true
		}
	}
	return e.Otherwise, false
}
