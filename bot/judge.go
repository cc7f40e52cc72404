package bot

import (
	"errors"
	"slices"
	"strings"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// input lays the case out for diagnosis.
func (t *turn) input(c store.Case) diagnosis.Input {
	return diagnosis.Input{
		Symptoms: symptoms(c), Observed: observed(c), Focus: focus(c),
		Failed: repairs(c, resultFailed), Beyond: repairs(c, resultImpossible), Equipment: equipment(c), Asked: asked(c), Place: standing(c, t.pack()), OnTest: c.OnTest != nil && c.OnTest.On, Opened: opened(c, t.pack()),
		Waiting: t.env.Waiting,
	}
}

// judge looks at the case anew and says what is wrong and what to do next.
func (t *turn) judge(msg intake.Message) {
	c := t.now()
	in := t.input(c)
	a := t.use.model.Assess(in)
	defer t.use.model.Release(a)
	for _, p := range a.Problems {
		if errors.As(p.Err, new(*rules.NoAnswer)) {
			t.bot.log.Info("a formula has no answer", "reading", p.Rule, "error", p.Err)
			continue
		}
		t.bot.log.Error("a rule could not be evaluated", "rule", p.Rule, "error", p.Err)
		t.reply.Notices = append(t.reply.Notices, t.say("rule_failed", "Rule", p.Rule))
	}
	t.findings(a)
	t.contradictions(c, a)
	if a.Apart() {
		t.reply.Notices = append(t.reply.Notices, t.say("points_apart"))
	}
	if len(in.Symptoms) == 0 && len(a.Blockers) == 0 {
		t.askSymptom()
		return
	}
	t.step(c, in, a)
	if t.reply.Headline == "" {
		t.reply.Headline = t.headline(a)
	}
	t.warnOnTest(c)
	t.askSite(c)
}

// findings stores the verdict and says what is new in it.
func (t *turn) findings(a *diagnosis.Assessment) {
	for _, group := range [][]diagnosis.Finding{a.Blockers, a.Cautions, a.Notes} {
		for _, f := range group {
			if t.knownFinding(f) {
				continue
			}
			t.event(store.Event{Kind: store.KindFinding, Finding: &store.Finding{
				Rule: f.Rule.Name.S, RuleKind: string(f.Rule.Kind), Cause: causeName(f.Rule), Says: f.Says,
				Because: f.Because, Source: f.Rule.Source, Pack: t.pack().Hash, Learned: t.learnedVersion(), Program: t.bot.version,
			}})
			t.reply.Findings = append(t.reply.Findings, point(f))
		}
	}
	if len(a.Blockers) > 0 {
		t.reply.Headline = a.Blockers[0].Says
	}
}

// learnedVersion names the learned numbers that a verdict rests on; empty is the
// pack alone.
func (t *turn) learnedVersion() string {
	if numbers := t.use.model.Learned(); numbers != nil {
		return numbers.Learned().Hash()
	}
	return ""
}

func causeName(r *knowledge.Rule) string {
	if r.Cause == nil {
		return ""
	}
	return r.Cause.S
}

func point(f diagnosis.Finding) Point {
	return Point{f.Rule.Name.S, string(f.Rule.Kind), causeName(f.Rule), f.Says, f.Because, f.Rule.Source}
}

// knownFinding tells whether the same was said before in this case.
func (t *turn) knownFinding(f diagnosis.Finding) bool {
	return slices.ContainsFunc(t.old.Findings, func(s store.Finding) bool {
		return s.Rule == f.Rule.Name.S && s.Says == f.Says
	})
}

// contradictions shows values that don't go together side by side.
func (t *turn) contradictions(c store.Case, a *diagnosis.Assessment) {
	seen := map[string]bool{}
	for _, r := range c.Readings {
		key := r.Name + "/" + r.Subject
		if r.State != stateConflicting || seen[key] {
			continue
		}
		seen[key] = true
		var values []string
		for _, o := range c.Readings {
			if o.Name == r.Name && o.Subject == r.Subject {
				values = append(values, "“"+o.Words+"”")
			}
		}
		reading := t.pack().Reading(r.Name)
		if reading == nil {
			continue
		}
		t.reply.Notices = append(t.reply.Notices, t.say("two_values", "Reading", t.title(reading), "Values", strings.Join(values, t.say("and"))))
	}
	for i := range t.pack().Readings {
		r := &t.pack().Readings[i]
		if r.Property == nil || !r.Askable() {
			continue
		}
		if v, _ := t.use.model.Program().ValueOf(a.Facts(), r.Name.S); v.State == rules.Conflicting && !seen[r.Name.S+"/"+t.focused(c, r.Class).String()] {
			t.reply.Notices = append(t.reply.Notices, t.say("not_of_model", "Reading", t.title(r)))
		}
	}
}

func (t *turn) focused(c store.Case, class knowledge.Class) rules.Subject {
	return rules.Subject{Class: class, N: max(1, focus(c)[class])}
}

// headline is the first line when no blocker holds: what it probably is, or
// what to do.
func (t *turn) headline(a *diagnosis.Assessment) string {
	s := t.reply.Step
	switch {
	case s == nil:
		return t.say("no_further_step")
	case s.Kind == string(diagnosis.Repair):
		return s.Says
	}
	return s.Says
}

func (t *turn) askSymptom() {
	t.reply.Headline = t.say("what_is_wrong")
	t.reply.Step = &Step{Kind: string(diagnosis.Measure), Says: t.reply.Headline, Choices: t.commonSymptoms()}
}

// commonSymptoms are those that most causes of the pack explain.
func (t *turn) commonSymptoms() []string {
	count := map[string]int{}
	for i := range t.pack().Causes {
		for _, s := range t.pack().Causes[i].Symptoms {
			count[s.Name.S]++
		}
	}
	var names []string
	for i := range t.pack().Symptoms {
		if s := &t.pack().Symptoms[i]; count[s.Name.S] > 0 && len(s.Words["en"]) > 0 {
			names = append(names, s.Name.S)
		}
	}
	slices.SortStableFunc(names, func(a, b string) int { return count[b] - count[a] })
	var out []string
	for _, n := range names[:min(5, len(names))] {
		out = append(out, t.symptomTitle(n))
	}
	return out
}
