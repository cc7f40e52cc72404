package plan_test

import (
	"math"
	"reflect"
	"testing"

	"ferrule/rules/diagnosis/plan"

	"pgregory.net/rapid"
)

func TestAgainstExact(t *testing.T) {
	for name, s := range map[string]shape{
		"plain":  {causes: 5, tests: 3, plain: true},
		"free":   {causes: 4, tests: 3},
		"places": {causes: 4, tests: 3, spots: true},
	} {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			p := draw(t, s)
			got := mustPlanRapid(t, p, plan.Budget)
			want := exact(p)
			if !got.Exact || !near(got.Options[0].Minutes, want) {
				t.Fatalf("%v minutes (exact: %v) after %d nodes, the optimum is %v", got.Options[0].Minutes, got.Exact, got.Nodes, want)
			}
			// What the best action costs, and the best after it, are the whole.
			if v := oneAction(p, got.Options[0].Action); !near(v, want) {
				t.Fatalf("%+v and the best after it take %v minutes, the optimum is %v", got.Options[0].Action, v, want)
			}
		}))
	}
}

func mustPlanRapid(t *rapid.T, p plan.Problem, budget int) plan.Plan {
	got, err := p.Plan(budget)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// oneAction is the expected minutes of an action and the optimum after it.
func oneAction(p plan.Problem, a plan.Action) float64 {
	s := solver{p: p}
	st := state{place: p.Place, ready: p.Ready}
	switch a.Kind {
	case plan.DoHandOver:
		return p.HandOver
	case plan.DoRepair:
		c := p.Causes[a.Index]
		fails := 1 - c.P*c.Mends
		cost := s.pay(c.Repair, c.At, &st)
		if fails < 1e-12 {
			return cost
		}
		return cost + fails*exact(p.After(a, 0))
	case plan.DoTest:
		cost := s.pay(p.Tests[a.Index].Minutes, p.Tests[a.Index].At, &st)
		for o := range p.Tests[a.Index].Given[0] {
			if x := chance(p, a.Index, o); x > 0 {
				cost += x * exact(p.After(a, o))
			}
		}
		return cost
	}
	return 0
}

func chance(p plan.Problem, test, outcome int) float64 {
	x := 0.0
	for i, c := range p.Causes {
		x += c.P * p.Tests[test].Given[i][outcome]
	}
	return x
}

// Small budgets, so that the answers aren't exact ones.
func TestNeverRepeatsAlwaysEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 8, tests: 6, spots: rapid.Bool().Draw(t, "spots")})
		done := map[plan.Action]bool{}
		for range len(p.Causes) + len(p.Tests) + 1 {
			got := mustPlanRapid(t, p, rapid.IntRange(-1, 300).Draw(t, "budget"))
			seen := map[plan.Action]bool{}
			for _, o := range got.Options {
				if seen[o.Action] || math.IsNaN(o.Minutes) || math.IsInf(o.Minutes, 0) || o.Minutes < 0 {
					t.Fatalf("options are %+v", got.Options)
				}
				seen[o.Action] = true
			}
			a := got.Options[0].Action
			if done[a] {
				t.Fatalf("%+v a second time", a)
			}
			done[a] = true
			switch a.Kind {
			case plan.Nothing, plan.DoHandOver:
				return
			case plan.DoTest:
				if len(got.Then) != len(p.Tests[a.Index].Given[0]) {
					t.Fatalf("then %v after a test of %d outcomes", got.Then, len(p.Tests[a.Index].Given[0]))
				}
				p = p.After(a, rapid.IntRange(0, len(got.Then)-1).Draw(t, "outcome"))
			default:
				if p.Causes[a.Index].P*p.Causes[a.Index].Mends == 0 {
					t.Fatalf("%+v can't mend anything", a)
				}
				p = p.After(a, 0)
			}
		}
		t.Fatal("it doesn't end")
	})
}

// No measurement comes first that can't change the next action. Planned anew
// after every outcome, where the plans are exact; tests that follow each other
// whatever they show count as one.
func TestMeasurementsMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 4, tests: 3})
		problems := []plan.Problem{p}
		first := mustPlanRapid(t, p, plan.Budget).Options[0].Action
		for a := first; a.Kind == plan.DoTest; {
			var after []plan.Problem
			next := map[plan.Action]bool{}
			for _, q := range problems {
				for o := range q.Tests[a.Index].Given[0] {
					if chance(q, a.Index, o) > 1e-9 {
						r := q.After(a, o)
						after = append(after, r)
						a := mustPlanRapid(t, r, plan.Budget).Options[0].Action
						next[a] = true
					}
				}
			}
			if len(next) > 1 {
				return // it matters
			}
			for b := range next {
				if b.Kind != plan.DoTest {
					t.Fatalf("%+v comes first, but %+v follows whatever is seen", first, b)
				}
				a = b
			}
			problems = after
		}
	})
}

// The same of the plan's own continuation, whatever the budget.
func TestThenDiffers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 8, tests: 6})
		got := mustPlanRapid(t, p, rapid.IntRange(1, 2000).Draw(t, "budget"))
		if got.Options[0].Kind != plan.DoTest {
			return
		}
		next := map[plan.Action]bool{}
		for o, a := range got.Then {
			if chance(p, got.Options[0].Index, o) > 1e-9 {
				next[a] = true
			}
		}
		for a := range next {
			if len(next) == 1 && a.Kind != plan.DoTest {
				t.Fatalf("%+v comes first, but %+v follows whatever is seen", got.Options[0], a)
			}
		}
	})
}

func TestMoreTestsNeverWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := shape{causes: 4, tests: 3, spots: rapid.Bool().Draw(t, "spots")}
		p := draw(t, s)
		before := mustPlanRapid(t, p, plan.Budget)
		p.Tests = append(p.Tests, drawTest(t, s, len(p.Causes)))
		after := mustPlanRapid(t, p, plan.Budget)
		// Where handing over is impossible a test that rules everything out
		// ends the case as well; it is still no worse.
		if before.Exact && after.Exact && after.Options[0].Minutes > before.Options[0].Minutes*(1+1e-9) {
			t.Fatalf("%v minutes, with one more test %v", before.Options[0].Minutes, after.Options[0].Minutes)
		}
	})
}

func TestDearerNeverCheaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 4, tests: 3, spots: rapid.Bool().Draw(t, "spots")})
		before := mustPlanRapid(t, p, plan.Budget)
		more := minutes(t, "more", 0, 30)
		switch i := rapid.IntRange(0, len(p.Causes)+len(p.Tests)).Draw(t, "dearer"); {
		case i < len(p.Causes):
			p.Causes[i].Repair += more
		case i < len(p.Causes)+len(p.Tests):
			p.Tests[i-len(p.Causes)].Minutes += more
		default:
			p.HandOver += more
		}
		after := mustPlanRapid(t, p, plan.Budget)
		if before.Exact && after.Exact && after.Options[0].Minutes < before.Options[0].Minutes*(1-1e-9) {
			t.Fatalf("%v minutes, dearer %v", before.Options[0].Minutes, after.Options[0].Minutes)
		}
	})
}

// Whatever the budget, the minutes given are those of a way that exists: no
// option takes less than the optimum.
func TestNoFalsePromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 4, tests: 3, spots: rapid.Bool().Draw(t, "spots")})
		want := exact(p)
		for _, budget := range []int{1, 30, 100, 300} {
			for _, o := range mustPlanRapid(t, p, budget).Options {
				if o.Minutes < want*(1-1e-9) {
					t.Fatalf("%+v with a budget of %d, the optimum is %v", o, budget, want)
				}
			}
		}
	})
}

func TestDeterministic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, shape{causes: 8, tests: 6, spots: rapid.Bool().Draw(t, "spots")})
		budget := rapid.IntRange(1, 5000).Draw(t, "budget")
		if a, b := mustPlanRapid(t, p, budget), mustPlanRapid(t, p, budget); !reflect.DeepEqual(a, b) {
			t.Fatalf("first %+v, then %+v", a, b)
		}
	})
}
