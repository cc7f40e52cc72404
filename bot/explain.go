package bot

import (
	"fmt"
	"math"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// mostExplained is how many rules or weights an explanation shows.
const mostExplained = 4

// why shows the chain behind the newest verdict: rule, readings, threshold
// and source; where no rule holds, the evidence for the first cause.
func (t *turn) why() {
	c := t.now()
	in := t.input(c)
	a := t.bot.model.Assess(in)
	findings := append(append(a.Blockers, a.Cautions...), a.Notes...)
	for i, f := range findings {
		if i == mostExplained {
			break
		}
		t.reply.Details = append(t.reply.Details, fmt.Sprintf("Rule %s (%s): because %s. Source: %s.",
			f.Rule.Name.S, f.Rule.Kind, strings.Join(f.Because, " and "), f.Rule.Source))
	}
	if len(a.Blockers) == 0 {
		t.whyCause(a)
	}
	t.whyStep(in, a)
	switch {
	case len(t.reply.Details) == 0:
		t.reply.Headline = "Nothing is decided yet: no reading speaks for or against a cause."
	case len(a.Blockers) > 0:
		t.reply.Headline = a.Blockers[0].Says
	case len(a.Causes) > 0 && a.Causes[0].Cause != nil:
		t.reply.Headline = "First in line: " + a.Causes[0].Cause.Title + "."
	default:
		t.reply.Headline = "What it rests on:"
	}
}

func (t *turn) whyCause(a *diagnosis.Assessment) {
	for _, p := range a.Causes {
		if p.Cause == nil {
			continue
		}
		for i, w := range p.Weights {
			if i == mostExplained || math.Abs(w.Decibans) < 0.5 {
				break
			}
			t.reply.Details = append(t.reply.Details, t.weightLine(a, w))
		}
		return
	}
}

// weightLine says how strongly a table speaks for or against a cause.
func (t *turn) weightLine(a *diagnosis.Assessment, w diagnosis.Weight) string {
	program := t.bot.model.Program()
	var seen []string
	for i := range t.pack().Evidence {
		if &t.pack().Evidence[i] != w.Evidence {
			continue
		}
		for _, name := range program.EvidenceReadings(i) {
			r := t.pack().Reading(name)
			if v, _ := program.ValueOf(a.Facts(), name); r != nil && v.State == rules.Known {
				seen = append(seen, r.Title+" "+rules.Format(r, v))
			}
		}
	}
	direction := "speaks for it"
	if w.Decibans < 0 {
		direction = "speaks against it"
	}
	return fmt.Sprintf("%s: %s %s (%+.1f dB of evidence). Table %s, source: %s.",
		strings.Join(seen, ", "), strength(w.Decibans), direction, w.Decibans, w.Evidence.Name.S, w.Evidence.Source)
}

// strength puts a weight of evidence into a word.
func strength(db float64) string {
	switch db = math.Abs(db); {
	case db >= 10:
		return "strongly"
	case db >= 5:
		return "clearly"
	}
	return "slightly"
}

// whyStep says what the open question would decide.
func (t *turn) whyStep(in diagnosis.Input, a *diagnosis.Assessment) {
	s := t.bot.model.Next(in, a)
	if s.Kind != diagnosis.Measure {
		return
	}
	names := make([]string, len(s.Readings))
	for i, r := range s.Readings {
		names[i] = r.Title
	}
	what := strings.Join(names, ", ")
	switch {
	case s.Rule != nil:
		t.reply.Details = append(t.reply.Details, fmt.Sprintf("I ask for %s because it decides the rule %s (%s). Source: %s.", what, s.Rule.Name.S, s.Rule.When.S, s.Rule.Source))
	case s.Evidence != nil:
		t.reply.Details = append(t.reply.Details, fmt.Sprintf("I ask for %s because it tells the causes apart best for its minutes (table %s, source: %s).", what, s.Evidence.Name.S, s.Evidence.Source))
	}
}

// more lists what is still possible, with figures.
func (t *turn) more() {
	c := t.now()
	a := t.bot.model.Assess(t.input(c))
	for _, f := range a.Blockers {
		t.reply.Details = append(t.reply.Details, "Certain: "+f.Says)
	}
	for i, p := range a.Causes {
		if i == 6 || p.Probability < 0.01 {
			break
		}
		if p.Cause == nil {
			t.reply.Details = append(t.reply.Details, fmt.Sprintf("%2.0f %% something else", 100*p.Probability))
			continue
		}
		t.reply.Details = append(t.reply.Details, fmt.Sprintf("%2.0f %% %s (about %.0f min)", 100*p.Probability, p.Cause.Title, p.Cause.Fix.Minutes))
	}
	t.reply.Headline = "What it could be, from what is known:"
	if len(t.reply.Details) == 0 {
		t.reply.Headline = "Tell me what is wrong first; then I can say what it could be."
	}
}

func formatStored(r *knowledge.Reading, v rules.Value, s store.Reading) string {
	switch s.State {
	case stateUnavailable:
		return "not to be had"
	case stateQuestioned:
		return "“" + s.Words + "”, questioned: " + s.Reason
	}
	out := rules.Format(r, v)
	if v.Certainty < 1 {
		out += ", not sure"
	}
	if s.State == stateConflicting {
		out += ", contradicted"
	}
	return out
}
