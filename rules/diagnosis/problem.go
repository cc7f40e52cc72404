package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"ferrule/knowledge"
	"ferrule/rules/diagnosis/plan"
)

// What getting to a place and being ready there takes, in minutes. Common
// practice, no source.
const (
	walkMinutes     = 3   // to another place on site
	ladderMinutes   = 4   // the ladder, once a visit
	onTestMinutes   = 5   // on test and off again, once a visit
	lidMinutes      = 2   // a lid, once at each place
	laterMinutes    = 15  // asking after some days whether it helped
	askMinutes      = 1   // reading a question and answering it
	handOverMinutes = 240 // the office takes over, and somebody comes again
)

// The places as the planner numbers them; 0 is anywhere.
var spots = []knowledge.Place{knowledge.Anywhere, knowledge.AtPanel, knowledge.AtDevice, knowledge.AtHub, knowledge.AtLadder, knowledge.AtOffice}

// The set-ups. Lids follow, one for each place.
const (
	ladder = iota
	onTest
	firstLid
)

// lidHazard is what a step has that opens a lid: the site has to be on test.
const lidHazard = "live_system"

// What a plan looks at. What is less telling is left to the next plan, and the
// least likely causes count together.
const (
	mostCauses = 14
	mostTests  = 12
	leastShare = 0.002
)

// problem is a case as the planner takes it, and what its numbers stand for.
type problem struct {
	plan.Problem
	causes []int // by cause of the problem; or theRest, or somethingElse
	rest   []posteriorEntry
	tests  []candidate
}

// What a cause of the problem is that is none of the pack's.
const (
	somethingElse = -1
	theRest       = -2
)

// problem lays the case out for the planner.
func (m *Model) problem(in Input, a *Assessment) *problem {
	p := &problem{}
	p.HandOver, p.Walk, p.Place = handOverMinutes, walkMinutes, spotOf(in.Place)
	p.Setups = setupMinutes()
	p.Ready = in.ready()
	m.addCauses(p, in, a)
	m.addTests(p, in, a)
	return p
}

func setupMinutes() []float64 {
	out := make([]float64, firstLid+len(spots))
	out[ladder], out[onTest] = ladderMinutes, onTestMinutes
	for i := range spots {
		out[firstLid+i] = lidMinutes
	}
	return out
}

func spotOf(place knowledge.Place) int { return max(0, slices.Index(spots, place)) }

// ready are the set-ups that are done.
func (in Input) ready() uint16 {
	var ready uint16
	if in.Place == knowledge.AtLadder {
		ready |= 1 << ladder
	}
	if in.OnTest {
		ready |= 1 << onTest
	}
	for _, place := range in.Opened {
		ready |= 1<<onTest | 1<<(firstLid+spotOf(place))
	}
	return ready
}

// spot is where something is done and what it needs.
func spot(place knowledge.Place, cautions []knowledge.Str) plan.Spot {
	s := plan.Spot{Place: spotOf(place)}
	if place == knowledge.AtLadder {
		s.Setups |= 1 << ladder
	}
	if behindLid(cautions) {
		s.Setups |= 1<<onTest | 1<<(firstLid+s.Place)
	}
	return s
}

func behindLid(cautions []knowledge.Str) bool {
	return slices.ContainsFunc(cautions, func(c knowledge.Str) bool { return c.S == lidHazard })
}

// BehindLid tells whether a reading is taken behind a lid, for which the site has
// to be on test.
func BehindLid(r *knowledge.Reading) bool { return behindLid(r.Cautions) }

// addCauses takes the likeliest causes as they are. The others become one: to
// mend it is to mend them one after the other, by probability over cost. Something
// else comes last, and nobody can mend it.
func (m *Model) addCauses(p *problem, in Input, a *Assessment) {
	entries := slices.Clone(a.posterior)
	slices.SortStableFunc(entries, func(x, y posteriorEntry) int { return cmp.Compare(y.probability, x.probability) })
	other := 0.0
	for _, e := range entries {
		switch {
		case e.cause < 0:
			other += e.probability
		case len(p.causes) == mostCauses || e.probability < leastShare:
			p.rest = append(p.rest, e)
		default:
			p.causes, p.Causes = append(p.causes, e.cause), append(p.Causes, m.planned(in, e))
		}
	}
	p.addRest(m, in)
	p.causes, p.Causes = append(p.causes, somethingElse), append(p.Causes, plan.Cause{P: other, Repair: math.Inf(1), Mends: 1})
}

// planned is a cause as the planner takes it.
func (m *Model) planned(in Input, e posteriorEntry) plan.Cause {
	c := &m.pack.Causes[e.cause]
	out := plan.Cause{P: e.probability, Repair: m.repairCost(e.cause), Mends: m.mends(e.cause), At: spot(c.Fix.Place, c.Fix.Cautions)}
	if slices.Contains(in.Failed, c.Name.S) || slices.Contains(in.Beyond, c.Name.S) {
		out.Repair = math.Inf(1)
	}
	return out
}

// addRest adds the causes that are lumped together, in the order in which they
// would be mended; those that can't be, or did not help, come last.
func (p *problem) addRest(m *Model, in Input) {
	if len(p.rest) == 0 {
		return
	}
	slices.SortStableFunc(p.rest, func(x, y posteriorEntry) int {
		return cmp.Compare(y.probability/m.planned(in, y).Repair, x.probability/m.planned(in, x).Repair)
	})
	total, elapsed, expected, mends := 0.0, 0.0, 0.0, 0.0
	for _, e := range p.rest {
		c := m.planned(in, e)
		total += e.probability
		if math.IsInf(c.Repair, 1) {
			continue
		}
		elapsed += c.Repair + walkMinutes
		expected += e.probability * elapsed
		mends += e.probability * c.Mends
	}
	lump := plan.Cause{P: total, Repair: math.Inf(1), Mends: 1}
	if mends > 0 {
		lump.Repair, lump.Mends = expected/total, mends/total
	}
	p.causes, p.Causes = append(p.causes, theRest), append(p.Causes, lump)
}

// toMend is the cause that a repair of the plan mends.
func (p *problem) toMend(index int) int {
	if cause := p.causes[index]; cause != theRest {
		return cause
	}
	return p.rest[0].cause
}

// repairMinutes are what a repair takes: as the cases say, or the pack.
func (m *Model) repairMinutes(cause int) float64 {
	c := &m.pack.Causes[cause]
	if m.learned != nil {
		if taken, ok := m.learned.Minutes(c.Name.S); ok {
			return taken.Median
		}
	}
	return c.Fix.Minutes
}

// repairCost are the minutes of a repair until one knows whether it helped.
func (m *Model) repairCost(cause int) float64 {
	if m.pack.Causes[cause].Fix.Later {
		return m.repairMinutes(cause) + laterMinutes
	}
	return m.repairMinutes(cause)
}

// mends is how often the repair mends its cause.
func (m *Model) mends(cause int) float64 {
	if m.learned != nil {
		return m.learned.Mends(m.pack.Causes[cause].Name.S)
	}
	return mendChance
}

// addTests takes those that tell most for their minutes.
func (m *Model) addTests(p *problem, in Input, a *Assessment) {
	for _, c := range m.candidates(in, a) {
		if len(p.tests) == mostTests {
			return
		}
		if !m.concerns(p, c) {
			continue
		}
		t := plan.Test{Minutes: askMinutes, Given: m.outcomes(p, a, c), At: m.spotOfNeeds(c.needs)}
		for _, name := range c.needs {
			t.Minutes += m.pack.Reading(name).Minutes
		}
		p.tests, p.Tests = append(p.tests, c), append(p.Tests, t)
	}
}

// concernsShare is the share of the probability that a table has to know of.
const concernsShare = 0.15

// concerns tells whether a test is about what is looked for: a table that knows
// hardly any of the causes says nothing about the others but that they are others,
// and asking for it puzzles people.
func (m *Model) concerns(p *problem, c candidate) bool {
	if c.rule != nil {
		return true
	}
	share := 0.0
	for i, cause := range p.causes {
		if cause >= 0 && m.tables[c.table].rows[cause] != nil {
			share += p.Causes[i].P
		}
	}
	return share >= concernsShare
}

// spotOfNeeds is where the readings of a candidate are taken: the place of the
// first that needs a walk, with the set-ups of all.
func (m *Model) spotOfNeeds(needs []string) plan.Spot {
	var out plan.Spot
	for _, name := range needs {
		r := m.pack.Reading(name)
		s := spot(r.Place, r.Cautions)
		if out.Place == 0 {
			out.Place = s.Place
		}
		out.Setups |= s.Setups
	}
	return out
}

// outcomes are the probabilities of what a candidate can show, by cause of the
// problem.
func (m *Model) outcomes(p *problem, a *Assessment, c candidate) [][]float64 {
	row := func(cause int) []float64 { return m.ruleRow(c.rule, cause) }
	if c.rule == nil {
		tb, mask := &m.tables[c.table], a.seen.bands[c.table]
		row = func(cause int) []float64 { return within(tb.row(cause), mask) }
	}
	given := make([][]float64, len(p.causes))
	var all mixture
	for i, cause := range p.causes {
		switch cause {
		case somethingElse:
			given[i] = all.mean() // comes last
		case theRest:
			var rest mixture
			for _, e := range p.rest {
				rest.add(e.probability, row(e.cause))
			}
			given[i] = rest.mean()
			all.add(p.Causes[i].P, given[i])
		default:
			given[i] = row(cause)
			all.add(p.Causes[i].P, given[i])
		}
	}
	return given
}

// mixture is a mean of rows by their weights.
type mixture struct {
	sum    []float64
	weight float64
}

func (x *mixture) add(weight float64, row []float64) {
	for len(x.sum) < len(row) {
		x.sum = append(x.sum, 0)
	}
	for b, q := range row {
		x.sum[b] += weight * q
	}
	x.weight += weight
}

func (x *mixture) mean() []float64 {
	out := slices.Clone(x.sum)
	for b := range out {
		out[b] /= x.weight
	}
	return out
}

// within is a row over the bands that are still possible.
func within(row []float64, mask uint32) []float64 {
	var out []float64
	sum := sumBands(row, mask)
	for b, q := range row {
		if mask&(1<<b) != 0 {
			out = append(out, q/sum)
		}
	}
	return out
}

// ruleRow: a blocker is true under its cause, as often as one of the cause's
// blockers is, and false under every other.
func (m *Model) ruleRow(r *knowledge.Rule, cause int) []float64 {
	if m.pack.Causes[cause].Name.S != r.Cause.S {
		return []float64{1, 0}
	}
	share := 1 / float64(len(m.blockers[r.Cause.S]))
	return []float64{1 - share, share}
}
