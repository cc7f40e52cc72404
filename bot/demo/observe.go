package demo

import (
	"fmt"

	"ferrule/knowledge"
	"ferrule/rules"
)

// mostObserved is how many tables a technician looks at in a case.
const mostObserved = 4

// observations are examples of what a technician sees with the cause at hand:
// for a few tables that know the cause, a band drawn from its row, and the
// example of that band.
func (s *story) observations() []*knowledge.Example {
	var out []*knowledge.Example
	start := s.rand.IntN(max(1, len(s.pack.Evidence)))
	for k := range s.pack.Evidence {
		e := &s.pack.Evidence[(start+k)%len(s.pack.Evidence)]
		if len(out) == mostObserved {
			break
		}
		for _, g := range e.Given {
			if g.Name.S != s.v.cause {
				continue
			}
			band := 1 + draw(s.rand.Float64(), g.Value)
			for i := range e.Examples {
				if e.Examples[i].Band == band {
					out = append(out, &e.Examples[i])
					break
				}
			}
		}
	}
	return out
}

// draw returns the place in a row of probabilities that x falls into.
func draw(x float64, row []float64) int {
	for i, p := range row {
		if x -= p; x < 0 {
			return i
		}
	}
	return len(row) - 1
}

// measure tells the readings of an example in a message.
func (s *story) measure(e *knowledge.Example) {
	for _, given := range e.Readings {
		r := s.pack.Reading(given.Name.S)
		if r == nil || !r.Askable() || r.Kind == knowledge.Version {
			continue
		}
		v, err := s.program.ParseValue(r, given.Value)
		if err != nil || v.State != rules.Known {
			continue
		}
		text := fmt.Sprintf("%s %s", r.Title, rules.Format(r, v))
		s.reading(r, v, text, s.message(text))
	}
}
