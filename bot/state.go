package bot

import (
	"math"
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// The states of a reading as the store keeps them.
const (
	stateKnown       = "known"
	stateQuestioned  = "questioned"
	stateConflicting = "conflicting"
	stateUnavailable = "unavailable"
	stateStale       = "stale" // true before a repair, not any more
)

var stateNames = map[rules.State]string{
	rules.Known: stateKnown, rules.Questioned: stateQuestioned,
	rules.Conflicting: stateConflicting, rules.Unavailable: stateUnavailable,
}

// toStored turns a value into the store's plain data.
func toStored(name string, s rules.Subject, v rules.Value) *store.Reading {
	return &store.Reading{
		Name: name, Subject: s.String(), Low: finite(v.Low), High: finite(v.High), Text: v.Text,
		Has: v.Has, HasNot: v.HasNot, Certainty: v.Certainty, State: stateNames[v.State],
	}
}

// finite stores an open end as the largest number, since JSON has no infinity.
func finite(x float64) float64 { return max(-math.MaxFloat64, min(math.MaxFloat64, x)) }

// infinite is the inverse of finite.
func infinite(x float64) float64 {
	if math.Abs(x) == math.MaxFloat64 {
		return math.Copysign(math.Inf(1), x)
	}
	return x
}

// fromStored is the inverse of toStored.
func fromStored(r store.Reading) (rules.Subject, rules.Value, bool) {
	s, err := rules.ParseSubject(r.Subject)
	if err != nil {
		return s, rules.Value{}, false
	}
	v := rules.Value{Low: infinite(r.Low), High: infinite(r.High), Text: r.Text, Has: r.Has, HasNot: r.HasNot, Certainty: r.Certainty}
	for state, name := range stateNames {
		if name == r.State {
			v.State = state
		}
	}
	return s, v, true
}

// observed lays out a case's readings for the rules. Sets that were given in
// several messages add up, since each member is known by itself.
func observed(c store.Case) *rules.Observed {
	o := &rules.Observed{}
	for _, r := range c.Readings {
		if s, v, ok := fromStored(r); ok {
			o.Set(r.Name, s, v)
		}
	}
	return o
}

// focus is the subject that the conversation is about in each class: the one
// named last.
func focus(c store.Case) rules.Focus {
	f := rules.Focus{}
	for _, e := range c.Events {
		if e.Kind == store.KindNote && e.Note.Topic == topicFocus {
			if s, err := rules.ParseSubject(e.Note.Value); err == nil {
				f[s.Class] = s.N
			}
		}
	}
	return f
}

// symptoms of the case, and "other" as long as none was recognised.
func symptoms(c store.Case) []string {
	if c.Symptom == "" {
		return nil
	}
	return strings.Split(c.Symptom, ",")
}

// repairs lists the causes whose repair had a result.
func repairs(c store.Case, result string) []string {
	var out []string
	for _, s := range c.Steps {
		if s.Kind == string(diagnosis.Repair) && s.Result == result {
			out = append(out, s.Cause)
		}
	}
	return out
}

// lastStep is the step that waits for an answer.
func lastStep(c store.Case) (store.Step, bool) {
	if len(c.Steps) == 0 {
		return store.Step{}, false
	}
	return c.Steps[len(c.Steps)-1], true
}

// standing is the place where the technician was sent last.
func standing(c store.Case, p *knowledge.Pack) knowledge.Place {
	for _, s := range slices.Backward(c.Steps) {
		for _, name := range s.Readings {
			if r := p.Reading(name); r != nil && r.Place != knowledge.Anywhere {
				return r.Place
			}
		}
	}
	return ""
}

// asked counts how often each reading was the question of a step.
func asked(c store.Case) map[string]int {
	out := map[string]int{}
	for _, s := range c.Steps {
		if s.Kind == string(diagnosis.Measure) && len(s.Readings) > 0 {
			out[s.Readings[0]]++
		}
	}
	return out
}

// opened are the places at which something was read behind a lid: it is open,
// and the site on test.
func opened(c store.Case, p *knowledge.Pack) []knowledge.Place {
	var out []knowledge.Place
	for _, given := range c.Readings {
		r := p.Reading(given.Name)
		if r != nil && given.State == stateKnown && diagnosis.BehindLid(r) && !slices.Contains(out, r.Place) {
			out = append(out, r.Place)
		}
	}
	return out
}

// notes returns the values of a topic, oldest first.
func notes(c store.Case, topic string) []string {
	var out []string
	for _, e := range c.Events {
		if e.Kind == store.KindNote && e.Note.Topic == topic {
			out = append(out, e.Note.Value)
		}
	}
	return out
}

// The topics of notes.
const (
	topicFocus   = "focus"
	topicCaution = "caution_shown"
	topicClosing = "closing"
	topicSite    = "site"
	topicAsked   = "asked_site"
	topicOnTest  = "on_test_told"
	topicFile    = "file"

	topicLanguage    = "language"     // that the last message was written in
	topicLanguageSet = "language_set" // that was asked for
)

// The results of a step.
const (
	resultDone       = "done"
	resultFailed     = "failed"
	resultImpossible = "impossible"
)
