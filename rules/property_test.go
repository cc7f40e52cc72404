package rules

import (
	"errors"
	"math"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge"
)

// drawProgram compiles a random rule set over the test vocabulary. pack is
// loaded once; only its rules change.
func drawProgram(t *rapid.T, pack *knowledge.Pack) (*Program, []*genCondition) {
	p := *pack
	p.Rules = nil
	var conditions []*genCondition
	for range rapid.IntRange(1, 9).Draw(t, "rules") {
		g := drawCondition(t, 3)
		conditions = append(conditions, g)
		p.Rules = append(p.Rules, knowledge.Rule{Name: knowledge.Str{S: "r"}, When: knowledge.Expr{S: g.String()}})
	}
	program, err := Compile(&p)
	if err != nil {
		t.Fatalf("compiling: %v", err)
	}
	return program, conditions
}

// TestAgreesWithReference holds the flat form to the recursive evaluator, on
// anything from nothing known to everything known.
func TestAgreesWithReference(t *testing.T) {
	pack := loadPack(t, "")
	rapid.Check(t, func(t *rapid.T) {
		p, conditions := drawProgram(t, pack)
		f, v := p.NewFacts(), new(Verdict)
		for range 3 { // facts and verdict are reused
			k := drawKnown(t, false)
			p.Bind(f, k.observed(), nil, BindOptions{})
			p.Evaluate(f, v)
			var fired, undecided []int
			for i, g := range conditions {
				want := g.truth(k)
				if got := v.Rule(i); got != want {
					t.Fatalf("%v with %+v is %v, want %v", g, k, got, want)
				}
				if got := f.truth(p.rules[i]); got != want {
					t.Fatalf("%v with %+v by recursion is %v, want %v", g, k, got, want)
				}
				switch want {
				case True:
					fired = append(fired, i)
				case Undecided:
					undecided = append(undecided, i)
				}
			}
			if !equalInts(v.Fired(), fired) || !equalInts(v.Undecided(), undecided) {
				t.Fatalf("fired %v undecided %v, want %v and %v", v.Fired(), v.Undecided(), fired, undecided)
			}
		}
	})
}

func equalInts(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// TestNeverContradictsACompletion: what is true or false while readings are
// unknown stays so whatever they turn out to be.
func TestNeverContradictsACompletion(t *testing.T) {
	pack := loadPack(t, "")
	rapid.Check(t, func(t *rapid.T) {
		p, conditions := drawProgram(t, pack)
		k := drawKnown(t, false)
		_, before := judge(p, k.observed(), BindOptions{})
		for range 5 {
			full := k.clone()
			full.complete(t, nil)
			_, after := judge(p, full.observed(), BindOptions{})
			for i, g := range conditions {
				if after.Rule(i) == Undecided {
					t.Fatalf("%v is unknown though all is known: %+v", g, full)
				}
				if b := before.Rule(i); b != Undecided && b != after.Rule(i) {
					t.Fatalf("%v was %v with %+v and became %v with %+v", g, b, k, after.Rule(i), full)
				}
			}
		}
	})
}

// TestNeedsDecide: once all that a rule needs is given, it is decided; and
// nothing is asked that is known exactly.
func TestNeedsDecide(t *testing.T) {
	pack := loadPack(t, "")
	rapid.Check(t, func(t *rapid.T) {
		p, conditions := drawProgram(t, pack)
		k := drawKnown(t, false)
		f, v := judge(p, k.observed(), BindOptions{})
		for i, g := range conditions {
			needs := p.Needs(f, v, i)
			if v.Rule(i) != Undecided {
				if needs != nil {
					t.Fatalf("%v is decided and needs %v", g, needs)
				}
				continue
			}
			for _, n := range needs {
				if x, ok := k.num[n]; ok && x[0] == x[1] {
					t.Fatalf("%v needs %s, which is known", g, n)
				}
			}
			given := k.clone()
			if len(needs) == 0 {
				t.Fatalf("%v is undecided and needs nothing", g)
			}
			given.complete(t, needs)
			if _, after := judge(p, given.observed(), BindOptions{}); after.Rule(i) == Undecided {
				t.Fatalf("%v with %+v needs %v, and is still unknown with %+v", g, k, needs, given)
			}
		}
	})
}

// TestUnknownThoughAllCompletionsAgree shows the price of the strong Kleene
// logic: it takes each condition by itself. It never says a wrong thing, but
// it may say unknown where a cleverer logic would not.
func TestUnknownThoughAllCompletionsAgree(t *testing.T) {
	p := compileRules(t, "supply.load < 5 or supply.load >= 5", "device.powered and not device.powered", "supply.load - supply.load == 0")
	for value, want := range map[string][]Truth{"": {Undecided, Undecided, Undecided}, "3": {True, Undecided, True}, "7": {True, Undecided, True}} {
		o := &Observed{}
		if value != "" {
			o = observed(t, p, "supply.load", value)
		}
		_, v := judge(p, o, BindOptions{})
		for i, w := range want {
			if v.Rule(i) != w {
				t.Errorf("load %q: rule %d is %v, want %v", value, i, v.Rule(i), w)
			}
		}
	}
}

// TestRuntimeProblems: what fails at run time becomes unknown and is reported
// with the rule's name; the others go on.
func TestRuntimeProblems(t *testing.T) {
	p := compileRules(t, "(supply.load - 5) ** 0.5 > 1", "supply.volts / supply.load > 1", "device.powered", "panel.log matches \"a\"", "supply.load ** 400 > 1")
	o := observed(t, p, "supply.load", "3", "device.powered", "yes", "panel.log", "abc")
	f, v := judge(p, o, BindOptions{})
	check := func(want map[string]string, truths ...Truth) {
		t.Helper()
		for i, w := range truths {
			if v.Rule(i) != w {
				t.Errorf("rule %d is %v, want %v", i, v.Rule(i), w)
			}
		}
		for _, problem := range v.Problems() {
			if want[problem.Rule] == "" || !errorContains(problem, want[problem.Rule]) {
				t.Errorf("unexpected problem %v", problem)
			}
			delete(want, problem.Rule)
		}
		for rule := range want {
			t.Errorf("no problem reported for %s", rule)
		}
	}
	check(map[string]string{"r0": "not a number"}, Undecided, Undecided, True, True, True)

	p.Bind(f, observed(t, p, "supply.load", "0", "supply.volts", "12", "device.powered", "yes"), nil, BindOptions{})
	p.Evaluate(f, v)
	check(map[string]string{"r0": "not a number", "r1": "division by zero"}, Undecided, Undecided, True, Undecided, False)

	p.Bind(f, observed(t, p, "supply.load", "90"), nil, BindOptions{})
	p.Evaluate(f, v)
	check(map[string]string{"r4": "too large"}, True, Undecided, Undecided, Undecided, Undecided)

	withFormula := compileRules(t, "cable_drop(supply.load, 0.22, 0.1) > 1", "device.powered")
	_, v = judge(withFormula, observed(t, withFormula, "supply.load", "-3", "device.powered", "yes"), BindOptions{})
	check(map[string]string{"r0": "cable_drop: length of the cable is -3 m; it must be 0 m to 100000 m"}, Undecided, True)
	f, v = judge(p, &Observed{}, BindOptions{})

	bad := &Observed{}
	bad.Set("supply.load", Subject{"panel", 1}, Num(math.NaN()))
	bad.Set("device.colour", Subject{"device", 1}, Named("mauve"))
	p.Bind(f, bad, nil, BindOptions{})
	p.Evaluate(f, v)
	check(map[string]string{"supply.load": "no range", "device.colour": "no choice"}, Undecided, Undecided, Undecided)

	// A panic inside a program stays inside as well.
	for _, l := range p.flat.slow {
		if l.leaf.run != nil {
			l.leaf.run.program = nil
		}
	}
	p.Bind(f, o, nil, BindOptions{})
	p.Evaluate(f, v)
	check(map[string]string{"r0": "panic", "r3": "panic", "r4": "panic"}, Undecided, Undecided, True, Undecided, Undecided)
}

func errorContains(p Problem, want string) bool {
	return errors.Unwrap(p) != nil && strings.Contains(p.Error(), want)
}

// TestConcurrentUse: one program, many goroutines.
func TestConcurrentUse(t *testing.T) {
	e := newEngines(t, 200)
	want := make([][]int, len(e.observed))
	for i := range e.observed {
		want[i] = append([]int(nil), e.bind(i)...)
	}
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			f, v := e.program.NewFacts(), new(Verdict)
			for i, o := range e.observed {
				e.program.Bind(f, o, nil, BindOptions{})
				e.program.Evaluate(f, v)
				if !equalInts(v.Fired(), want[i]) {
					t.Errorf("message %d: %v, want %v", i, v.Fired(), want[i])
				}
			}
		})
	}
	group.Wait()
}

func TestEvaluateDoesNotAllocate(t *testing.T) {
	e := newEngines(t, 200)
	for i := range e.observed {
		e.bind(i)
	}
	i := 0
	if n := testing.AllocsPerRun(100, func() { e.bind(i & 63); e.set(i & 63); i++ }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
