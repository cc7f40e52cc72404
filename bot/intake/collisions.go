package intake

import (
	"fmt"
	"slices"
	"strings"

	"ferrule/knowledge"
)

// Collisions returns the phrases of a pack that can't be told apart however a
// message puts them: one that says both yes and no, or names two answers of
// one reading, two models, two symptoms, or two numbers of the same kind of
// thing in the same unit. A phrase that two readings share is no fault where
// a unit, the thing it is about or the question asked can decide.
func Collisions(p *knowledge.Pack) knowledge.Problems {
	l := newLexicon()
	l.written = map[int32]string{}
	l.addPack(p)
	var problems knowledge.Problems
	seen := map[string]bool{}
	for node, senses := range l.senses {
		for i, a := range senses {
			for _, b := range senses[i+1:] {
				wrong := clash(a, b)
				if wrong == "" || seen[wrong] {
					continue
				}
				seen[wrong] = true
				problems.Add(place(p, b), "leave the phrase to one of them", "the phrase %q %s", l.written[int32(node)], wrong)
			}
		}
	}
	slices.SortStableFunc(problems, func(a, b knowledge.Problem) int { return strings.Compare(a.Pos.String(), b.Pos.String()) })
	return problems
}

// clash says what is wrong with two senses of one phrase, or "".
func clash(a, b sense) string {
	if a.layer != b.layer {
		return ""
	}
	switch a.layer {
	case complaint:
		return differ(a.symptom, b.symptom, "stands for the symptoms %s and %s")
	case equipment:
		return differ(a.model, b.model, "names the models %s and %s")
	case answer:
		switch {
		case a.reading != b.reading:
			return ""
		case a.reading.Kind == knowledge.YesNo && a.no != b.no:
			return "says both yes and no of " + a.reading.Name.S
		}
		return differ(a.choice, b.choice, "names the answers %s and %s of "+a.reading.Name.S)
	case name:
		x, y := a.reading, b.reading
		if x == y || x.Kind != knowledge.Number || y.Kind != knowledge.Number || x.Unit != y.Unit || x.Class != y.Class {
			return ""
		}
		return differ(x.Name.S, y.Name.S, "names the readings %s and %s, which have the same unit")
	}
	return ""
}

func differ(a, b, format string) string {
	if a == b || a == "" || b == "" {
		return ""
	}
	return fmt.Sprintf(format, a, b)
}

func place(p *knowledge.Pack, s sense) knowledge.Pos {
	switch s.layer {
	case complaint:
		return p.Symptom(s.symptom).At
	case equipment:
		return p.Model(s.model).At
	}
	return s.reading.At
}
