package intake

import (
	"ferrule/knowledge"
	"ferrule/rules"
)

// relevance says which readings matter for which complaint: those that the
// rules for it and the tables of its causes look at. What matters to none of
// the complaints of a case is likelier to have been misread.
type relevance map[string]map[string]bool // symptom -> reading

func newRelevance(program *rules.Program) relevance {
	p := program.Pack()
	of := relevance{}
	add := func(symptom string, readings []string) {
		if of[symptom] == nil {
			of[symptom] = map[string]bool{}
		}
		for _, name := range readings {
			of[symptom][name] = true
		}
	}
	for i := range p.Rules {
		for _, s := range p.Rules[i].For {
			add(s.S, program.RuleReadings(i))
		}
	}
	for i := range p.Evidence {
		for _, g := range p.Evidence[i].Given {
			cause := p.Cause(g.Name.S)
			if cause == nil {
				continue
			}
			for _, s := range cause.Symptoms {
				add(s.Name.S, program.EvidenceReadings(i))
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
