package loop_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/loop"
)

func resistor(ohms float64) loop.Resistor { return loop.Resistor{Ohms: ohms, Tolerance: 1} }

// resistances takes a loop that is right, in a test or in a property.
func resistances(t interface {
	Helper()
	Fatal(...any)
}, l loop.Loop) map[loop.State]loop.Interval {
	t.Helper()
	list, err := l.States()
	if err != nil {
		t.Fatal(err)
	}
	states := map[loop.State]loop.Interval{}
	for _, s := range list {
		states[s.State] = s.Resistance
	}
	return states
}

func about(got, want float64) bool { return math.Abs(got-want) <= 1e-9*math.Abs(want) }

func TestStates(t *testing.T) {
	const (
		percent  = "check values: value at 1 %, recomputed"
		loopOf7  = "check values: 100 m of 7/0.2 mm from IACS, 15.680 ohm both ways"
		parallel = "check values: 2k2 parallel 2k2; 2k2 + 2k2"
	)
	cable := loop.Single(resistor(2200))
	cable.Cable = 15.680
	open := loop.Double(resistor(2200), resistor(2200))
	open.Alarm.Contact, open.Alarm.Place = loop.NormallyOpen, loop.AcrossEnd
	for _, c := range []struct {
		loop               loop.Loop
		state              loop.State
		low, nominal, high float64 // 0: not in the source
		source             string
	}{
		{loop.Single(resistor(2200)), loop.Normal, 2178, 2200, 2222, percent},
		{loop.Single(resistor(4700)), loop.Normal, 4653, 4700, 4747, percent},
		{loop.Single(resistor(1000)), loop.Normal, 990, 1000, 1010, percent},
		{loop.Single(resistor(5600)), loop.Normal, 5544, 5600, 5656, percent},
		{cable, loop.Normal, 0, 2215.68, 0, loopOf7},
		{cable, loop.Short, 0, 0, 15.680, loopOf7},
		{open, loop.Alarm, 0, 1100, 0, parallel},
		{loop.Double(resistor(2200), resistor(2200)), loop.Alarm, 0, 4400, 0, parallel},
	} {
		got := resistances(t, c.loop)[c.state]
		if got.Open || !about(got.Nominal, c.nominal) || c.low != 0 && !about(got.Low, c.low) || c.high != 0 && !about(got.High, c.high) {
			t.Errorf("%v is %v, want %g to %g, nominally %g (%s)", c.state, got, c.low, c.high, c.nominal, c.source)
		}
	}
}

func TestStatesThatALoopKnows(t *testing.T) {
	single := resistances(t, loop.Single(resistor(2200)))
	if len(single) != 4 || !single[loop.Alarm].Open || !single[loop.Cut].Open || single[loop.Normal].Open || single[loop.Short].Open {
		t.Errorf("single: %v", single)
	}
	if triple := resistances(t, loop.Triple(resistor(2200), resistor(4700), resistor(6800))); len(triple) != 6 || triple[loop.AlarmAndFault].Open {
		t.Errorf("triple: %v", triple)
	}
	if bare := resistances(t, loop.Loop{EndOfLine: resistor(2200)}); len(bare) != 3 {
		t.Errorf("no contact: %v", bare)
	}
}

func TestStatesRefuses(t *testing.T) {
	good := func() loop.Loop { return loop.Triple(resistor(2200), resistor(4700), resistor(6800)) }
	for _, bad := range []float64{-1, 1e10, math.NaN(), math.Inf(1), math.Inf(-1)} {
		for quantity, spoil := range map[string]func(*loop.Loop){
			"resistance of the end-of-line resistor": func(l *loop.Loop) { l.EndOfLine.Ohms = bad },
			"tolerance of the end-of-line resistor":  func(l *loop.Loop) { l.EndOfLine.Tolerance = bad },
			"resistance of the alarm resistor":       func(l *loop.Loop) { l.Alarm.Resistor.Ohms = bad },
			"tolerance of the alarm resistor":        func(l *loop.Loop) { l.Alarm.Resistor.Tolerance = bad },
			"resistance of the fault resistor":       func(l *loop.Loop) { l.Fault.Resistor.Ohms = bad },
			"tolerance of the fault resistor":        func(l *loop.Loop) { l.Fault.Resistor.Tolerance = bad },
			"resistance of the cable":                func(l *loop.Loop) { l.Cable = bad },
			"resistance of a closed contact":         func(l *loop.Loop) { l.ClosedContact = bad },
			"kind of the alarm contact":              func(l *loop.Loop) { l.Alarm.Contact = 3 },
			"place of the alarm contact":             func(l *loop.Loop) { l.Alarm.Place = 3 },
			"kind of the fault contact":              func(l *loop.Loop) { l.Fault.Contact = 3 },
			"place of the fault contact":             func(l *loop.Loop) { l.Fault.Place = 3 },
		} {
			l := good()
			spoil(&l)
			_, err := l.States()
			wantOutOfRange(t, "states", err, quantity)
			_, err = loop.NewClassifier(l, loop.Settings{ShortLimit: 100, OpenLimit: 50e3})
			wantOutOfRange(t, "classifier", err, quantity)
			_, err = loop.Explain(l, loop.Reading{Ohms: 3000})
			wantOutOfRange(t, "explain", err, quantity)
		}
	}
}

func drawResistor(t *rapid.T, name string) loop.Resistor {
	return loop.Resistor{
		Ohms:      rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1, 1e6), rapid.SampledFrom([]float64{1000, 2200, 4700, 5600})).Draw(t, name),
		Tolerance: rapid.SampledFrom([]float64{0, 0.1, 1, 5, 20, 50}).Draw(t, "tolerance of "+name),
	}
}

func drawBranch(t *rapid.T, name string) loop.Branch {
	return loop.Branch{
		Contact:  loop.Contact(rapid.IntRange(0, 2).Draw(t, name+" contact")),
		Place:    loop.Place(rapid.IntRange(0, 2).Draw(t, name+" place")),
		Resistor: drawResistor(t, name),
	}
}

func drawLoop(t *rapid.T) loop.Loop {
	return loop.Loop{
		EndOfLine: drawResistor(t, "end"), Alarm: drawBranch(t, "alarm"), Fault: drawBranch(t, "fault"), Tamper: rapid.Bool().Draw(t, "tamper"),
		Cable:         rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 500)).Draw(t, "cable"),
		ClosedContact: rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 50)).Draw(t, "contact"),
	}
}

// slack is for the last bits: the order of operations differs.
func slack(x float64) float64 { return 1e-12 * (1 + math.Abs(x)) }

func TestIntervalsHoldTheNominal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for state, r := range resistances(t, drawLoop(t)) {
			if r.Open && r != (loop.Interval{Open: true}) || r.Low > r.Nominal+slack(r.Nominal) || r.Nominal > r.High+slack(r.High) ||
				!(r.Low >= 0) || math.IsInf(r.High, 0) || math.IsNaN(r.High) {
				t.Fatalf("%v: %v", state, r)
			}
		}
	})
}

// A component somewhere in its tolerance never leaves the interval.
func TestNoComponentLeavesTheInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		fitted := l
		for _, r := range []*loop.Resistor{&fitted.EndOfLine, &fitted.Alarm.Resistor, &fitted.Fault.Resistor} {
			r.Ohms *= 1 + rapid.Float64Range(-1, 1).Draw(t, "deviation")*r.Tolerance/100
			r.Tolerance = 0
		}
		fitted.ClosedContact = 0
		inside := resistances(t, fitted)
		for state, r := range resistances(t, l) {
			got := inside[state].Nominal
			if r.Open != inside[state].Open || got < r.Low-slack(got) || got > r.High+slack(got) {
				t.Fatalf("%v: %v outside %v", state, inside[state], r)
			}
		}
	})
}

func TestWiderTolerancesNeverShrinkAnInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		wider := l
		more := rapid.Float64Range(0, 30).Draw(t, "more")
		wider.EndOfLine.Tolerance = min(50, l.EndOfLine.Tolerance+more)
		wider.Alarm.Resistor.Tolerance = min(50, l.Alarm.Resistor.Tolerance+more)
		wider.Fault.Resistor.Tolerance = min(50, l.Fault.Resistor.Tolerance+more)
		wider.ClosedContact += more
		was := resistances(t, l)
		for state, r := range resistances(t, wider) {
			if w := was[state]; r.Low > w.Low+slack(w.Low) || r.High < w.High-slack(w.High) || r.Nominal != w.Nominal {
				t.Fatalf("%v: %v became %v", state, w, r)
			}
		}
	})
}

// More of any component never lowers a resistance; of the cable it adds itself.
func TestMoreNeverLowersAResistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		longer, greater := l, l
		more := rapid.Float64Range(0, 100).Draw(t, "more")
		longer.Cable += more
		for _, r := range []*loop.Resistor{&greater.EndOfLine, &greater.Alarm.Resistor, &greater.Fault.Resistor} {
			if r.Ohms > 0 { // 0 is none
				r.Ohms += more
			}
		}
		was, added := resistances(t, l), resistances(t, longer)
		for state, g := range resistances(t, greater) {
			w, a := was[state], added[state]
			if g.Low < w.Low-slack(w.Low) || g.Nominal < w.Nominal-slack(w.Nominal) || g.High < w.High-slack(w.High) {
				t.Fatalf("%v: %v became %v", state, w, g)
			}
			if state != loop.Short && !w.Open && math.Abs(a.Nominal-w.Nominal-more) > 1e-9*(1+a.Nominal) || a.High < w.High || a.Low < w.Low {
				t.Fatalf("%v: %v became %v with %g of cable", state, w, a, more)
			}
		}
	})
}
