package rules

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"
)

// engines holds the same rules and messages for each engine.
type engines struct {
	work     *workload
	program  *Program
	facts    *Facts
	verdict  Verdict
	observed []*Observed
	partial  []*Observed // a quarter of the readings, as in a real case
	values   [][]named
	programs []*vm.Program
	machine  vm.VM
	env      map[string]any
	envs     []map[string]any
	fired    []int
	slots    workFacts
}

func newEngines(t testing.TB, rules int) *engines {
	t.Helper()
	e := &engines{work: newWorkload(rules), fired: make([]int, 0, rules)}
	var err error
	if e.program, err = Compile(e.work.pack(t)); err != nil {
		t.Fatal(err)
	}
	e.facts = e.program.NewFacts()
	for i := range e.work.messages {
		m := &e.work.messages[i]
		o, part := &Observed{}, &Observed{}
		values := m.values(e.program)
		for k, v := range values {
			o.Set(v.reading, v.subject, v.value)
			if k == 0 || (k+i)%4 == 0 {
				part.Set(v.reading, v.subject, v.value)
			}
		}
		e.partial = append(e.partial, part)
		e.observed, e.values, e.envs = append(e.observed, o), append(e.values, values), append(e.envs, m.environment())
	}
	e.env = maps.Clone(e.envs[0])
	for _, r := range e.work.rules {
		program, err := expr.Compile(r.expr, expr.Env(e.env), expr.AsBool())
		if err != nil {
			t.Fatalf("%s: %v", r.expr, err)
		}
		e.programs = append(e.programs, program)
	}
	return e
}

// bind builds the facts from the maps of a case.
func (e *engines) bind(i int) []int {
	e.program.Bind(e.facts, e.observed[i], nil, BindOptions{})
	e.program.Evaluate(e.facts, &e.verdict)
	return e.verdict.Fired()
}

// bind15 does the same with about 15 readings known.
func (e *engines) bind15(i int) []int {
	e.program.Bind(e.facts, e.partial[i], nil, BindOptions{})
	e.program.Evaluate(e.facts, &e.verdict)
	return e.verdict.Fired()
}

// set changes every reading of kept facts by its slot.
func (e *engines) set(i int) []int {
	for k := range e.values[i] {
		e.facts.Set(e.values[i][k].slot, e.values[i][k].value)
	}
	e.program.Evaluate(e.facts, &e.verdict)
	return e.verdict.Fired()
}

// expr builds the environment and runs one program for each rule.
func (e *engines) expr(i int) []int {
	for k, v := range e.envs[i] {
		e.env[k] = v
	}
	e.fired = e.fired[:0]
	for k, p := range e.programs {
		out, err := e.machine.Run(p, e.env)
		if yes, ok := out.(bool); err == nil && ok && yes {
			e.fired = append(e.fired, k)
		}
	}
	return e.fired
}

// closures fills the slots and calls one function for each rule.
func (e *engines) closures(i int) []int {
	e.slots = e.work.messages[i]
	e.fired = e.fired[:0]
	for k := range e.work.rules {
		if e.work.rules[k].closure(&e.slots) {
			e.fired = append(e.fired, k)
		}
	}
	return e.fired
}

// crossCheck holds all engines to the same fired rules on every message, and
// so checks the flat form against a loop over expr programs.
func (e *engines) crossCheck(t testing.TB) {
	t.Helper()
	total := 0
	for i := range e.work.messages {
		want := slices.Clone(e.closures(i))
		for name, run := range map[string]func(int) []int{"bind": e.bind, "set": e.set, "expr": e.expr} {
			if got := run(i); !slices.Equal(got, want) {
				t.Fatalf("message %d: %s fires %v, closures fire %v", i, name, got, want)
			}
		}
		if len(e.verdict.Problems()) > 0 {
			t.Fatal(e.verdict.Problems())
		}
		total += len(want)
	}
	if total == 0 {
		t.Fatal("no rule ever fires")
	}
}

func TestEnginesAgree(t *testing.T) {
	for _, n := range []int{100, 1000} {
		e := newEngines(t, n)
		e.crossCheck(t)
		for i := range e.work.messages {
			e.bind(i)
			if n := len(e.verdict.Undecided()); n > 0 {
				t.Fatalf("%d rules are unknown though everything is known", n)
			}
		}
	}
}

// BenchmarkEvaluate takes one message after another: 64 in rotation, so that
// no predictor learns one. Building the facts and collecting what fired (and
// what is unknown) is inside the measured time. The flat form is three-valued;
// the others are not. "x flat" is how many times slower than flat-set.
func BenchmarkEvaluate(b *testing.B) {
	for _, n := range []int{100, 1000, 10000} {
		e := newEngines(b, n)
		e.crossCheck(b)
		b.Logf("%d rules: %d different conditions as written, %d codes", n, e.work.distinct, e.program.flat.size)
		flat := 0.0
		for _, engine := range []struct {
			name string
			run  func(int) []int
		}{{"flat-set", e.set}, {"flat-change3", e.change}, {"flat-bind", e.bind}, {"flat-bind15", e.bind15}, {"closures", e.closures}, {"expr", e.expr}} {
			b.Run(fmt.Sprintf("%d/%s", n, engine.name), func(b *testing.B) {
				b.ReportAllocs()
				i := 0
				start := time.Now()
				for b.Loop() {
					engine.run(i & 63)
					i++
				}
				perRule := float64(time.Since(start).Nanoseconds()) / float64(i) / float64(n)
				if engine.name == "flat-set" {
					flat = perRule
				}
				b.ReportMetric(perRule, "ns/rule")
				if flat > 0 {
					b.ReportMetric(perRule/flat, "x-flat")
				}
			})
		}
	}
}

// change changes three readings of kept facts, as one message of a
// conversation does.
func (e *engines) change(i int) []int {
	for k := range 3 {
		v := &e.values[i][(i+k*17)%len(e.values[i])]
		e.facts.Set(v.slot, v.value)
	}
	e.program.Evaluate(e.facts, &e.verdict)
	return e.verdict.Fired()
}
