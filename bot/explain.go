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
	a := t.use.model.Assess(in)
	findings := append(append(a.Blockers, a.Cautions...), a.Notes...)
	for i, f := range findings {
		if i == mostExplained {
			break
		}
		t.reply.Details = append(t.reply.Details, t.say("because", "Rule", f.Rule.Name.S, "Kind", f.Rule.Kind,
			"Because", strings.Join(f.Because, t.say("and")), "Source", f.Rule.Source))
	}
	if len(a.Blockers) == 0 {
		t.whyCause(a)
	}
	t.whyStep(in, a)
	switch {
	case len(t.reply.Details) == 0:
		t.reply.Headline = t.say("nothing_decided")
	case len(a.Blockers) > 0:
		t.reply.Headline = a.Blockers[0].Says
	case len(a.Causes) > 0 && a.Causes[0].Cause != nil:
		t.reply.Headline = t.say("first_in_line", "Cause", a.Causes[0].Cause.Title)
	default:
		t.reply.Headline = t.say("rests_on")
	}
}

func (t *turn) whyCause(a *diagnosis.Assessment) {
	for _, p := range a.Causes {
		if p.Cause == nil {
			continue
		}
		for i, w := range t.use.model.Weights(a, p.Name()) {
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
	program := t.use.model.Program()
	var seen []string
	for i := range t.pack().Evidence {
		if &t.pack().Evidence[i] != w.Evidence {
			continue
		}
		for _, name := range program.EvidenceReadings(i) {
			r := t.pack().Reading(name)
			if v, from := program.ValueOf(a.Facts(), name); r != nil && v.State == rules.Known && from.Kind != rules.FromDefault {
				seen = append(seen, t.title(r)+" "+t.value(r, v))
			}
		}
	}
	return t.say("weight", "Seen", strings.Join(seen, ", "), "Weighs", t.say(strength(w.Decibans), "DB", fmt.Sprintf("%+.1f", w.Decibans)),
		"Table", w.Evidence.Name.S, "Source", w.Evidence.Source)
}

// strength is the key of what is said of a weight of evidence.
func strength(db float64) string {
	direction := "_for"
	if db < 0 {
		direction = "_against"
	}
	switch db = math.Abs(db); {
	case db >= 10:
		return "strongly" + direction
	case db >= 5:
		return "clearly" + direction
	}
	return "slightly" + direction
}

// whyStep says what the open question would decide.
func (t *turn) whyStep(in diagnosis.Input, a *diagnosis.Assessment) {
	s, err := t.use.model.Next(in, a)
	if err != nil {
		return
	}
	what := t.titles(s.Readings)
	switch {
	case s.Rule != nil:
		t.reply.Details = append(t.reply.Details, t.say("asks_for_rule", "Readings", what, "Rule", s.Rule.Name.S, "When", s.Rule.When.S, "Source", s.Rule.Source))
	case s.Evidence != nil:
		t.reply.Details = append(t.reply.Details, t.say("asks_for_table", "Readings", what, "Table", s.Evidence.Name.S, "Source", s.Evidence.Source))
	}
	t.whyBest(s)
}

// whyBest holds the proposed step against the other ways to begin.
func (t *turn) whyBest(s diagnosis.Step) {
	if s.Expected == 0 || s.Kind == diagnosis.None {
		return
	}
	t.reply.Details = append(t.reply.Details, t.say("plan_this", "Minutes", minutes(s.Expected)))
	shown := map[diagnosis.StepKind]int{}
	for _, other := range s.Instead {
		if shown[other.Kind]++; shown[other.Kind] > 2 {
			continue
		}
		line := ""
		switch other.Kind {
		case diagnosis.Measure:
			line = t.say("plan_measure", "Readings", t.titles(other.Readings), "Minutes", minutes(other.Expected))
		case diagnosis.Repair:
			line = t.say("plan_repair", "Cause", other.Cause.Title, "Minutes", minutes(other.Expected))
		default:
			line = t.say("plan_hand_over", "Minutes", minutes(other.Expected))
		}
		t.reply.Details = append(t.reply.Details, line)
	}
}

func (t *turn) titles(readings []*knowledge.Reading) string {
	names := make([]string, len(readings))
	for i, r := range readings {
		names[i] = t.title(r)
	}
	return strings.Join(names, ", ")
}

// more lists what is still possible, with figures.
func (t *turn) more() {
	c := t.now()
	a := t.use.model.Assess(t.input(c))
	for _, f := range a.Blockers {
		t.reply.Details = append(t.reply.Details, t.say("certain", "Says", f.Says))
	}
	for i, p := range a.Causes {
		if i == 6 || p.Probability < 0.01 {
			break
		}
		if p.Cause == nil {
			t.reply.Details = append(t.reply.Details, t.say("possible_else", "Share", share(p.Probability)))
			continue
		}
		t.reply.Details = append(t.reply.Details, t.say("possible", "Share", share(p.Probability), "Cause", p.Cause.Title, "Minutes", minutes(p.Cause.Fix.Minutes)))
	}
	t.reply.Headline = t.say("could_be")
	if len(t.reply.Details) == 0 {
		t.reply.Headline = t.say("wrong_first")
	}
}

func (t *turn) formatStored(r *knowledge.Reading, v rules.Value, s store.Reading) string {
	switch s.State {
	case stateUnavailable:
		return t.say("unavailable")
	case stateQuestioned:
		return t.say("value_questioned", "Words", s.Words)
	}
	out := t.value(r, v)
	if v.Certainty < 1 {
		out += ", " + t.say("not_sure")
	}
	if s.State == stateConflicting {
		out += ", " + t.say("contradicted")
	}
	return out
}
