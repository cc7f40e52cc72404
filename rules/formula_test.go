package rules

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// ends are the arguments between which each formula is tried.
var ends = map[string][2]float64{
	"radiated power": {1, 500}, "aerial loss": {0, 20}, "distance": {1, 400}, "heavy walls": {0, 6}, "light walls": {0, 6}, "floors": {0, 4},
	"displayed": {0, 100}, "level at 0 %": {-120, -90}, "level at 100 %": {-60, -30}, "level": {-130, -20},
	"length one way": {0, 500}, "section of a core": {0.1, 4}, "current": {0.001, 3}, "capacity": {0.5, 100},
	"standby time": {1, 100}, "alarm current": {0, 5}, "alarm time": {0, 1}, "voltage at rest": {11, 13.5},
	"source": {12, 15}, "least": {9, 11.5}, "drawn": {0.01, 2}, "charger": {1.1, 5}, "load": {0, 1}, "voltage under load": {9, 10.9},
	"measured": {0, 20000}, "resistor": {500, 10000}, "tolerance": {0, 20}, "cable both ways": {0, 100},
}

func drawFormula(t *rapid.T) (*formula, [][2]float64) {
	f := &formulas[rapid.IntRange(0, len(formulas)-1).Draw(t, "formula")]
	span := make([][2]float64, len(f.takes))
	for i, p := range f.takes {
		e, ok := ends[p.name]
		if !ok {
			t.Fatalf("%s takes %s, and the test knows no ends for it", f.name, p.name)
		}
		a, b := rapid.Float64Range(e[0], e[1]).Draw(t, p.name), rapid.Float64Range(e[0], e[1]).Draw(t, p.name)
		span[i] = [2]float64{min(a, b), max(a, b)}
		if p.trend == neither {
			span[i][1] = span[i][0]
		}
	}
	return f, span
}

// What a formula gives for a range holds for everything inside the range: that
// is what the trends are declared for.
func TestFormulaOverARangeHoldsInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, span := drawFormula(t)
		args, x := make([]interval, len(span)), make([]float64, len(span))
		for i, s := range span {
			args[i] = interval{s[0], s[1]}
			x[i] = rapid.Float64Range(s[0], s[1]).Draw(t, "inside")
		}
		whole, err := f.apply(args)
		if err != nil {
			t.Fatal(err)
		}
		y, err := f.at(x)
		if err != nil {
			t.Fatal(err)
		}
		if y < whole.lo || y > whole.hi {
			t.Fatalf("%s%v is %v, outside %v", f.name, x, y, whole)
		}
	})
}

func TestFormulaWithAnOpenEnd(t *testing.T) {
	f := formulaOf("standby_hours")
	got, err := f.apply([]interval{point(7), {0.1, math.Inf(1)}})
	if err != nil || !math.IsInf(got.lo, -1) || math.Abs(got.hi-7*0.8/0.1) > 1e-6 {
		t.Errorf("at least 100 mA: %v %v", got, err)
	}
	got, err = f.apply([]interval{anything, point(0.1)})
	if err != nil || got != anything {
		t.Errorf("an unknown capacity: %v %v", got, err)
	}
	got, err = formulaOf("ohms_outside").apply([]interval{point(2200), point(2200), {1, 5}, point(0)})
	if err != nil || got != anything {
		t.Errorf("a tolerance that nobody knows: %v %v", got, err)
	}
}

// Sources: see the packages; here only that the rule language passes the
// quantities on in their units. 7/0.2 has 0.219911 mm2, and 100 m of it lose
// 4.704 V to 300 mA (IACS); 7 Ah at four fifths carry 0.35 A for 16 h.
func TestFormulasInRules(t *testing.T) {
	for _, c := range []struct {
		name string
		x    []float64
		want float64
		near float64
	}{
		{"cable_drop", []float64{100, 0.219911, 0.3}, 4.7040, 2e-4},
		{"free_space_loss", []float64{100}, 71.2212, 5e-5},                    // 31.2182 at 868 MHz, 0.0030 dB more at 868.3, and 40 dB
		{"greatest_length", []float64{13.8, 9.096, 0.219911, 0.3}, 100, 0.01}, // 7/0.2 by IACS
		{"recharge_hours", []float64{7, 0.0778 / 0.85, 0}, 72, 0.05},          // 80 % of 7 Ah in 72 h are 77.8 mA without loss
		{"resistance_inside", []float64{12.4, 11.2, 2}, 0.6, 1e-12},
		{"standby_hours", []float64{7, 0.35}, 16, 1e-9},
		{"capacity_needed", []float64{12, 0.35, 0, 0}, 4.2 / 0.8, 1e-9},
		{"level_of_percent", []float64{38, -100, -40}, -77.2, 1e-9},
		{"percent_of_level", []float64{-77.2, -100, -40}, 38, 1e-9},
		{"percent_of_level", []float64{-20, -100, -40}, 100, 1e-9},
		{"ohms_outside", []float64{2215, 2200, 1, 15.68}, 0, 1e-9},
		{"ohms_outside", []float64{4400, 2200, 1, 0}, 4400 - 2222, 1e-9},
		{"ohms_outside", []float64{1100, 2200, 1, 0}, 1100 - 2178, 1e-9},
		// testdata/radio/expected-level.md
		{"path_level", []float64{10, 5, 12, 2, 0, 1}, -77.75, 0.02},
		{"path_level", []float64{10, 5, 6, 0, 0, 0}, -39.63, 0.02},
	} {
		got, err := formulaOf(c.name).at(c.x)
		if err != nil || math.Abs(got-c.want) > c.near {
			t.Errorf("%s%v is %v (%v), want %v", c.name, c.x, got, err, c.want)
		}
	}
}

func TestFormulasRefuseNonsense(t *testing.T) {
	for i := range formulas {
		f := &formulas[i]
		for n := range f.takes {
			x := make([]float64, len(f.takes))
			for k, p := range f.takes {
				x[k] = ends[p.name][1]
			}
			x[n] = math.NaN()
			if y, err := f.at(x); err == nil {
				t.Errorf("%s with no number as %s is %v", f.name, f.takes[n].name, y)
			}
		}
		if x, ok := map[string][]float64{"level_of_percent": {38, -60, -60}, "percent_of_level": {-70, -60, -100}}[f.name]; ok {
			if y, err := f.at(x); err == nil {
				t.Errorf("%s on a scale that does not rise is %v", f.name, y)
			}
		}
		if f.says == "" || f.source == "" || len(f.takes) > mostArguments {
			t.Errorf("%s is not described, or takes too much", f.name)
		}
	}
}
