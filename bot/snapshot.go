package bot

import (
	"context"
	"fmt"
	"math"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/store"
)

// Snapshot is the state of a case as a program may read it. Fields are only
// ever added.
type Snapshot struct {
	Case       store.CaseID `json:"case"`
	Symptom    string       `json:"symptom"`
	Understood []Understood `json:"understood"`
	Questioned []Understood `json:"questioned"`
	Findings   []Point      `json:"findings"`
	Causes     []CauseState `json:"causes"`
	Next       NextState    `json:"next"`
	Declined   string       `json:"declined"`
	Cautions   []string     `json:"cautions"`
	Redacted   int          `json:"redacted"`
	Pack       string       `json:"pack"`
	Reply      string       `json:"reply"`
	Messages   []*Trace     `json:"messages,omitempty"` // ask --explain: what was made of each
}

// Understood is a reading in force. A range has Low and High beside Value.
type Understood struct {
	Reading   string   `json:"reading"`
	Subject   string   `json:"subject"`
	Value     any      `json:"value"`
	Low       *float64 `json:"low,omitempty"`
	High      *float64 `json:"high,omitempty"`
	Not       []string `json:"not,omitempty"` // sets: members known to be out
	Unit      string   `json:"unit"`
	Text      string   `json:"text"`
	Certainty float64  `json:"certainty"`
	State     string   `json:"state"`
	Reason    string   `json:"reason,omitempty"`
}

// CauseState is a cause with its probability.
type CauseState struct {
	Cause       string  `json:"cause"`
	Title       string  `json:"title"`
	Probability float64 `json:"probability"`
	FixMinutes  float64 `json:"fix_minutes"`
}

// NextState is the step that the reply proposed.
type NextState struct {
	Kind     string   `json:"kind"`
	Readings []string `json:"readings"`
	Says     string   `json:"says"`
	Minutes  float64  `json:"minutes"`
	Expected float64  `json:"expected_minutes,omitempty"` // until it is mended or handed over
	Choices  []string `json:"choices"`
}

// Snapshot returns the state of the case that a reply belongs to.
func (b *Bot) Snapshot(ctx context.Context, last Reply) (Snapshot, error) {
	use := b.use.Load()
	s := Snapshot{
		Case: last.Case, Declined: last.Declined, Redacted: last.Redacted, Reply: last.Text(),
		Understood: []Understood{}, Questioned: []Understood{}, Findings: []Point{}, Causes: []CauseState{},
		Cautions: append([]string{}, last.Cautions...),
		Next:     NextState{Kind: "none", Readings: []string{}, Choices: []string{}},
		Pack:     use.model.Program().Pack().Hash,
	}
	if st := last.Step; st != nil {
		s.Next = NextState{
			Kind: st.Kind, Readings: append([]string{}, st.Readings...), Says: st.Says, Minutes: st.Minutes, Expected: st.Expected,
			Choices: append([]string{}, st.Choices...),
		}
	}
	if last.Case == 0 {
		return s, nil
	}
	c, err := b.store.Case(ctx, last.Case)
	if err != nil {
		return s, fmt.Errorf("reading case %d: %w", last.Case, err)
	}
	t := &turn{bot: b, use: use, old: c}
	s.Symptom = c.Symptom
	for _, r := range c.Readings {
		if r.State == stateStale {
			continue
		}
		u := t.understood(r)
		if r.State == stateQuestioned {
			s.Questioned = append(s.Questioned, u)
		} else {
			s.Understood = append(s.Understood, u)
		}
	}
	s.Redacted = redactions(c, last)
	a := use.model.Assess(t.input(c))
	for _, f := range append(append(a.Blockers, a.Cautions...), a.Notes...) {
		s.Findings = append(s.Findings, point(f))
	}
	for _, p := range a.Causes {
		if p.Cause != nil {
			s.Causes = append(s.Causes, CauseState{p.Name(), p.Cause.Title, p.Probability, p.Cause.Fix.Minutes})
		} else {
			s.Causes = append(s.Causes, CauseState{p.Name(), "something else", p.Probability, 0})
		}
	}
	return s, nil
}

func redactions(c store.Case, last Reply) int {
	n := 0
	for _, e := range c.Events {
		if e.Kind == store.KindMessage {
			n += e.Message.Redacted
		}
	}
	return max(n, last.Redacted)
}

func (t *turn) understood(r store.Reading) Understood {
	u := Understood{Reading: r.Name, Subject: r.Subject, Text: r.Words, Certainty: r.Certainty, State: r.State, Reason: r.Reason}
	reading := t.pack().Reading(r.Name)
	if reading == nil {
		u.Value = r.Text
		return u
	}
	u.Unit = reading.Unit
	_, v, _ := fromStored(r)
	switch reading.Kind {
	case knowledge.Number:
		u.Value, u.Low, u.High = numberValue(v)
	case knowledge.YesNo:
		u.Value = v.Low == 1
	case knowledge.Set:
		u.Value, u.Not = append([]string{}, v.Has...), v.HasNot
	default:
		u.Value = v.Text
	}
	if r.State == stateUnavailable {
		u.Value, u.Low, u.High = nil, nil, nil
	}
	return u
}

// numberValue gives a point as it is, and a range with its bounds and its
// middle, or its bound where the other end is open.
func numberValue(v rules.Value) (value any, low, high *float64) {
	lowOpen, highOpen := math.IsInf(v.Low, 0), math.IsInf(v.High, 0)
	if v.Low == v.High && !lowOpen {
		return v.Low, nil, nil
	}
	if !lowOpen {
		low = &v.Low
	}
	if !highOpen {
		high = &v.High
	}
	switch {
	case lowOpen && highOpen:
		return nil, nil, nil
	case lowOpen:
		return v.High, nil, high
	case highOpen:
		return v.Low, low, nil
	}
	return (v.Low + v.High) / 2, low, high
}
