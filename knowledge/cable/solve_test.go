package cable_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/cable"
)

func line(ohms, amps, watts float64) cable.Tree {
	return cable.Tree{{}, {Resistance: ohms, Load: cable.Load{Current: amps, Power: watts}}}
}

// A single constant-power load: V^2 - Vs V + P R = 0, with the roots (Vs +- sqrt(Vs^2 - 4 P R))/2.
func TestSinglePower(t *testing.T) {
	var s cable.Solver
	rapid.Check(t, func(t *rapid.T) {
		vs, ohms := rapid.Float64Range(1, 60).Draw(t, "volts"), rapid.Float64Range(0.01, 100).Draw(t, "ohms")
		share := rapid.Float64Range(0, 0.999).Draw(t, "share")
		inside := ohms * rapid.Float64Range(0, 1).Draw(t, "inside")
		watts := share * vs * vs / 4 / ohms
		v, err := s.Solve(nil, line(ohms-inside, 0, watts), cable.Source{Voltage: vs, Resistance: inside})
		if err != nil {
			t.Fatal(err)
		}
		if want := (vs + math.Sqrt(vs*vs-4*watts*ohms)) / 2; math.Abs(v[1]-want) > 1e-11*vs {
			t.Fatalf("%v, want %v", v[1], want)
		}
	})
}

// Above P = Vs^2/(4R) the roots aren't real.
func TestSingleCollapse(t *testing.T) {
	for _, over := range []float64{1 + 1e-9, 1.0001, 1.01, 2, 100, 1e5} {
		_, err := new(cable.Solver).Solve(nil, line(10, 0, over*12*12/40), cable.Source{Voltage: 12})
		var c *cable.Collapse
		if !errors.As(err, &c) || c.Node != 1 {
			t.Errorf("%v times the most: %v", over, err)
		}
	}
	// The most that the line carries leaves half of the voltage.
	v, err := new(cable.Solver).Solve(nil, line(10, 0, (1-1e-9)*12*12/40), cable.Source{Voltage: 12})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half", v[1], 6, 1e-3)
}

func TestCurrentCollapse(t *testing.T) {
	tree := cable.Tree{{}, {Parent: 0, Resistance: 10, Load: cable.Load{Current: 0.5}}, {Parent: 1, Resistance: 20, Load: cable.Load{Current: 0.5}}}
	for _, volts := range []float64{19, 20} { // 10 ohm carry 1 A and 20 ohm 0.5 A
		_, err := new(cable.Solver).Solve(nil, tree, cable.Source{Voltage: volts})
		var c *cable.Collapse
		if !errors.As(err, &c) || c.Node != 2 {
			t.Errorf("%v V: %v", volts, err)
		}
	}
	if v := must(new(cable.Solver).Solve(nil, tree, cable.Source{Voltage: 20.5})); v[2] != 0.5 {
		t.Error(v)
	}
}

// drawTree draws a tree whose loads a fixed share of the source's voltage
// bounds, so that it stands: with the powers drawing what they would at 0.55 of
// the voltage, the deepest drop is 0.44 of it at most.
func drawTree(t *rapid.T) (cable.Tree, cable.Source) {
	n := rapid.IntRange(1, 20).Draw(t, "n")
	source := cable.Source{Voltage: rapid.Float64Range(5, 30).Draw(t, "volts"), Resistance: rapid.Float64Range(0, 2).Draw(t, "inside")}
	tree := cable.Tree{{}}
	for i := 1; i <= n; i++ {
		tree = append(tree, cable.Node{Parent: rapid.IntRange(0, i-1).Draw(t, "parent"), Resistance: rapid.Float64Range(0, 20).Draw(t, "ohms"), Load: cable.Load{
			Current: rapid.Float64Range(0, 0.3).Draw(t, "amps"), Power: rapid.Float64Range(0, 3).Draw(t, "watts")}})
	}
	flat := make([]float64, len(tree))
	for i := range flat {
		flat[i] = 0.55 * source.Voltage
	}
	deepest := 0.0
	for _, v := range bySums(tree, source, flat) {
		deepest = max(deepest, source.Voltage-v)
	}
	scale := rapid.Float64Range(0.05, 0.44).Draw(t, "share") * source.Voltage / max(deepest, 1e-3)
	for i := range tree {
		tree[i].Current *= min(scale, 1)
		tree[i].Power *= min(scale, 1)
	}
	return tree, source
}

// bySums is an independent way: the voltages from the currents that the loads
// draw at given voltages, summed up over the way of each load.
func bySums(tree cable.Tree, source cable.Source, at []float64) []float64 {
	v := make([]float64, len(tree))
	through := make([]float64, len(tree))
	total := 0.0
	for i, n := range tree {
		amps := n.Current + n.Power/at[i]
		total += amps
		for k := i; k > 0; k = tree[k].Parent {
			through[k] += amps
		}
	}
	for i := range tree {
		v[i] = source.Voltage - source.Resistance*total
		for k := i; k > 0; k = tree[k].Parent {
			v[i] -= tree[k].Resistance * through[k]
		}
	}
	return v
}

// The voltages are those that the currents which they cause leave (Kirchhoff),
// and no other solution is above them: from the source's voltage downward the
// sums, which never cross a solution, come down to them.
func TestKirchhoff(t *testing.T) {
	var s cable.Solver
	rapid.Check(t, func(t *rapid.T) {
		tree, source := drawTree(t)
		v, err := s.Solve(nil, tree, source)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range bySums(tree, source, v) {
			if math.Abs(x-v[i]) > 1e-10*source.Voltage {
				t.Fatalf("node %d has %v, its currents leave %v", i, v[i], x)
			}
		}
		if want, ok := fromAbove(tree, source); !ok || !closeTo(v, want, 1e-9) {
			t.Fatalf("%v, want %v", v, want)
		}
	})
}

// fromAbove iterates the sums from the source's voltage downward, to the largest
// solution. It is false when a voltage falls to 0: no solution is above that.
func fromAbove(tree cable.Tree, source cable.Source) ([]float64, bool) {
	v := make([]float64, len(tree))
	for i := range v {
		v[i] = source.Voltage
	}
	for range 100000 {
		next := bySums(tree, source, v)
		if slices.Min(next) <= 0 {
			return nil, false
		}
		if closeTo(v, next, 1e-13*source.Voltage) {
			return next, true
		}
		v = next
	}
	return v, true
}

func closeTo(a, b []float64, tolerance float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) <= tolerance })
}

// With more resistance, more load or less source no voltage rises.
func TestMonotone(t *testing.T) {
	var s cable.Solver
	rapid.Check(t, func(t *rapid.T) {
		tree, source := drawTree(t)
		before := must(s.Solve(nil, tree, source))
		i := rapid.IntRange(1, len(tree)-1).Draw(t, "node")
		more := rapid.Float64Range(0, 2).Draw(t, "more")
		switch rapid.IntRange(0, 4).Draw(t, "what") {
		case 0:
			tree[i].Resistance += more
		case 1:
			tree[i].Current += more
		case 2:
			tree[i].Power += more
		case 3:
			source.Resistance += more
		case 4:
			source.Voltage -= more
		}
		after, err := s.Solve(nil, tree, source)
		if err != nil {
			return // the most that can fall
		}
		for k := range after {
			if after[k] > before[k]+1e-11*source.Voltage {
				t.Fatalf("node %d rose from %v to %v", k, before[k], after[k])
			}
		}
	})
}

// Longer, thinner and hotter cable never raises a voltage; doubled cores never
// lower one.
func TestMonotoneCable(t *testing.T) {
	var s cable.Solver
	rapid.Check(t, func(t *rapid.T) {
		tree, source := drawTree(t)
		i := rapid.IntRange(1, len(tree)-1).Draw(t, "node")
		length, area := rapid.Float64Range(1, 50).Draw(t, "length"), rapid.Float64Range(0.3, 2).Draw(t, "area")
		celsius := rapid.Float64Range(-40, 80).Draw(t, "celsius")
		with := func(length, area float64, cores int, celsius float64) []float64 {
			n := must(cable.Run{Conductor: must(cable.OfArea(area, cable.Copper)), Length: length, Cores: cores, Temperature: celsius}.Segment(tree[i].Parent))
			n.Load = tree[i].Load
			changed := slices.Clone(tree)
			changed[i] = n
			v, err := s.Solve(nil, changed, source)
			if err != nil {
				return make([]float64, len(tree)) // collapsed: below all
			}
			return v
		}
		base := with(length, area, 1, celsius)
		for name, v := range map[string][]float64{"longer": with(length*1.5, area, 1, celsius), "thinner": with(length, area/2, 1, celsius), "hotter": with(length, area, 1, celsius+10)} {
			below(t, name, v, base)
		}
		below(t, "single", base, with(length, area, 2, celsius))
	})
}

func below(t *rapid.T, what string, low, high []float64) {
	for k := range low {
		if low[k] > high[k]+1e-9 {
			t.Fatalf("%s: node %d has %v and %v", what, k, low[k], high[k])
		}
	}
}

// A segment without resistance joins its ends.
func TestJoined(t *testing.T) {
	load := cable.Load{Current: 0.1, Power: 2}
	apart := cable.Tree{{}, {Resistance: 5, Load: load}, {Parent: 1, Load: load}}
	joined := cable.Tree{{}, {Resistance: 5, Load: cable.Load{Current: 0.2, Power: 4}}}
	a, b := must(new(cable.Solver).Solve(nil, apart, cable.Source{Voltage: 13.8})), must(new(cable.Solver).Solve(nil, joined, cable.Source{Voltage: 13.8}))
	if math.Abs(a[1]-b[1]) > 1e-13 || a[2] != a[1] {
		t.Error(a, b)
	}
}

func TestReuse(t *testing.T) {
	var s cable.Solver
	tree, source := line(5, 0.1, 3), cable.Source{Voltage: 13.8}
	dst := make([]float64, 2)
	first := slices.Clone(must(s.Solve(dst, tree, source)))
	must(s.Solve(nil, cable.Tree{{}, {}, {Resistance: 3, Load: cable.Load{Current: 1}}}, source))
	if again := must(s.Solve(dst, tree, source)); !slices.Equal(again, first) || &again[0] != &dst[0] {
		t.Error(first, again)
	}
	if n := testing.AllocsPerRun(100, func() { s.Solve(dst, tree, source) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
