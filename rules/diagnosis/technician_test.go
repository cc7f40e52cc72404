package diagnosis

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis/plan"
)

// Simulated technicians on the starter pack: a cause is drawn from the priors,
// and what is looked at is drawn from the rows of the tables, with readings that
// can't be taken and readings that are wrong. Three ways of working are compared
// by the minutes until the fault is mended or handed over.

// world is what a simulated technician meets.
type world struct {
	name       string
	missing    float64 // share of readings that can't be taken
	wrong      float64 // share of readings that are any band at all
	tilt       float64 // by how much the odds of the rows are off, a factor
	correlated float64 // share of places where one looks at the wrong thing
	double     float64 // share of cases with two faults
}

var worlds = []world{
	{name: "as the model says", missing: 0.10, wrong: 0.03},
	{name: "odds off by a factor of two", missing: 0.10, wrong: 0.03, tilt: 2},
	{name: "correlated readings", missing: 0.10, wrong: 0.03, correlated: 0.25},
	{name: "one case in ten with two faults", missing: 0.10, wrong: 0.03, double: 0.10},
}

// visit is one simulated case.
type visit struct {
	m       *Model
	truth   *Model // whose rows the readings are drawn from
	w       world
	rng     *rand.Rand
	symptom string
	faults  []int // causes; -1 is something else
	blind   map[int]bool

	in      Input
	a       *Assessment
	done    map[string]bool // tests that were made
	minutes float64
	ready   uint16
	place   int
}

func (v *visit) reset(base *Assessment, faults []int) {
	v.in = Input{Symptoms: []string{v.symptom}}
	v.a = &Assessment{facts: base.facts, sure: base.sure, verdict: base.verdict, strict: base.strict}
	v.a.seen = seen{slices.Clone(base.seen.bands), slices.Clone(base.seen.certainty), slices.Clone(base.seen.rules)}
	v.faults, v.done, v.minutes, v.ready, v.place = slices.Clone(faults), map[string]bool{}, 0, 0, 0
	v.m.reassess(v.in, v.a)
}

// reassess computes the probabilities anew from what was seen.
func (m *Model) reassess(in Input, a *Assessment) {
	a.Causes, a.posterior = nil, nil
	m.posterior(in, a)
}

// pay adds the minutes of an action and of getting there.
func (v *visit) pay(minutes float64, at plan.Spot) {
	v.minutes += minutes
	if at.Place != 0 && at.Place != v.place {
		v.minutes += walkMinutes
		v.place = at.Place
	}
	for i, cost := range setupMinutes() {
		if bit := uint16(1) << i; at.Setups&bit != 0 && v.ready&bit == 0 {
			v.minutes += cost
			v.ready |= bit
		}
	}
}

// look makes a test and notes what it shows.
func (v *visit) look(c candidate) {
	minutes := float64(askMinutes)
	for _, name := range c.needs {
		minutes += v.m.pack.Reading(name).Minutes
	}
	v.pay(minutes, v.m.spotOfNeeds(c.needs))
	v.done[nameOf(c)] = true
	if v.rng.Float64() < v.w.missing {
		return
	}
	if c.rule != nil {
		v.lookAtRule(c.rule)
		return
	}
	mask := v.a.seen.bands[c.table]
	v.a.seen.bands[c.table] = 1 << v.draw(c.table, mask)
}

func nameOf(c candidate) string {
	if c.rule != nil {
		return "rule " + c.rule.Name.S
	}
	return "table " + c.evidence.Name.S
}

func (v *visit) lookAtRule(r *knowledge.Rule) {
	i := slices.IndexFunc(v.m.pack.Rules, func(x knowledge.Rule) bool { return x.Name.S == r.Name.S })
	holds := slices.ContainsFunc(v.faults, func(f int) bool { return f >= 0 && v.m.pack.Causes[f].Name.S == r.Cause.S }) &&
		v.rng.Float64() < 1/float64(len(v.m.blockers[r.Cause.S]))
	if v.rng.Float64() < v.w.wrong {
		holds = !holds
	}
	v.a.seen.rules[i] = rules.False
	if holds {
		v.a.seen.rules[i] = rules.True
	}
}

// draw is the band that a table shows.
func (v *visit) draw(t int, mask uint32) int {
	tb := &v.truth.tables[t]
	row := tb.otherwise
	fault := v.faults[v.rng.IntN(len(v.faults))]
	if fault >= 0 && !v.blind[t] {
		row = tb.row(fault)
	}
	var bands []int
	var weights []float64
	for b := range row {
		if mask&(1<<b) != 0 {
			bands = append(bands, b)
			weights = append(weights, row[b])
		}
	}
	if v.rng.Float64() < v.w.wrong {
		return bands[v.rng.IntN(len(bands))]
	}
	x, total := v.rng.Float64(), 0.0
	for _, q := range weights {
		total += q
	}
	for i, q := range weights {
		if x -= q / total; x < 0 {
			return bands[i]
		}
	}
	return bands[len(bands)-1]
}

// mend makes a repair; true ends the visit.
func (v *visit) mend(cause int) bool {
	c := &v.m.pack.Causes[cause]
	v.pay(v.m.repairCost(cause), spot(c.Fix.Place, c.Fix.Cautions))
	if i := slices.Index(v.faults, cause); i >= 0 && v.rng.Float64() < v.m.mends(cause) {
		v.faults = slices.Delete(v.faults, i, i+1)
		if len(v.faults) == 0 {
			return true
		}
	}
	v.in.Failed = append(v.in.Failed, c.Name.S)
	return false
}

func (v *visit) handOver() { v.minutes += handOverMinutes }

// byProbabilityOverCost mends in the order of the priors for the minutes.
func (v *visit) byProbabilityOverCost() {
	causes := slices.Clone(v.a.posterior)
	slices.SortStableFunc(causes, func(x, y posteriorEntry) int { return cmp.Compare(v.rate(y), v.rate(x)) })
	for _, e := range causes {
		if e.cause >= 0 && v.mend(e.cause) {
			return
		}
	}
	v.handOver()
}

func (v *visit) rate(e posteriorEntry) float64 {
	if e.cause < 0 {
		return 0
	}
	return e.probability / v.m.repairCost(e.cause)
}

// byChecklist takes the causes in the order of the trade's list: look at what
// tells this one best, mend it if that points to it, else go on; what was passed
// over is mended in a second round.
func (v *visit) byChecklist(order []int) {
	var passed []int
	for _, cause := range order {
		c, band, seen := v.telling(cause)
		if c != nil && !seen {
			v.look(*c)
			_, band, _ = v.telling(cause)
		}
		switch {
		case c != nil && c.rule != nil && band == 0, c != nil && c.rule == nil && !v.pointsTo(c.table, cause):
			passed = append(passed, cause)
			continue
		}
		if v.mend(cause) {
			return
		}
	}
	for _, cause := range passed {
		if v.mend(cause) {
			return
		}
	}
	v.handOver()
}

// telling is the test that tells a cause best from the others, and for a rule
// whether it holds.
func (v *visit) telling(cause int) (best *candidate, holds int, seen bool) {
	name := v.m.pack.Causes[cause].Name.S
	if blockers := v.m.blockers[name]; len(blockers) > 0 {
		r := &v.m.pack.Rules[blockers[0]]
		c := candidate{needs: v.m.program.Needs(v.a.sure, v.a.strict, blockers[0]), rule: r}
		if v.a.seen.rules[blockers[0]] == rules.True {
			holds = 1
		}
		return &c, holds, v.done[nameOf(c)]
	}
	most := 0.0
	for t := range v.m.tables {
		tb := &v.m.tables[t]
		row := tb.rows[cause]
		if row == nil || tb.parent >= 0 {
			continue
		}
		tells := 0.0
		for b := range row {
			tells += row[b] * math.Log(row[b]/tb.otherwise[b])
		}
		if tells > most {
			most = tells
			best = &candidate{needs: v.m.program.BandNeeds(v.a.facts, v.a.verdict, t), evidence: &v.m.pack.Evidence[t], table: t}
		}
	}
	return best, 0, best != nil && v.done[nameOf(*best)]
}

// pointsTo: what was seen is likelier under the cause than otherwise; what could
// not be seen is no reason to pass it over.
func (v *visit) pointsTo(t, cause int) bool {
	tb := &v.m.tables[t]
	mask := v.a.seen.bands[t]
	return sumBands(tb.row(cause), mask) >= sumBands(tb.otherwise, mask)
}

// byPlan follows the planner.
func (v *visit) byPlan(cache map[string]plan.Action) {
	const mostSteps = 80
	for range mostSteps {
		for i := range v.m.pack.Rules {
			if r := &v.m.pack.Rules[i]; r.Kind == knowledge.Blocker && v.a.seen.rules[i] == rules.True {
				v.a.seen.rules[i] = rules.False
				if v.mend(slices.IndexFunc(v.m.pack.Causes, func(c knowledge.Cause) bool { return c.Name.S == r.Cause.S })) {
					return
				}
			}
		}
		v.m.reassess(v.in, v.a)
		p := v.m.problem(v.in, v.a)
		p.Place, p.Ready = v.place, v.ready
		p.leaveOut(v.done)
		key := fmt.Sprint(v.symptom, v.in.Failed, v.a.seen.bands, v.a.seen.rules, v.place, v.ready, v.done)
		action, ok := cache[key]
		if !ok {
			best, err := p.Plan(plan.Budget)
			if err != nil {
				panic(err)
			}
			action = best.Options[0].Action
			cache[key] = action
		}
		switch action.Kind {
		case plan.DoTest:
			v.look(p.tests[action.Index])
		case plan.DoRepair:
			if v.mend(p.toMend(action.Index)) {
				return
			}
		default:
			v.handOver()
			return
		}
	}
	panic("a visit without an end")
}

// leaveOut drops tests that were made.
func (p *problem) leaveOut(done map[string]bool) {
	var tests []candidate
	var left []plan.Test
	for i, c := range p.tests {
		if !done[nameOf(c)] {
			tests, left = append(tests, c), append(left, p.Tests[i])
		}
	}
	p.tests, p.Tests = tests, left
}
