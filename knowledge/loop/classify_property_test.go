package loop_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/loop"
)

func drawClassifier(t *rapid.T) (*loop.Classifier, loop.Loop, loop.Settings) {
	l := drawLoop(t)
	s := loop.Settings{ShortLimit: rapid.Float64Range(1, 500).Draw(t, "short")}
	s.OpenLimit = s.ShortLimit + rapid.Float64Range(1, 2e6).Draw(t, "open")
	if rapid.Bool().Draw(t, "given") {
		at := 0.0
		for state := loop.Short; state < loop.Cut; state++ {
			at += rapid.Float64Range(1, 1e4).Draw(t, "step")
			s.Steps = append(s.Steps, loop.Step{UpTo: at, State: state})
		}
	}
	return classifier(t, l, s), l, s
}

func drawOhms(t *rapid.T, name string) float64 {
	return rapid.OneOf(rapid.Float64Range(0, 500), rapid.Float64Range(0, 2e4), rapid.Float64Range(0, 5e6)).Draw(t, name)
}

// within says in which states' intervals a reading lies, the limits included.
func within(l map[loop.State]loop.Interval, s loop.Settings, ohms float64) (in []loop.State) {
	for state := loop.Short; state <= loop.Cut; state++ {
		r, ok := l[state]
		switch {
		case !ok:
		case r.Open && ohms >= s.OpenLimit, state == loop.Short && ohms <= s.ShortLimit, !r.Open && ohms >= r.Low && ohms <= r.High:
			in = append(in, state)
		}
	}
	return in
}

func TestAReadingInOneIntervalIsThatState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, l, s := drawClassifier(t)
		states := resistances(t, l)
		ohms := drawOhms(t, "ohms")
		if r := states[rapid.SampledFrom([]loop.State{loop.Normal, loop.Alarm, loop.Fault, loop.AlarmAndFault}).Draw(t, "state")]; r.High > 0 {
			ohms = min(r.High, r.Low+rapid.Float64Range(0, 1).Draw(t, "share")*(r.High-r.Low))
		}
		got := classify(t, c, loop.Reading{Ohms: ohms})
		in := within(states, s, ohms)
		for _, state := range in {
			if !got.Possible.Has(state) {
				t.Fatalf("%g in %v: %+v", ohms, in, got)
			}
		}
		switch len(in) {
		case 0:
			if got.Verdict != loop.Between || got.Lower == 0 || got.Upper == 0 || got.Possible != 0 {
				t.Fatalf("%g in nothing: %+v", ohms, got)
			}
		case 1:
			if got.Verdict != loop.One || got.State != in[0] {
				t.Fatalf("%g in %v: %+v", ohms, in, got)
			}
		default:
			if got.Verdict != loop.Several {
				t.Fatalf("%g in %v: %+v", ohms, in, got)
			}
		}
	})
}

// Two readings that differ lie on two sides of an end of an interval or of a
// limit, or of a threshold of the panel.
func TestClassificationChangesOnlyAtBoundaries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, l, s := drawClassifier(t)
		a := drawOhms(t, "a")
		b := a + rapid.OneOf(rapid.Float64Range(0, 100), rapid.Float64Range(0, 1e4)).Draw(t, "more")
		first, second := classify(t, c, loop.Reading{Ohms: a}), classify(t, c, loop.Reading{Ohms: b})
		crossed := func(boundary float64) bool { return a <= boundary && boundary <= b }
		ends := crossed(s.ShortLimit) || crossed(s.OpenLimit)
		for _, r := range resistances(t, l) {
			ends = ends || !r.Open && (crossed(r.Low) || crossed(r.High))
		}
		if !ends && (first.Verdict != second.Verdict || first.Possible != second.Possible || first.Lower != second.Lower || first.Upper != second.Upper) {
			t.Fatalf("%g: %+v\n%g: %+v", a, first, b, second)
		}
		levels := false
		for _, level := range c.Levels() {
			levels = levels || crossed(level.From)
		}
		if !levels && first.Panel != second.Panel {
			t.Fatalf("%g: %v\n%g: %v in %v", a, first.Panel, b, second.Panel, c.Levels())
		}
	})
}

// A margin changes by no more than the reading and the uncertainty do, and is
// nothing at a threshold.
func TestMarginsAreContinuous(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, _, s := drawClassifier(t)
		a := loop.Reading{Ohms: drawOhms(t, "ohms"), Uncertainty: rapid.Float64Range(0, 100).Draw(t, "uncertainty")}
		b := a
		b.Ohms += rapid.Float64Range(0, 10).Draw(t, "more")
		b.Uncertainty += rapid.Float64Range(0, 10).Draw(t, "less sure")
		first, second := classify(t, c, a), classify(t, c, b)
		change := b.Ohms - a.Ohms + b.Uncertainty - a.Uncertainty
		if d := math.Abs(first.Margin - second.Margin); d > change+slack(1e7) {
			t.Fatalf("%v and %v: %g and %g", a, b, first.Margin, second.Margin)
		}
		// In %: of at least the short limit, so the slope is bounded too.
		base := max(a.Ohms, s.ShortLimit)
		if d := math.Abs(first.MarginPercent - second.MarginPercent); d > 100*change/base*(1+math.Abs(second.Margin)/max(b.Ohms, s.ShortLimit))+1e-6 {
			t.Fatalf("%v and %v: %g %% and %g %%", a, b, first.MarginPercent, second.MarginPercent)
		}
		for _, level := range c.Levels()[1:] {
			if got := classify(t, c, loop.Reading{Ohms: level.From}); got.Margin != 0 || got.MarginPercent != 0 {
				t.Fatalf("at %g: %+v", level.From, got)
			}
		}
	})
}

func TestGapsAreThoseOfTheIntervals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, l, s := drawClassifier(t)
		states := resistances(t, l)
		gaps := c.Gaps()
		if n := len(states); len(gaps) != n*(n-1)/2 {
			t.Fatalf("%d gaps of %d states", len(gaps), n)
		}
		last := math.Inf(-1)
		for _, g := range gaps {
			if g.Ohms < last || g.Apart != (g.Ohms > 0) || math.IsInf(g.Ohms, 0) || math.IsNaN(g.Ohms) {
				t.Fatalf("%v after %g", g, last)
			}
			last = g.Ohms
			a, b := states[g.A], states[g.B]
			if g.Apart && !a.Open && !b.Open && g.A != loop.Short && (!about(g.Ohms, b.Low-a.High) || len(within(states, s, (a.High+b.Low)/2)) > len(states)-2) {
				t.Fatalf("%v between %v and %v", g, a, b)
			}
		}
	})
}

func FuzzClassify(f *testing.F) {
	f.Add(2200.0, 1.0, 2200.0, 1.0, 15.68, 0.5, 100.0, 50e3, 3300.0, 10.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 0.0, 0.0)
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e300, 1e-300, 0.0, 1.0, 2.0, math.Inf(-1), math.NaN())
	f.Add(1e9, 50.0, 1e9, 50.0, 1e6, 1e6, 1e-3, 1e9, 1e12, 1e12)
	f.Fuzz(func(t *testing.T, end, tolerance, alarm, other, cable, contact, short, open, ohms, uncertainty float64) {
		l := loop.Double(loop.Resistor{Ohms: end, Tolerance: tolerance}, loop.Resistor{Ohms: alarm, Tolerance: other})
		l.Cable, l.ClosedContact = cable, contact
		r := loop.Reading{Ohms: ohms, Uncertainty: uncertainty}
		if list, err := loop.Explain(l, r); err == nil {
			for _, e := range list {
				finite(t, e.Ohms, e.Misfit, e.Would.Low, e.Would.Nominal, e.Would.High)
			}
		}
		c, err := loop.NewClassifier(l, loop.Settings{ShortLimit: short, OpenLimit: open})
		if err != nil {
			return
		}
		for _, g := range c.Gaps() {
			finite(t, g.Ohms)
		}
		for _, level := range c.Levels() {
			finite(t, level.From)
		}
		got, err := c.Classify(r)
		if err != nil {
			return
		}
		finite(t, got.Margin, got.MarginPercent)
		if got.Verdict == 0 || got.Panel == 0 || (got.Possible == 0) != (got.Verdict == loop.Between) {
			t.Fatalf("%v: %+v", r, got)
		}
	})
}

func finite(t *testing.T, list ...float64) {
	t.Helper()
	for _, x := range list {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("%v", list)
		}
	}
}
