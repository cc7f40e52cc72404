package diagnosis

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis/plan"
)

// StepKind is what a step asks of the technician.
type StepKind string

// The kinds of step.
const (
	Measure StepKind = "measure"
	Repair  StepKind = "repair"
	None    StepKind = "none"
)

// Step is one next thing to do.
type Step struct {
	Kind     StepKind
	Readings []*knowledge.Reading // to measure, all at one place
	Place    knowledge.Place
	Cause    *knowledge.Cause // to repair
	Minutes  float64
	// Deciding is what the first reading is asked for: a rule that it would
	// decide or a table that it would fill; for explanations.
	Rule     *knowledge.Rule
	Evidence *knowledge.Evidence
	// Expected are the minutes until the fault is mended or handed over when
	// this is done first; 0 where nothing was weighed up.
	Expected float64
	Instead  []Alternative // what else could be done first, best first
}

// Alternative is another first step, with the minutes that it leads to.
type Alternative struct {
	Kind     StepKind
	Readings []*knowledge.Reading
	Cause    *knowledge.Cause
	Expected float64
}

const (
	mostAtOnce = 4 // readings in one step
	mostAsked  = 3 // times that a reading is asked for; who has not told it by then can't

	// A blocker is worth more than its information when candidates are picked:
	// it is certain, and what it finds has to be mended before anything else.
	// One that the technician has begun to tell of is finished first.
	certain         = 3.0
	certainAndBegun = 12.0

	// begunMatters is the share from which a cause is worth finishing for.
	begunMatters = 0.02
)

// candidate is a rule or a table that a few readings would decide.
type candidate struct {
	needs    []string
	gain     float64 // expected information about the cause, in bits
	minutes  float64
	rule     *knowledge.Rule
	begun    bool // part of what the rule needs was said
	evidence *knowledge.Evidence
	table    int // of the evidence
}

func (c candidate) rate() float64 { return c.gain / c.minutes }

// plan chooses the next step, looking at so many positions.
func (m *Model) plan(in Input, a *Assessment, positions int) (Step, error) {
	if len(a.Blockers) > 0 {
		return m.repair(m.pack.Cause(a.Blockers[0].Rule.Cause.S)), nil
	}
	if len(a.posterior) == 0 {
		return Step{Kind: None}, nil
	}
	candidates := m.candidates(in, a)
	for _, c := range candidates {
		if c.begun && a.probability(m.pack, c.rule.Cause.S) >= begunMatters {
			return m.measure(c, candidates), nil
		}
	}
	p := m.problem(in, a)
	found, err := p.Plan(positions)
	if err != nil {
		return Step{Kind: None}, fmt.Errorf("planning the next step: %w", err)
	}
	best := found.Options[0]
	s := Step{Kind: None}
	switch best.Kind {
	case plan.DoTest:
		s = m.measure(p.tests[best.Index], p.tests)
	case plan.DoRepair:
		s = m.repair(&m.pack.Causes[p.toMend(best.Index)])
	}
	s.Expected = best.Minutes
	s.Instead = m.instead(p, found.Options[1:])
	return s, nil
}

// instead are the other ways to begin.
func (m *Model) instead(p *problem, options []plan.Option) []Alternative {
	var out []Alternative
	for _, o := range options {
		alt := Alternative{Kind: None, Expected: o.Minutes}
		switch o.Kind {
		case plan.DoTest:
			alt.Kind = Measure
			for _, name := range p.tests[o.Index].needs {
				alt.Readings = append(alt.Readings, m.pack.Reading(name))
			}
		case plan.DoRepair:
			alt.Kind, alt.Cause = Repair, &m.pack.Causes[p.toMend(o.Index)]
		}
		out = append(out, alt)
	}
	return out
}

func (m *Model) repair(c *knowledge.Cause) Step {
	return Step{Kind: Repair, Cause: c, Place: c.Fix.Place, Minutes: m.repairMinutes(m.causes[c.Name.S])}
}

// candidates lists everything that can still be asked, best rate first.
func (m *Model) candidates(in Input, a *Assessment) []candidate {
	var out []candidate
	add := func(c candidate) {
		if len(c.needs) == 0 || c.gain <= 0 {
			return
		}
		if c.minutes = m.minutes(in, a, c.needs); c.minutes > 0 {
			out = append(out, c)
		}
	}
	for i := range m.pack.Rules {
		r := &m.pack.Rules[i]
		if r.Kind != knowledge.Blocker || a.seen.rules[i] != rules.Undecided || !appliesTo(r, in.Symptoms) {
			continue
		}
		if p := a.probability(m.pack, r.Cause.S); p > 0 {
			needs, weight, begun := m.program.Needs(a.sure, a.strict, i), certain, m.begun(in, i)
			if begun {
				weight = certainAndBegun
				m.begunFirst(in, needs)
			}
			add(candidate{needs: needs, gain: weight * entropy(p), rule: r, begun: begun})
		}
	}
	for t := range m.tables {
		if gain := m.gain(a, t); gain > 0 {
			add(candidate{needs: m.program.BandNeeds(a.facts, a.verdict, t), gain: gain, evidence: &m.pack.Evidence[t], table: t})
		}
	}
	slices.SortStableFunc(out, func(x, y candidate) int { // ties: pack order, so that the same case always gets the same answer
		return cmp.Compare(y.rate(), x.rate())
	})
	return out
}

// begun tells whether something of a rule was said that is not enough to
// decide it: a set in part, a hedged value, a range, or a kind instead of a
// model.
func (m *Model) begun(in Input, rule int) bool {
	return slices.ContainsFunc(m.program.RuleReadings(rule), func(name string) bool { return m.half(in, name) })
}

func (m *Model) half(in Input, name string) bool {
	r := m.pack.Reading(name)
	if r == nil || in.Observed == nil {
		return false
	}
	v := in.Observed.Get(name, rules.Subject{Class: r.Class, N: max(1, in.Focus[r.Class])})
	if v.State != rules.Known {
		return false
	}
	return v.Certainty < 1 || r.Kind == knowledge.Set || r.Kind == knowledge.Version || r.Kind == knowledge.Number && v.Low < v.High
}

// begunFirst puts readings that were half said in front.
func (m *Model) begunFirst(in Input, needs []string) {
	slices.SortStableFunc(needs, func(a, b string) int {
		switch x, y := m.half(in, a), m.half(in, b); {
		case x == y:
			return 0
		case x:
			return -1
		}
		return 1
	})
}

func (a *Assessment) probability(pack *knowledge.Pack, cause string) float64 {
	for _, e := range a.posterior {
		if e.cause >= 0 && pack.Causes[e.cause].Name.S == cause {
			return e.probability
		}
	}
	return 0
}

// entropy of a yes/no with probability p, in bits.
func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log2(p) - (1-p)*math.Log2(1-p)
}

// gain is the mutual information of the cause and the band of a table that is
// still open, in bits.
func (m *Model) gain(a *Assessment, t int) float64 {
	tb := &m.tables[t]
	mask := a.seen.bands[t]
	if mask&(mask-1) == 0 || !m.inParentBand(&a.seen, tb) {
		return 0
	}
	gain := 0.0
	for b := range tb.otherwise {
		if mask&(1<<b) == 0 {
			continue
		}
		joint := make([]float64, 0, len(a.posterior))
		total := 0.0
		for _, e := range a.posterior {
			if e.cause < 0 {
				continue
			}
			row := tb.row(e.cause)
			p := row[b] / sumBands(row, mask)
			joint = append(joint, e.probability*p)
			total += e.probability * p
		}
		k := 0
		for _, e := range a.posterior {
			if e.cause >= 0 {
				if joint[k] > 0 {
					gain += joint[k] * math.Log2(joint[k]/(total*e.probability)*a.known())
				}
				k++
			}
		}
	}
	return max(0, gain)
}

// known is the probability that the cause is one that the pack knows.
func (a *Assessment) known() float64 {
	sum := 0.0
	for _, e := range a.posterior {
		if e.cause >= 0 {
			sum += e.probability
		}
	}
	return sum
}

// minutes is what readings cost from where the technician stands; readings of
// one place share the walk. It is 0 when one of them can't be asked for, or need
// not be.
func (m *Model) minutes(in Input, a *Assessment, names []string) float64 {
	total := 0.0
	walked := map[knowledge.Place]bool{in.Place: true, knowledge.Anywhere: true, "": true}
	for _, name := range names {
		r := m.pack.Reading(name)
		if r == nil || !r.Askable() || m.settled(a, r) || in.Asked[name] >= mostAsked {
			return 0
		}
		total += r.Minutes
		if !walked[r.Place] {
			walked[r.Place] = true
			total += walkMinutes
		}
	}
	return total
}

// settled tells whether what is known already leaves nothing to ask: with
// nothing between device and hub nobody asks what stands there.
func (m *Model) settled(a *Assessment, r *knowledge.Reading) bool {
	if r.Unless == nil {
		return false
	}
	v, _ := m.program.ValueOf(a.facts, r.Unless.S)
	return v.State == rules.Known && v.Low == 1
}

// measure asks for the best candidate's readings, and with them for what else
// is worth reading at the same place.
func (m *Model) measure(best candidate, all []candidate) Step {
	s := Step{Kind: Measure, Rule: best.rule, Evidence: best.evidence}
	first := m.pack.Reading(best.needs[0])
	s.Place = first.Place
	for _, c := range all {
		if c.rate() < best.rate()/4 {
			continue
		}
		for _, name := range c.needs {
			r := m.pack.Reading(name)
			if len(s.Readings) < mostAtOnce && r.Place == s.Place && !slices.Contains(s.Readings, r) {
				s.Readings = append(s.Readings, r)
				s.Minutes += r.Minutes
			}
		}
	}
	return s
}

// Wanted are the readings that are worth having in this case, the most telling
// for their minutes first.
func (m *Model) Wanted(in Input, a *Assessment) []*knowledge.Reading {
	var out []*knowledge.Reading
	for _, c := range m.candidates(in, a) {
		for _, name := range c.needs {
			if r := m.pack.Reading(name); r != nil && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	return out
}
