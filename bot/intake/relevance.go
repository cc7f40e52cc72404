package intake

import (
	"regexp"

	"ferrule/knowledge"
)

// relevance says which readings matter for which complaint: those that the
// rules for it and the tables of its causes look at. What matters to none of
// the complaints of a case is likelier to have been misread.
type relevance map[string]map[string]bool // symptom -> reading

// dottedName finds the names of readings in an expression. One inside a quoted
// text does no harm here.
var dottedName = regexp.MustCompile(`[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*`)

func newRelevance(p *knowledge.Pack) relevance {
	of := relevance{}
	add := func(symptom string, expr string) {
		if of[symptom] == nil {
			of[symptom] = map[string]bool{}
		}
		for _, name := range dottedName.FindAllString(expr, -1) {
			of[symptom][name] = true
			if r := p.Reading(name); r != nil && r.Derived != nil {
				for _, base := range dottedName.FindAllString(r.Derived.S, -1) {
					of[symptom][base] = true
				}
			}
		}
	}
	for i := range p.Rules {
		for _, s := range p.Rules[i].For {
			add(s.S, p.Rules[i].When.S)
		}
	}
	for i := range p.Evidence {
		e := &p.Evidence[i]
		for _, g := range e.Given {
			cause := p.Cause(g.Name.S)
			if cause == nil {
				continue
			}
			for _, s := range cause.Symptoms {
				for _, b := range e.Bands {
					if b.When != nil {
						add(s.Name.S, b.When.S)
					}
				}
			}
		}
	}
	return of
}

// beside tells whether a reading matters to none of the complaints that are
// known, of the case or of this message, though the pack knows what does.
func (s *scan) beside(r *knowledge.Reading) bool {
	known := false
	for _, symptom := range s.complaintsKnown() {
		if of := s.relevance[symptom]; len(of) > 0 {
			known = true
			if of[r.Name.S] {
				return false
			}
		}
	}
	return known
}

// matters tells whether a reading matters to a complaint that is known.
func (s *scan) matters(r *knowledge.Reading) bool {
	for _, symptom := range s.complaintsKnown() {
		if s.relevance[symptom][r.Name.S] {
			return true
		}
	}
	return false
}

func (s *scan) complaintsKnown() []string {
	all := s.ctx.Symptoms
	for _, x := range s.out.Symptoms {
		all = append(all[:len(all):len(all)], x.Symptom)
	}
	return all
}
