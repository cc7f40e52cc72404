package loop_test

import (
	"math"
	"slices"
	"testing"

	"ferrule/knowledge/loop"
)

var settings = loop.Settings{ShortLimit: 100, OpenLimit: 50e3} // of our own

func classifier(t interface {
	Helper()
	Fatal(...any)
}, l loop.Loop, s loop.Settings) *loop.Classifier {
	t.Helper()
	c, err := loop.NewClassifier(l, s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func classify(t interface {
	Helper()
	Fatal(...any)
}, c *loop.Classifier, r loop.Reading) loop.Result {
	t.Helper()
	got, err := c.Classify(r)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// A double loop of 2k2 and 2k2, 1 %: 2178 to 2222 (check values) and twice that
// in alarm (circuit theory); the threshold between them is (2200 + 4400) / 2.
func TestClassify(t *testing.T) {
	c := classifier(t, loop.Double(resistor(2200), resistor(2200)), settings)
	for _, tt := range []struct {
		reading             loop.Reading
		verdict             loop.Verdict
		possible            string
		lower, upper, panel string
		margin, percent     float64
		next                string
	}{
		{loop.Reading{Ohms: 2200}, loop.One, "normal", "", "", "normal", 1100, 50, "alarm"},
		{loop.Reading{Ohms: 2222, Uncertainty: 10}, loop.One, "normal", "", "", "normal", 1068, 100 * 1068.0 / 2222, "alarm"},
		{loop.Reading{Ohms: 4400}, loop.One, "alarm", "", "", "alarm", 1100, 25, "normal"},
		{loop.Reading{Ohms: 3200}, loop.Between, "", "normal", "alarm", "normal", 100, 3.125, "alarm"},
		{loop.Reading{Ohms: 3400, Uncertainty: 150}, loop.Between, "", "normal", "alarm", "alarm", -50, -100 * 50.0 / 3400, "normal"},
		{loop.Reading{Ohms: 1100}, loop.Between, "", "short", "normal", "normal", 1000, 100 * 1000.0 / 1100, "short"},
		{loop.Reading{Ohms: 20e3}, loop.Between, "", "alarm", "cut", "alarm", 16700, 83.5, "normal"},
		{loop.Reading{Ohms: 0}, loop.One, "short", "", "", "short", 100, 100, "normal"},
		{loop.Reading{Ohms: 60e3}, loop.One, "cut", "", "", "cut", 10e3, 100.0 / 6, "alarm"},
		{loop.Reading{Over: true, Ohms: math.NaN()}, loop.One, "cut", "", "", "cut", 0, 0, ""},
		{loop.Reading{Ohms: 3300, Uncertainty: 1200}, loop.Several, "normal or alarm", "", "", "normal", -1200, -100 * 1200.0 / 3300, "alarm"},
	} {
		got := classify(t, c, tt.reading)
		if got.Verdict != tt.verdict || name(got.Possible) != tt.possible || name(got.Lower) != tt.lower || name(got.Upper) != tt.upper ||
			name(got.Panel) != tt.panel || name(got.Next) != tt.next || !about(got.Margin, tt.margin) || !about(got.MarginPercent, tt.percent) {
			t.Errorf("%v: %+v", tt.reading, got)
		}
		if (got.Verdict == loop.One) != (got.State != 0) || got.State != 0 && !got.Possible.Has(got.State) {
			t.Errorf("%v: state %v with %v", tt.reading, got.State, got.Verdict)
		}
	}
}

func name(s loop.Set) string {
	if s == 0 {
		return ""
	}
	return s.String()
}

// With one resistor the panel can't tell an alarm from a cut; a contact without
// a resistor at all can't be told from a short either.
func TestStatesThatCannotBeToldApart(t *testing.T) {
	equal := loop.Triple(resistor(2200), resistor(4700), resistor(4700)) // alarm is fault
	loose := loop.Double(loop.Resistor{Ohms: 2200, Tolerance: 20}, loop.Resistor{Ohms: 1000, Tolerance: 20})
	for _, tt := range []struct {
		name  string
		loop  loop.Loop
		pairs []loop.Gap
	}{
		{"single", loop.Single(resistor(2200)), []loop.Gap{{A: loop.Alarm, B: loop.Cut}}},
		{"double", loop.Double(resistor(2200), resistor(2200)), nil},
		{"contact only", loop.Single(loop.Resistor{}), []loop.Gap{{A: loop.Normal, B: loop.Short}, {A: loop.Alarm, B: loop.Cut}}},
		{"equal", equal, []loop.Gap{{A: loop.Alarm, B: loop.Fault}}},
		{"loose", loose, []loop.Gap{{A: loop.Normal, B: loop.Alarm}}}, // to 2640 and from 2560
	} {
		var pairs []loop.Gap
		gaps := classifier(t, tt.loop, settings).Gaps()
		for _, g := range gaps {
			if !g.Apart {
				pairs = append(pairs, loop.Gap{A: g.A, B: g.B})
			}
		}
		if !slices.Equal(pairs, tt.pairs) {
			t.Errorf("%s: %v, want %v", tt.name, gaps, tt.pairs)
		}
	}
}

// 2200 and 4700 at 1 % are 6831 to 6969, 2200 at 1 % and 5100 at 5 % are 7023
// to 7577.
func TestSmallestGap(t *testing.T) {
	l := loop.Triple(resistor(2200), resistor(4700), loop.Resistor{Ohms: 5100, Tolerance: 5})
	if g := classifier(t, l, settings).Gaps()[0]; g.A != loop.Alarm || g.B != loop.Fault || !about(g.Ohms, 54) || !g.Apart {
		t.Errorf("%v", g)
	}
}

func TestSeveralStatesAreAnAnswer(t *testing.T) {
	c := classifier(t, loop.Single(resistor(2200)), settings)
	if got := classify(t, c, loop.Reading{Over: true}); got.Verdict != loop.Several || got.Possible.String() != "alarm or cut" || got.Panel.String() != "alarm or cut" {
		t.Errorf("open: %+v", got)
	}
}

func TestGivenThresholds(t *testing.T) {
	s := settings
	s.Steps = []loop.Step{{500, loop.Short}, {3000, loop.Normal}, {9000, loop.Alarm}}
	c := classifier(t, loop.Double(resistor(1000), resistor(1000)), s)
	want := []loop.Level{{0, only(t, c, 400)}, {500, only(t, c, 600)}, {3000, only(t, c, 3500)}, {9000, only(t, c, 9500)}}
	if got := c.Levels(); !slices.Equal(got, want) || want[1].States.String() != "normal" || want[3].States.String() != "cut" {
		t.Errorf("%v, want %v", got, want)
	}
	// The panel expects other resistors: an alarm of 2000 looks normal to it.
	if got := classify(t, c, loop.Reading{Ohms: 2000}); got.State != loop.Alarm || got.Panel.String() != "normal" || got.Margin != 1000 || got.Next.String() != "alarm" {
		t.Errorf("%+v", got)
	}
}

func only(t *testing.T, c *loop.Classifier, ohms float64) loop.Set {
	t.Helper()
	return classify(t, c, loop.Reading{Ohms: ohms}).Panel
}

func TestClassifierRefuses(t *testing.T) {
	l := loop.Double(resistor(2200), resistor(2200))
	c := classifier(t, l, settings)
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range []float64{-1, 2e12, nan, inf, -inf} {
		for quantity, r := range map[string]loop.Reading{
			"resistance read": {Ohms: bad}, "uncertainty of the meter": {Ohms: 1, Uncertainty: bad},
		} {
			_, err := c.Classify(r)
			wantOutOfRange(t, "classify", err, quantity)
			_, err = loop.Explain(l, r)
			wantOutOfRange(t, "explain", err, quantity)
		}
		for quantity, s := range map[string]loop.Settings{
			"short limit": {ShortLimit: bad, OpenLimit: 50e3}, "open limit": {ShortLimit: 100, OpenLimit: bad},
			"threshold of the panel": {ShortLimit: 100, OpenLimit: 50e3, Steps: []loop.Step{{bad, loop.Normal}}},
		} {
			_, err := loop.NewClassifier(l, s)
			wantOutOfRange(t, "classifier", err, quantity)
		}
	}
	for _, tt := range []struct {
		quantity string
		settings loop.Settings
	}{
		{"short limit", loop.Settings{OpenLimit: 50e3}},
		{"open limit", loop.Settings{ShortLimit: 100, OpenLimit: 100}},
		{"threshold of the panel", loop.Settings{ShortLimit: 100, OpenLimit: 50e3, Steps: []loop.Step{{500, loop.Short}, {500, loop.Normal}}}},
		{"threshold of the panel", loop.Settings{ShortLimit: 100, OpenLimit: 50e3, Steps: []loop.Step{{0, loop.Short}}}},
		{"state of a threshold", loop.Settings{ShortLimit: 100, OpenLimit: 50e3, Steps: []loop.Step{{500, 0}}}},
		{"state of a threshold", loop.Settings{ShortLimit: 100, OpenLimit: 50e3, Steps: []loop.Step{{500, 7}}}},
		{"number of thresholds", loop.Settings{ShortLimit: 100, OpenLimit: 50e3, Steps: make([]loop.Step, 8)}},
	} {
		_, err := loop.NewClassifier(l, tt.settings)
		wantOutOfRange(t, "classifier", err, tt.quantity)
	}
}
