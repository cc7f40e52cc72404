package bot

import (
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules/diagnosis"
	"ferrule/rules/diagnosis/learn"
	"ferrule/store"
)

// Lesson is what a closed case teaches; false for one that is open, or that came
// back and so was not what it seemed.
func (p *Prepared) Lesson(c store.Case) (learn.Case, bool) {
	if c.State != store.Closed || c.Outcome == nil || c.Outcome.Reopened {
		return learn.Case{}, false
	}
	in := diagnosis.Input{Symptoms: symptoms(c), Observed: observed(c), Focus: focus(c)}
	out := learn.Case{
		ID: uint64(c.ID), Closed: c.Closed, Symptoms: in.Symptoms, Equipment: equipment(c), Cause: c.Outcome.Cause,
		Confirmed: c.Outcome.Confirmed, Bands: p.model.Bands(p.model.Assess(in)),
	}
	if out.Cause == noFault {
		out.Cause = learn.SomethingElse
	}
	for _, s := range c.Steps {
		if s.Kind != string(diagnosis.Repair) || s.Result != resultDone && s.Result != resultFailed {
			continue
		}
		tried := learn.Tried{Cause: s.Cause, Mended: s.Result == resultDone && s.Cause == out.Cause}
		if tried.Mended {
			tried.Minutes = c.Outcome.Minutes
		}
		if !slices.ContainsFunc(out.Repairs, func(t learn.Tried) bool { return t.Cause == tried.Cause && t.Mended == tried.Mended }) {
			out.Repairs = append(out.Repairs, tried)
		}
	}
	return out, len(out.Symptoms) > 0
}

// equipment is the model that a case is about: the device's, else the hub's or
// the panel's.
func equipment(c store.Case) string {
	for _, name := range []string{"device.model", "hub.model", "panel.model"} {
		for _, r := range slices.Backward(c.Readings) {
			if r.Name == name && r.State == stateKnown {
				return strings.TrimSpace(r.Text)
			}
		}
	}
	return ""
}

// Forecast is what a pack with learned numbers thinks of a case that was closed,
// from what was seen in it.
func (p *Prepared) Forecast(c learn.Case) learn.Forecast {
	f := learn.Forecast{Probabilities: p.model.Forecast(c.Symptoms, c.Equipment, c.Bands), True: c.Cause}
	for _, tried := range c.Repairs {
		f.Minutes += tried.Minutes
	}
	return f
}

// Pack is the pack that was prepared.
func (p *Prepared) Pack() *knowledge.Pack { return p.model.Program().Pack() }

// With returns the same pack with the numbers that the team's cases taught; nil
// takes them away.
func (p *Prepared) With(numbers *learn.Numbers) *Prepared {
	return &Prepared{diagnosis.New(p.model.Program(), numbers), p.reader}
}
