package diagnosis_test

import (
	"flag"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"ferrule/rules/diagnosis/plan"
)

var trialLong = flag.Bool("long", false, "run the whole trial of the planner")

// The trial sets the planner against the exact optimum on random models, and
// four plainer methods beside it. The optimum comes from dynamic programming
// over everything that can have been seen and tried; what a method costs is
// summed over every branch that its choices lead to, so nothing is sampled but
// the models.
//
//	go test ./rules/diagnosis -run Trial -v             # some seconds
//	go test ./rules/diagnosis -run Trial -v -args -long # some minutes
//
// The large models take 220 MB.

// trialModel has one repair for each cause, which always mends it, and tests
// with two outcomes.
type trialModel struct {
	prior, repair []float64
	minutes       []float64
	first         [][]float64 // P(first outcome | cause) by test, then cause
}

func newTrialModel(r *rand.Rand, causes, tests int) *trialModel {
	m := &trialModel{}
	sum := 0.0
	for range causes {
		x := r.ExpFloat64() // normalised: Dirichlet with all parameters 1
		sum += x
		m.prior = append(m.prior, x)
		m.repair = append(m.repair, 5+55*r.Float64())
	}
	for i := range m.prior {
		m.prior[i] /= sum
	}
	for range tests {
		row := make([]float64, causes)
		for i := range row {
			row[i] = r.Float64()
		}
		m.minutes = append(m.minutes, 1+9*r.Float64())
		m.first = append(m.first, row)
	}
	return m
}

// trialState is what has been seen, a base-3 digit for each test (0 not done,
// 1 first outcome, 2 second), and which repairs are left.
type trialState struct {
	seen int
	left uint32
}

func trialPow3(n int) int {
	p := 1
	for range n {
		p *= 3
	}
	return p
}

func (s trialState) digit(test int) int { return s.seen / trialPow3(test) % 3 }

func (s trialState) after(test, outcome int) trialState {
	return trialState{s.seen + (outcome+1)*trialPow3(test), s.left}
}

func (s trialState) without(cause int) trialState {
	return trialState{s.seen, s.left &^ (1 << cause)}
}

func (m *trialModel) start() trialState { return trialState{0, 1<<len(m.prior) - 1} }

func (m *trialModel) chance(test, outcome, cause int) float64 {
	if outcome == 0 {
		return m.first[test][cause]
	}
	return 1 - m.first[test][cause]
}

// weights are the joint probabilities of each cause and what was seen; 0 for
// causes whose repair was tried.
func (m *trialModel) weights(s trialState) []float64 {
	w := slices.Clone(m.prior)
	for i := range w {
		if s.left>>i&1 == 0 {
			w[i] = 0
		}
		for j := range m.minutes {
			if d := s.digit(j); d > 0 {
				w[i] *= m.chance(j, d-1, i)
			}
		}
	}
	return w
}

func trialSum(w []float64) float64 {
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	return sum
}

// optimum holds the least expected minutes, times its weight, of every state.
type trialOptimum struct {
	values []float64
	sets   int
}

func (o *trialOptimum) at(s trialState) float64 { return o.values[s.seen*o.sets+int(s.left)] }

// solve goes from what is known most to what is known least: a test adds to
// the number that stands for what was seen, a repair takes away from the set.
func (m *trialModel) solve(o *trialOptimum) {
	o.sets = 1 << len(m.prior)
	states := trialPow3(len(m.minutes))
	if size := states * o.sets; cap(o.values) < size {
		o.values = make([]float64, size)
	}
	o.values = o.values[:states*o.sets]
	weight := make([]float64, o.sets)
	for seen := states - 1; seen >= 0; seen-- {
		s := trialState{seen, uint32(o.sets - 1)}
		w := m.weights(s)
		v := o.values[seen*o.sets:][:o.sets]
		v[0] = 0
		for set := 1; set < o.sets; set++ {
			low := set & -set
			weight[set] = weight[set^low] + w[bits.TrailingZeros(uint(low))]
			v[set] = math.Inf(1)
		}
		for j, c := range m.minutes {
			if s.digit(j) != 0 {
				continue
			}
			a := o.values[s.after(j, 0).seen*o.sets:][:o.sets]
			b := o.values[s.after(j, 1).seen*o.sets:][:o.sets]
			for set := 1; set < o.sets; set++ {
				v[set] = min(v[set], c*weight[set]+a[set]+b[set])
			}
		}
		for set := 1; set < o.sets; set++ {
			for left := set; left != 0; left &= left - 1 {
				low := left & -left
				v[set] = min(v[set], m.repair[bits.TrailingZeros(uint(low))]*weight[set]+v[set^low])
			}
		}
	}
}

// trialPolicy chooses an action. It may instead give the value of the state,
// when that is known.
type trialPolicy func(m *trialModel, s trialState) (plan.Action, float64, bool)

// cost is the expected minutes of following a policy, times the weight.
func (m *trialModel) cost(s trialState, p trialPolicy, memo map[trialState]float64) float64 {
	if s.left == 0 {
		return 0
	}
	if v, ok := memo[s]; ok {
		return v
	}
	a, v, known := p(m, s)
	if !known {
		v = m.costOf(s, a, p, memo)
	}
	memo[s] = v
	return v
}

func (m *trialModel) costOf(s trialState, a plan.Action, p trialPolicy, memo map[trialState]float64) float64 {
	weight := trialSum(m.weights(s))
	if a.Kind == plan.DoRepair {
		return m.repair[a.Index]*weight + m.cost(s.without(a.Index), p, memo)
	}
	return m.minutes[a.Index]*weight + m.cost(s.after(a.Index, 0), p, memo) + m.cost(s.after(a.Index, 1), p, memo)
}

// byRatio is the value of repairing by probability over cost, and the first
// repair of it.
func (m *trialModel) byRatio(w []float64, left uint32) (float64, int) {
	var order []int
	for i := range w {
		if left>>i&1 != 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := w[a]/m.repair[a], w[b]/m.repair[b]
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	value, weight := 0.0, trialSum(w)
	for _, i := range order {
		value += m.repair[i] * weight
		weight -= w[i]
	}
	return value, order[0]
}

func trialRatio(m *trialModel, s trialState) (plan.Action, float64, bool) {
	_, i := m.byRatio(m.weights(s), s.left)
	return plan.Action{Kind: plan.DoRepair, Index: i}, 0, false
}

func trialFixed(m *trialModel, s trialState) (plan.Action, float64, bool) {
	for i := range m.prior {
		if s.left>>i&1 != 0 {
			return plan.Action{Kind: plan.DoRepair, Index: i}, 0, false
		}
	}
	return plan.Action{}, 0, false
}

func trialEverything(m *trialModel, s trialState) (plan.Action, float64, bool) {
	for j := range m.minutes {
		if s.digit(j) == 0 {
			return plan.Action{Kind: plan.DoTest, Index: j}, 0, false
		}
	}
	return trialRatio(m, s)
}

// oneStep takes the test, if any, that is best when nothing is tested after it.
func trialOneStep(m *trialModel, s trialState) (plan.Action, float64, bool) {
	w := m.weights(s)
	least, i := m.byRatio(w, s.left)
	best := plan.Action{Kind: plan.DoRepair, Index: i}
	for j, c := range m.minutes {
		if s.digit(j) != 0 {
			continue
		}
		v := c * trialSum(w)
		for o := range 2 {
			u, _ := m.byRatio(m.weights(s.after(j, o)), s.left)
			v += u
		}
		if v < least {
			least, best = v, plan.Action{Kind: plan.DoTest, Index: j}
		}
	}
	return best, 0, false
}

// problem is a state as the planner sees it.
func (m *trialModel) problem(s trialState) plan.Problem {
	p := plan.Problem{HandOver: math.Inf(1)}
	w := m.weights(s)
	sum := trialSum(w)
	for i := range w {
		c := plan.Cause{P: w[i] / sum, Repair: m.repair[i], Mends: 1}
		if s.left>>i&1 == 0 {
			c.Repair = math.Inf(1)
		}
		p.Causes = append(p.Causes, c)
	}
	for j := range m.minutes {
		t := plan.Test{Minutes: m.minutes[j]}
		if s.digit(j) != 0 {
			t.Minutes = math.Inf(1)
		}
		for i := range w {
			t.Given = append(t.Given, []float64{m.chance(j, 0, i), m.chance(j, 1, i)})
		}
		p.Tests = append(p.Tests, t)
	}
	return p
}

// planner plans anew at every state. Where the plan says that it is exact,
// its minutes have to be the optimum; following it from there on is optimal.
func trialPlanner(t *testing.T, o *trialOptimum, budget int) trialPolicy {
	return func(m *trialModel, s trialState) (plan.Action, float64, bool) {
		p := m.problem(s)
		got, err := p.Plan(budget)
		if err != nil {
			t.Fatal(err)
		}
		best := got.Options[0]
		if got.Exact {
			want := o.at(s) / trialSum(m.weights(s))
			if math.Abs(best.Minutes-want) > 1e-9*want {
				t.Errorf("state %v: the plan says that %v minutes are exact, the optimum is %v", s, best.Minutes, want)
			}
			return best.Action, o.at(s), true
		}
		return best.Action, 0, false
	}
}

type trialMethod struct {
	name   string
	policy func(*trialOptimum) trialPolicy
	ratios []float64
}

func trialMethods(t *testing.T, budgets ...int) []*trialMethod {
	plain := func(p trialPolicy) func(*trialOptimum) trialPolicy {
		return func(*trialOptimum) trialPolicy { return p }
	}
	var out []*trialMethod
	for _, b := range budgets {
		name := "planner"
		if b != plan.Budget {
			name = fmt.Sprintf("planner, budget %d", b)
		}
		out = append(out, &trialMethod{name: name, policy: func(o *trialOptimum) trialPolicy { return trialPlanner(t, o, b) }})
	}
	return append(out,
		&trialMethod{name: "one step of look-ahead", policy: plain(trialOneStep)},
		&trialMethod{name: "probability over cost alone", policy: plain(trialRatio)},
		&trialMethod{name: "everything measured first", policy: plain(trialEverything)},
		&trialMethod{name: "fixed list", policy: plain(trialFixed)})
}

func (m *trialMethod) mean() float64 { return trialSum(m.ratios) / float64(len(m.ratios)) }

func (m *trialMethod) p95() float64 {
	s := slices.Sorted(slices.Values(m.ratios))
	return s[min(len(s)-1, int(math.Ceil(0.95*float64(len(s))))-1)]
}

func runTrial(t *testing.T, causes, tests, models int, seed uint64, budgets ...int) *trialMethod {
	t.Helper()
	methods := trialMethods(t, budgets...)
	var o trialOptimum
	for k := range models {
		m := newTrialModel(rand.New(rand.NewPCG(seed, uint64(k))), causes, tests)
		m.solve(&o)
		best := o.at(m.start())
		for _, method := range methods {
			got := m.cost(m.start(), method.policy(&o), map[trialState]float64{})
			if got < best*(1-1e-9) {
				t.Errorf("model %d: %s takes %v minutes, less than the optimum of %v", k, method.name, got, best)
			}
			method.ratios = append(method.ratios, got/best)
		}
	}
	t.Logf("%d causes, %d tests, %d models, seed %d: minutes as a multiple of the exact optimum", causes, tests, models, seed)
	for _, method := range methods {
		t.Logf("  %s mean %.4f p95 %.4f", method.name, method.mean(), method.p95())
	}
	return methods[0]
}

func TestTrialSmall(t *testing.T) {
	models := 150
	if *trialLong {
		models = 1000
	}
	for _, size := range []struct{ causes, tests int }{{5, 4}, {6, 5}} {
		got := runTrial(t, size.causes, size.tests, models, 20, plan.Budget, plan.Budget/20, plan.Budget/200)
		if got.mean() > 1.005 || got.p95() > 1.03 {
			t.Errorf("%d causes, %d tests: mean %.4f, p95 %.4f; want 1.005 and 1.03 at most", size.causes, size.tests, got.mean(), got.p95())
		}
	}
}

func TestTrialLarge(t *testing.T) {
	models := 3
	if *trialLong {
		models = 40
	}
	if got := runTrial(t, 12, 8, models, 21, plan.Budget, plan.Budget/20); got.mean() > 1.02 {
		t.Errorf("mean %.4f; want 1.02 at most", got.mean())
	}
}
