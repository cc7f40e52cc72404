package loop_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/loop"
)

func TestExplain(t *testing.T) {
	const (
		extra = "check values: 2k2 parallel 2k2, 2k2 + 2k2"
		ohm   = "series and parallel resistance, by hand"
	)
	single := loop.Single(resistor(2200))
	double := loop.Double(resistor(2200), resistor(4700))
	long := loop.Single(resistor(1000))
	long.Cable = 100
	for _, c := range []struct {
		loop   loop.Loop
		read   float64
		cause  loop.Cause
		state  loop.State
		ohms   float64
		place  int // on the list, -1 for anywhere
		source string
	}{
		{single, 4400, loop.SecondInSeries, loop.Normal, 2200, 0, extra},
		{single, 1100, loop.SecondInParallel, loop.Normal, 2200, 0, extra},
		{long, 600, loop.SecondInParallel, loop.Normal, 1000, 0, ohm},             // at the end: 100 + 500
		{long, 1100e3 / 2100.0, loop.SecondInParallel, loop.Normal, 1000, 0, ohm}, // in the panel: 1100 and 1000
		{single, 1100, loop.OtherEndOfLine, loop.Normal, 1100, 1, "1.1 is a member of E24, IEC 60063"},
		{single, 4700, loop.OtherEndOfLine, loop.Normal, 4700, 0, "4.7 is a member of E24, IEC 60063"},
		{single, 5600, loop.OtherEndOfLine, loop.Normal, 5600, 0, "5.6 is a member of E24, IEC 60063"},
		{single, 2500, loop.AddedSeries, loop.Normal, 300, 0, ohm},
		{single, 2000, loop.Leakage, loop.Normal, 22000, 1, ohm}, // after the 2.0 of E24
		{single, 1900, loop.Leakage, loop.Normal, 1900 * 2200 / 300.0, 0, ohm},
		{single, 400e3, loop.Leakage, loop.Cut, 400e3, -1, ohm},
		{single, 400e3, loop.Leakage, loop.Alarm, 400e3, -1, ohm}, // the contact open
		{single, 40, loop.AddedSeries, loop.Short, 40, -1, ohm},
		{double, 4700, loop.Swapped, loop.Normal, 0, 0, ohm},
		{double, 5500, loop.OtherAlarm, loop.Alarm, 3300, -1, ohm},
		{double, 9100, loop.SecondInSeries, loop.Alarm, 2200, -1, ohm}, // 2200 + 4700 + 2200
		{double, 8000, loop.AddedSeries, loop.Alarm, 1100, -1, ohm},
		{loop.Triple(resistor(1000), resistor(1000), resistor(3000)), 2500, loop.OtherFault, loop.Fault, 1500, -1, ohm},
	} {
		list, err := loop.Explain(c.loop, loop.Reading{Ohms: c.read})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for i, e := range list {
			found = found || e.Cause == c.cause && e.State == c.state && about(e.Ohms, c.ohms) && e.Fits && (c.place < 0 || c.place == i)
		}
		if !found {
			t.Errorf("%g: no %v, %v, %g at %d (%s):\n%+v", c.read, c.cause, c.state, c.ohms, c.place, c.source, list)
		}
	}
}

func TestExplainHasNothingForOverload(t *testing.T) {
	if list, err := loop.Explain(loop.Single(resistor(2200)), loop.Reading{Over: true}); err != nil || list != nil {
		t.Errorf("%v %v", list, err)
	}
}

// Two of 2k2 at 1 % in series are 4356 to 4444 (twice 2178 and 2222, check
// values).
func TestExplainFitsUpToTheTolerance(t *testing.T) {
	for _, c := range []struct {
		reading loop.Reading
		fits    bool
	}{
		{loop.Reading{Ohms: 4356.01}, true}, {loop.Reading{Ohms: 4443.99}, true}, {loop.Reading{Ohms: 4355.9}, false}, {loop.Reading{Ohms: 4444.1}, false},
		{loop.Reading{Ohms: 4450, Uncertainty: 7}, true}, {loop.Reading{Ohms: 4450, Uncertainty: 5}, false},
	} {
		list, err := loop.Explain(loop.Single(resistor(2200)), c.reading)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, e := range list {
			found = found || e.Cause == loop.SecondInSeries
			if e.Cause == loop.SecondInSeries && (e.Fits != c.fits || (e.Misfit <= 1) != c.fits) {
				t.Errorf("%v: %+v", c.reading, e)
			}
		}
		if !found {
			t.Errorf("%v: not on the list", c.reading)
		}
	}
}

// What is fitted, within its tolerance, is on the list; a second resistor in
// the loop is tried at both ends of the cable.
func TestExplainFindsWhatIsWrong(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := func(name string) float64 { return 1 + rapid.Float64Range(-0.0099, 0.0099).Draw(t, name) }
		eol := number24(t, "end")
		l := loop.Double(resistor(eol), resistor(number24(t, "alarm")))
		l.Cable = rapid.Float64Range(0, 500).Draw(t, "cable")
		end, second := eol*share("end is"), eol*share("second is")
		cause := rapid.SampledFrom([]loop.Cause{loop.SecondInSeries, loop.SecondInParallel, loop.OtherEndOfLine}).Draw(t, "cause")
		var read, ohms float64
		switch cause {
		case loop.SecondInSeries:
			read, ohms = l.Cable+end+second, eol
		case loop.SecondInParallel:
			if read, ohms = l.Cable+end*second/(end+second), eol; rapid.Bool().Draw(t, "in the panel") {
				read = (l.Cable + end) * second / (l.Cable + end + second)
			}
		case loop.OtherEndOfLine:
			if ohms = number24(t, "other"); ohms == eol {
				return
			}
			read = l.Cable + ohms*share("other is")
		}
		list, err := loop.Explain(l, loop.Reading{Ohms: read})
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range list {
			if i > 0 && e.Misfit < list[i-1].Misfit {
				t.Fatalf("not in order: %+v", list)
			}
			if e.Cause == cause && e.State == loop.Normal && e.Fits && about(e.Ohms, ohms) {
				return
			}
		}
		t.Fatalf("no %v of %g in %+v", cause, ohms, list)
	})
}

func number24(t *rapid.T, name string) float64 {
	var x float64
	if _, err := fmt.Sscan(rapid.SampledFrom(e24Table).Draw(t, name), &x); err != nil {
		t.Fatal(err)
	}
	return x * 1000
}

// Leakage and added resistance, put into the circuit, give the reading.
func TestExplainedResistanceGivesTheReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		r := loop.Reading{Ohms: drawOhms(t, "ohms"), Uncertainty: rapid.Float64Range(0, 20).Draw(t, "uncertainty")}
		list, err := loop.Explain(l, r)
		if err != nil {
			t.Fatal(err)
		}
		states := resistances(t, l)
		for _, e := range list {
			whole := states[e.State]
			got := e.Ohms + whole.Nominal
			switch {
			case e.Cause == loop.Leakage && whole.Open:
				got = e.Ohms
			case e.Cause == loop.Leakage:
				got = 1 / (1/e.Ohms + 1/whole.Nominal)
			case e.Cause != loop.AddedSeries:
				if e.Fits != (r.Ohms >= e.Would.Low-r.Uncertainty-slack(r.Ohms) && r.Ohms <= e.Would.High+r.Uncertainty+slack(r.Ohms)) {
					t.Fatalf("%v: %+v", r, e)
				}
				continue
			}
			if math.Abs(got-r.Ohms) > 1e-6*(1e-3+r.Ohms) || !(e.Ohms >= 0) {
				t.Fatalf("%v: %+v gives %g", r, e, got)
			}
		}
	})
}

func TestTitles(t *testing.T) {
	seen := map[string]bool{}
	for c := loop.SecondInSeries; c <= loop.Leakage; c++ {
		seen[c.String()] = true
	}
	for s := loop.Short; s <= loop.Cut; s++ {
		seen[s.String()] = true
	}
	for v := loop.One; v <= loop.Between; v++ {
		seen[v.String()] = true
	}
	if len(seen) != 8+6+3 || loop.Cause(0).String() != loop.Cause(99).String() || loop.State(0).String() != loop.State(99).String() ||
		loop.Set(0).String() != "no state" || loop.Verdict(9).String() != "no verdict" || loop.Set(255).Has(7) {
		t.Errorf("%v", seen)
	}
}
