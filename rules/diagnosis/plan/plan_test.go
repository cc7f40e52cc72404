package plan_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"ferrule/rules/diagnosis/plan"
)

var inf = math.Inf(1)

func mustPlan(t testing.TB, p plan.Problem, budget int) plan.Plan {
	t.Helper()
	got, err := p.Plan(budget)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

func repairsOnly(p, c []float64) plan.Problem {
	q := plan.Problem{HandOver: inf}
	for i := range p {
		q.Causes = append(q.Causes, plan.Cause{P: p[i], Repair: c[i], Mends: 1})
	}
	return q
}

// orderCost is the expected minutes of repairing in an order.
func orderCost(p, c []float64, order []int) float64 {
	sum, left := 0.0, 1.0
	for _, i := range order {
		sum += left * c[i]
		left -= p[i]
	}
	return sum
}

func permutations(n int, yield func([]int)) {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	var rec func(int)
	rec = func(k int) {
		if k == n {
			yield(order)
			return
		}
		for i := k; i < n; i++ {
			order[k], order[i] = order[i], order[k]
			rec(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	rec(0)
}

// SOURCE: the published check values, section 13: p .5 .3 .2, C 10 2 5, all
// six orders; the best is 2, 1, 3 (ratios .05 .15 .04). The formula is that of
// Heckerman, Breese and Rommelse 1995.
func TestProbabilityOverCost(t *testing.T) {
	p, c := []float64{0.5, 0.3, 0.2}, []float64{10, 2, 5}
	for _, tt := range []struct {
		order []int
		want  float64
	}{
		{[]int{0, 1, 2}, 12.0},
		{[]int{0, 2, 1}, 13.1},
		{[]int{1, 0, 2}, 10.0},
		{[]int{1, 2, 0}, 10.5},
		{[]int{2, 0, 1}, 13.6},
		{[]int{2, 1, 0}, 11.6},
	} {
		if got := orderCost(p, c, tt.order); !near(got, tt.want) {
			t.Errorf("order %v: the test's own formula gives %v, want %v", tt.order, got, tt.want)
		}
	}
	got := mustPlan(t, repairsOnly(p, c), plan.Budget)
	// The best that begins with each: 2 1 3, 3 2 1 and 1 2 3.
	want := []plan.Option{{plan.Action{Kind: plan.DoRepair, Index: 1}, 10.0}, {plan.Action{Kind: plan.DoRepair, Index: 2}, 11.6}, {plan.Action{Kind: plan.DoRepair, Index: 0}, 12.0}}
	if !got.Exact || len(got.Options) != len(want) {
		t.Fatalf("plan is %+v", got)
	}
	for i, o := range got.Options {
		if o.Action != want[i].Action || !near(o.Minutes, want[i].Minutes) {
			t.Errorf("option %d is %+v, want %+v", i, o, want[i])
		}
	}
}

func TestEveryOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 1))
	for n := 1; n <= 7; n++ {
		for range 5 {
			p, c := make([]float64, n), make([]float64, n)
			sum := 0.0
			for i := range p {
				p[i], c[i] = r.ExpFloat64(), 5+55*r.Float64()
				sum += p[i]
			}
			for i := range p {
				p[i] /= sum
			}
			want := inf
			permutations(n, func(order []int) { want = min(want, orderCost(p, c, order)) })
			got := mustPlan(t, repairsOnly(p, c), plan.Budget)
			if !got.Exact || !near(got.Options[0].Minutes, want) {
				t.Errorf("%d causes: %v minutes (exact: %v), the best of all orders takes %v", n, got.Options[0].Minutes, got.Exact, want)
			}
		}
	}
}

// twoCauses are equally likely; one test tells them apart, one tells nothing.
func twoCauses() plan.Problem {
	return plan.Problem{
		Causes: []plan.Cause{{P: 0.5, Repair: 30, Mends: 1}, {P: 0.5, Repair: 30, Mends: 1}},
		Tests: []plan.Test{
			{Minutes: 1, Given: [][]float64{{0.5, 0.5}, {0.5, 0.5}}}, // tells nothing
			{Minutes: 4, Given: [][]float64{{1, 0}, {0, 1}}},
		},
		HandOver: inf,
	}
}

func TestMeasureFirst(t *testing.T) {
	got := mustPlan(t, twoCauses(), plan.Budget)
	// The test and the right repair: 4 + 30. Repairs alone: 30 + 15.
	if best := got.Options[0]; best.Action != (plan.Action{Kind: plan.DoTest, Index: 1}) || !near(best.Minutes, 34) || !got.Exact {
		t.Errorf("plan is %+v, want test 1 first and 34 minutes", got)
	}
	want := []plan.Action{{Kind: plan.DoRepair, Index: 0}, {Kind: plan.DoRepair, Index: 1}}
	if !slices.Equal(got.Then, want) {
		t.Errorf("then %v, want %v", got.Then, want)
	}
}

// Two switches, four causes: each test shows one switch, and only both lead to
// the one right repair. They follow each other whatever the first shows.
func TestTwoTestsAsOne(t *testing.T) {
	p := plan.Problem{HandOver: inf}
	for range 4 {
		p.Causes = append(p.Causes, plan.Cause{P: 0.25, Repair: 60, Mends: 1})
	}
	for bit := range 2 {
		q := plan.Test{Minutes: 1}
		for i := range 4 {
			row := []float64{1, 0}
			if i>>bit&1 != 0 {
				row = []float64{0, 1}
			}
			q.Given = append(q.Given, row)
		}
		p.Tests = append(p.Tests, q)
	}
	got := mustPlan(t, p, plan.Budget)
	second := plan.Action{Kind: plan.DoTest, Index: 1}
	if got.Options[0].Action != (plan.Action{Kind: plan.DoTest, Index: 0}) || !near(got.Options[0].Minutes, 62) {
		t.Errorf("plan is %+v, want both tests and the right repair: 62 minutes", got)
	}
	if !slices.Equal(got.Then, []plan.Action{second, second}) {
		t.Errorf("then %v, want the other test whatever the first shows", got.Then)
	}
}

func TestPlaces(t *testing.T) {
	// By probability over cost alone the far repair is first (.5/10 against
	// .5/11); with the walk it isn't.
	p := plan.Problem{
		Causes: []plan.Cause{
			{P: 0.5, Repair: 10, Mends: 1, At: plan.Spot{Place: 2}},
			{P: 0.5, Repair: 11, Mends: 1, At: plan.Spot{Place: 1}},
		},
		HandOver: inf, Walk: 5, Place: 1,
	}
	if got := mustPlan(t, p, plan.Budget); got.Options[0].Index != 1 || !near(got.Options[0].Minutes, 11+0.5*15) {
		t.Errorf("plan is %+v, want the repair here first and 18.5 minutes", got)
	}
	// Under one lid: 3 + 10 for the first and 6 for half of the cases.
	p = plan.Problem{
		Causes:   []plan.Cause{{P: 0.5, Repair: 10, Mends: 1, At: plan.Spot{Setups: 1}}, {P: 0.5, Repair: 12, Mends: 1, At: plan.Spot{Setups: 1}}},
		HandOver: inf, Setups: []float64{3},
	}
	if got := mustPlan(t, p, plan.Budget); got.Options[0].Index != 0 || !near(got.Options[0].Minutes, 3+10+0.5*12) {
		t.Errorf("plan is %+v, want the quick repair first and 19 minutes", got)
	}
}

// The test here doesn't change what is done next, the likely repair two
// places away, but what is done after it; done later it would cost two walks.
func TestMeasureOnTheWay(t *testing.T) {
	p := plan.Problem{
		Causes: []plan.Cause{
			{P: 0.6, Repair: 5, Mends: 1, At: plan.Spot{Place: 2}},
			{P: 0.2, Repair: 60, Mends: 1, At: plan.Spot{Place: 2}},
			{P: 0.2, Repair: 60, Mends: 1, At: plan.Spot{Place: 2}},
		},
		Tests:    []plan.Test{{Minutes: 1, Given: [][]float64{{0.5, 0.5}, {1, 0}, {0, 1}}, At: plan.Spot{Place: 1}}},
		HandOver: inf, Walk: 10, Place: 1,
	}
	repair := plan.Action{Kind: plan.DoRepair, Index: 0}
	// 1 + 10 + 5 and the right one of the others: .4 * 60.
	got := mustPlan(t, p, plan.Budget)
	if got.Options[0].Kind != plan.DoTest || !near(got.Options[0].Minutes, 40) || !slices.Equal(got.Then, []plan.Action{repair, repair}) {
		t.Errorf("plan is %+v, want the test on the way and 40 minutes", got)
	}
	// Where walking takes nothing it waits: 5 + .4 * (1 + 60).
	p.Walk = 0
	got = mustPlan(t, p, plan.Budget)
	if got.Options[0].Action != repair || !near(got.Options[0].Minutes, 29.4) {
		t.Errorf("plan is %+v, want the repair and 29.4 minutes", got)
	}
}

func TestHandOver(t *testing.T) {
	p := plan.Problem{
		Causes:   []plan.Cause{{P: 0.9, Repair: 10, Mends: 0.5}, {P: 0.1, Repair: inf}},
		HandOver: 30,
	}
	// 10 + (1 - .45) * 30.
	if got := mustPlan(t, p, plan.Budget); got.Options[0].Kind != plan.DoRepair || !near(got.Options[0].Minutes, 26.5) {
		t.Errorf("plan is %+v, want the repair and 26.5 minutes", got)
	}
	after := p.After(plan.Action{Kind: plan.DoRepair, Index: 0}, 0)
	if got := mustPlan(t, after, plan.Budget); got.Options[0] != (plan.Option{Action: plan.Action{Kind: plan.DoHandOver}, Minutes: 30}) {
		t.Errorf("plan is %+v, want handing over", got)
	}
	after.HandOver = inf
	if got := mustPlan(t, after, plan.Budget); !reflect.DeepEqual(got.Options, []plan.Option{{}}) {
		t.Errorf("options are %+v, want Nothing", got.Options)
	}
}

func TestAfter(t *testing.T) {
	p := plan.Problem{
		Causes: []plan.Cause{{P: 0.5, Repair: 10, Mends: 0.5, At: plan.Spot{Place: 3, Setups: 1}}, {P: 0.5, Repair: 20, Mends: 1}},
		Tests:  []plan.Test{{Minutes: 2, Given: [][]float64{{0.9, 0.1}, {0.3, 0.7}}, At: plan.Spot{Place: 2}}},
		Setups: []float64{4}, HandOver: inf,
	}
	q := p.After(plan.Action{Kind: plan.DoTest, Index: 0}, 0)
	if !near(q.Causes[0].P, 0.75) || !near(q.Causes[1].P, 0.25) || !math.IsInf(q.Tests[0].Minutes, 1) || q.Place != 2 {
		t.Errorf("after the test: %+v", q)
	}
	q = p.After(plan.Action{Kind: plan.DoRepair, Index: 0}, 0)
	if !near(q.Causes[0].P, 1./3) || !near(q.Causes[1].P, 2./3) || !math.IsInf(q.Causes[0].Repair, 1) || q.Place != 3 || q.Ready != 1 {
		t.Errorf("after the repair: %+v", q)
	}
	if p.Causes[0].Repair != 10 || p.Tests[0].Minutes != 2 || p.Causes[0].P != 0.5 {
		t.Errorf("the problem itself has changed: %+v", p)
	}
	for _, a := range []plan.Action{{}, {Kind: plan.DoHandOver}, {Kind: plan.DoTest, Index: 1}, {Kind: plan.DoRepair, Index: -1}} {
		if got := p.After(a, 0); !reflect.DeepEqual(got, p) {
			t.Errorf("after %+v: %+v, want no change", a, got)
		}
	}
	if got := p.After(plan.Action{Kind: plan.DoTest}, 2); !reflect.DeepEqual(got, p) {
		t.Errorf("after an outcome that isn't there: %+v, want no change", got)
	}
}

func TestTinyProbabilities(t *testing.T) {
	p := plan.Problem{
		Causes: []plan.Cause{{P: 1, Repair: 10, Mends: 1}, {P: 1e-300, Repair: 20, Mends: 1}, {P: 1e-300, Repair: inf}},
		Tests: []plan.Test{
			{Minutes: 1, Given: [][]float64{{1, 1e-300}, {1e-300, 1}, {1e-300, 1}}},
			{Minutes: 1, Given: [][]float64{{1, 0}, {1, 1e-300}, {1, 1e-300}}},
			{Minutes: 1, Given: [][]float64{{1, 0}, {0, 1}, {1, 0}}},
		},
		HandOver: 100,
	}
	for _, outcomes := range [][]int{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {0, 1, 1}} {
		q := p
		for j, o := range outcomes {
			q = q.After(plan.Action{Kind: plan.DoTest, Index: j}, o)
			sum := 0.0
			for _, c := range q.Causes {
				sum += c.P
			}
			if !near(sum, 1) {
				t.Errorf("outcomes %v: probabilities sum to %v after test %d", outcomes, sum, j)
			}
			for _, o := range mustPlan(t, q, 1000).Options {
				if math.IsNaN(o.Minutes) || math.IsInf(o.Minutes, 0) {
					t.Errorf("outcomes %v: option %+v after test %d", outcomes, o, j)
				}
			}
		}
	}
	// Both are equally likely: 1 * 1e-300 and 1e-300 * 1.
	if q := p.After(plan.Action{Kind: plan.DoTest}, 1); !near(q.Causes[0].P, 1./3) {
		t.Errorf("probability is %v, want 1/3", q.Causes[0].P)
	}
}

func TestInvalid(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name  string
		spoil func(*plan.Problem)
	}{
		{"no causes", func(p *plan.Problem) { p.Causes = nil }},
		{"many causes", func(p *plan.Problem) { p.Causes = make([]plan.Cause, 65) }},
		{"many tests", func(p *plan.Problem) { p.Tests = make([]plan.Test, 65) }},
		{"many set-ups", func(p *plan.Problem) { p.Setups = make([]float64, 17) }},
		{"sum", func(p *plan.Problem) { p.Causes[0].P = 0.50001 }},
		{"negative probability", func(p *plan.Problem) { p.Causes[0].P, p.Causes[1].P = -0.5, 1.5 }},
		{"NaN probability", func(p *plan.Problem) { p.Causes[0].P = nan }},
		{"NaN repair", func(p *plan.Problem) { p.Causes[0].Repair = nan }},
		{"negative repair", func(p *plan.Problem) { p.Causes[0].Repair = -1 }},
		{"endless repair", func(p *plan.Problem) { p.Causes[0].Repair = 1e10 }},
		{"mends more than all", func(p *plan.Problem) { p.Causes[0].Mends = 1.1 }},
		{"NaN mends", func(p *plan.Problem) { p.Causes[0].Mends = nan }},
		{"negative test", func(p *plan.Problem) { p.Tests[0].Minutes = -1 }},
		{"NaN test", func(p *plan.Problem) { p.Tests[0].Minutes = nan }},
		{"rows", func(p *plan.Problem) { p.Tests[0].Given = p.Tests[0].Given[:1] }},
		{"ragged rows", func(p *plan.Problem) { p.Tests[0].Given[1] = []float64{0.2, 0.3, 0.5} }},
		{"one outcome", func(p *plan.Problem) { p.Tests[0].Given = [][]float64{{1}, {1}} }},
		{"row sum", func(p *plan.Problem) { p.Tests[0].Given[1] = []float64{0.5, 0.50001} }},
		{"NaN outcome", func(p *plan.Problem) { p.Tests[0].Given[1] = []float64{0.5, nan} }},
		{"negative outcome", func(p *plan.Problem) { p.Tests[0].Given[1] = []float64{-0.5, 1.5} }},
		{"NaN hand-over", func(p *plan.Problem) { p.HandOver = nan }},
		{"negative hand-over", func(p *plan.Problem) { p.HandOver = -1 }},
		{"NaN walk", func(p *plan.Problem) { p.Walk = nan }},
		{"endless walk", func(p *plan.Problem) { p.Walk = inf }},
		{"endless set-up", func(p *plan.Problem) { p.Setups = []float64{inf} }},
		{"place", func(p *plan.Problem) { p.Place = -1 }},
		{"place of a repair", func(p *plan.Problem) { p.Causes[1].At.Place = -1 }},
		{"set-up of a test", func(p *plan.Problem) { p.Tests[0].At.Setups = 1 }},
	} {
		p := twoCauses()
		tt.spoil(&p)
		_, err := p.Plan(plan.Budget)
		var invalid *plan.Invalid
		if !errors.As(err, &invalid) || invalid.Quantity == "" || invalid.Want == "" || invalid.Error() == "" {
			t.Errorf("%s: error %v, want an *Invalid", tt.name, err)
		}
	}
}

func TestLargest(t *testing.T) {
	p := random(rand.New(rand.NewPCG(64, 64)), 64, 64, 9)
	got := mustPlan(t, p, 1) // a budget too small for anything still values each action once
	if len(got.Options) != 128 || got.Exact {
		t.Errorf("%d options, exact %v; want 128 and false", len(got.Options), got.Exact)
	}
}

// random is a problem of the trial's kind: repairs of 5 to 60 minutes, tests
// of 1 to 10.
func random(r *rand.Rand, causes, tests, outcomes int) plan.Problem {
	part := func(n int) []float64 {
		x, sum := make([]float64, n), 0.0
		for i := range x {
			x[i] = r.ExpFloat64()
			sum += x[i]
		}
		for i := range x {
			x[i] /= sum
		}
		return x
	}
	p := plan.Problem{HandOver: inf}
	for _, x := range part(causes) {
		p.Causes = append(p.Causes, plan.Cause{P: x, Repair: 5 + 55*r.Float64(), Mends: 1})
	}
	for range tests {
		q := plan.Test{Minutes: 1 + 9*r.Float64()}
		for range causes {
			q.Given = append(q.Given, part(outcomes))
		}
		p.Tests = append(p.Tests, q)
	}
	return p
}

func BenchmarkPlan(b *testing.B) {
	for _, size := range []struct{ causes, tests, outcomes int }{{6, 5, 2}, {12, 8, 2}, {14, 12, 2}, {14, 12, 4}, {64, 64, 9}} {
		b.Run(fmt.Sprintf("%dx%dx%d", size.causes, size.tests, size.outcomes), func(b *testing.B) {
			p := random(rand.New(rand.NewPCG(1, 2)), size.causes, size.tests, size.outcomes)
			b.ReportAllocs()
			var got plan.Plan
			for b.Loop() {
				got = mustPlan(b, p, plan.Budget)
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/op")
			b.ReportMetric(float64(got.Nodes), "nodes")
			b.ReportMetric(float64(got.Depth), "depth")
		})
	}
}

func ExampleProblem_Plan() {
	p := plan.Problem{
		Causes: []plan.Cause{
			{P: 0.5, Repair: 30, Mends: 1}, // worn battery
			{P: 0.4, Repair: 40, Mends: 1}, // charger
			{P: 0.1, Repair: math.Inf(1)},  // something else
		},
		Tests: []plan.Test{
			{Minutes: 2, Given: [][]float64{{0.9, 0.1}, {0.1, 0.9}, {0.5, 0.5}}}, // charging voltage: right, too low
		},
		HandOver: 120,
	}
	got, err := p.Plan(plan.Budget)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(got.Options[0].Kind == plan.DoTest, got.Then, got.Exact)
	// Output: true [{1 0} {1 1}] true
}
