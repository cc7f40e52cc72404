package intake

import (
	"slices"
	"strconv"

	"ferrule/knowledge"
	"ferrule/rules"
)

// models takes the models and kinds that the message names.
func (s *scan) models() {
	for i := range s.found.by[equipment] {
		m := &s.found.by[equipment][i]
		if s.clause(m.first).conditional || s.negatedBefore(m.first) {
			continue
		}
		for _, x := range m.senses {
			if x.model != "" {
				s.model(m, s.pack.Model(x.model))
				break
			}
		}
	}
	s.specific()
}

func (s *scan) model(m *match, e *knowledge.Equipment) {
	r := s.pack.Reading(string(e.Class) + ".model")
	if s.generation(m, e) && (r == nil || !s.isAsked(r)) {
		return
	}
	if r == nil || e.Generic && e.Class == knowledge.Panel && !s.isAsked(r) {
		return // "the panel" tells nothing about it
	}
	first, last := m.first, m.last
	subject := s.subject(e.Class, m.first)
	if known := s.pack.Model(s.ctx.Models[subject]); e.Generic && known != nil && known.Kind == e.Model.S {
		return // known better already
	}
	s.give(r, subject, rules.Named(e.Model.S), first, last)
}

// generation reads "gen 1 hub": the kind of hub is what its generation says.
func (s *scan) generation(m *match, e *knowledge.Equipment) bool {
	r := s.pack.Reading(string(e.Class) + ".generation")
	if r == nil || !e.Generic || e.Generation == 0 {
		return false
	}
	for i := m.first; i < m.last; i++ {
		if s.kind(i) == number && s.tokens[i].text == strconv.Itoa(e.Generation) {
			s.give(r, s.subject(e.Class, m.first), rules.Num(float64(e.Generation)), m.first, m.last)
			return true
		}
	}
	return false
}

// specific drops a kind where the message names a model of that kind for the
// same thing: "wireless keypad (Wick-W)".
func (s *scan) specific() {
	s.out.Readings = slices.DeleteFunc(s.out.Readings, func(g Given) bool {
		e := s.pack.Model(g.Value.Text)
		if e == nil || !e.Generic {
			return false
		}
		return slices.ContainsFunc(s.out.Readings, func(o Given) bool {
			better := s.pack.Model(o.Value.Text)
			return o.Reading == g.Reading && o.Subject == g.Subject && better != nil && better.Kind == e.Model.S
		})
	})
}
