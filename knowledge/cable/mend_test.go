package cable_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/cable"
)

// fifty is 50 m of 0.05 ohm/m: 5 ohm out and back.
func fifty() cable.Run {
	return cable.Run{Conductor: must(cable.OfResistance(0.05)), Length: 50, Cores: 1, Temperature: 20}
}

func amps(a ...float64) []cable.Load {
	loads := make([]cable.Load, len(a))
	for i := range a {
		loads[i].Current = a[i]
	}
	return loads
}

// chain has two devices, 5 ohm apart. Ohm's law by hand: on the charger 13.8 V, 12.8
// (5 ohm, 0.2 A), 12.3 (5 ohm, 0.1 A); on the battery 10.5 V, 8.5 (5 ohm, 0.4 A),
// 7.0 (5 ohm, 0.3 A).
func chain(least float64) cable.Bus {
	return cable.Bus{
		Points: []cable.Point{{}, {Parent: 0, Run: fifty(), Least: least}, {Parent: 1, Run: fifty(), Least: least}},
		States: []cable.State{
			{Source: cable.Source{Voltage: 13.8}, Loads: amps(0, 0.1, 0.1)},
			{Source: cable.Source{Voltage: 10.5}, Loads: amps(0, 0.1, 0.3)},
		},
	}
}

func TestCheck(t *testing.T) {
	r := must(chain(8.7).Check())
	for i, want := range [][]float64{{13.8, 12.8, 12.3}, {10.5, 8.5, 7.0}} {
		if !closeTo(r[i].Volts, want, 1e-12) {
			t.Errorf("%v, want %v", r[i].Volts, want)
		}
	}
	if r.Works() || !r[0].Works() || r[1].Works() || r[0].Weakest != 2 || r[1].Weakest != 2 {
		t.Errorf("%+v", r)
	}
	near(t, "margin", r[1].Margin, 7.0-8.7, 1e-12)

	// The joint at point 1 needs nothing, so that it is never the weakest.
	b := chain(6)
	b.Points[2].Least, b.Points[1].Least = 0, 8
	if r := must(b.Check()); r[1].Weakest != 1 || !r.Works() {
		t.Errorf("%+v", r)
	}
}

// By hand: the far device has the source's voltage less 3.5 V under alarm.
func TestLeastSource(t *testing.T) {
	volts, first, err := chain(8.7).LeastSource(1)
	if err != nil || first != 2 {
		t.Error(first, err)
	}
	near(t, "least source", volts, 12.2+0.0005, 0.0005)
	b := chain(8.7)
	b.States[1].Loads[2].Current = 9000
	b.Points[2].Run.Length = 10000
	if _, _, err := b.LeastSource(1); err == nil || err.Error() != "this bus cannot work: it collapses (worst at node 2)" {
		t.Error(err)
	}
}

func TestMend(t *testing.T) {
	means := cable.Means{
		Sizes: []cable.Conductor{must(cable.OfResistance(0.045)), must(cable.OfResistance(0.02)), must(cable.OfResistance(0.01))},
		Local: []cable.Source{{Voltage: 13.5}, {Voltage: 10.8}},
	}
	for _, c := range []struct {
		least float64
		want  []cable.Change // After and Size are checked beside
		volts [][]float64    // on the battery, by hand
	}{
		{8.7, []cable.Change{
			{Kind: cable.DoubleCores, Points: []int{1, 2}},
			{Kind: cable.ThickerCable, Points: []int{1, 2}, Size: means.Sizes[1]},
			{Kind: cable.LocalSupply, Points: []int{2}},
			{Kind: cable.MoveLoad, Points: []int{2}, To: 0},
		}, [][]float64{{10.5, 9.5, 8.75}, {10.5, 9.7, 9.1}, {10.5, 10.0, 10.8}, {10.5, 10.0, 10.0}}},
		// One cable does: the first carries more.
		{7.9, []cable.Change{
			{Kind: cable.DoubleCores, Points: []int{1}},
			{Kind: cable.ThickerCable, Points: []int{1}, Size: means.Sizes[1]},
			{Kind: cable.LocalSupply, Points: []int{2}},
			{Kind: cable.MoveLoad, Points: []int{2}, To: 1},
		}, [][]float64{{10.5, 9.5, 8.0}, {10.5, 9.7, 8.2}, {10.5, 10.0, 10.8}, {10.5, 8.5, 8.5}}},
		// No cable does, no supply of 10.8 V and no place.
		{11, nil, nil},
		{7, nil, nil}, // nothing to mend
	} {
		before, got, err := chain(c.least).Mend(means)
		if err != nil || len(got) != len(c.want) || before.Works() != (c.least == 7) {
			t.Errorf("%v: %+v, %v", c.least, got, err)
			continue
		}
		for i, g := range got {
			w := c.want[i]
			if g.Kind != w.Kind || !slices.Equal(g.Points, w.Points) || g.To != w.To || g.Size != w.Size || !closeTo(g.After[1].Volts, c.volts[i], 1e-12) || !g.After.Works() {
				t.Errorf("%v: got %+v, want %+v with %v", c.least, g, w, c.volts[i])
			}
		}
	}
	// Without means two kinds are left.
	if _, got, err := chain(8.7).Mend(cable.Means{}); len(got) != 2 || err != nil {
		t.Error(got, err)
	}
}

// 5 W over 10 ohm collapse at 12 V (3.6 W at most); over 5 ohm they leave
// (12 + sqrt(144 - 100))/2 V.
func TestMendCollapse(t *testing.T) {
	run := fifty()
	run.Length = 100
	b := cable.Bus{
		Points: []cable.Point{{}, {Run: run, Least: 9}},
		States: []cable.State{{Source: cable.Source{Voltage: 12}, Loads: []cable.Load{{}, {Power: 5}}}},
	}
	before, got, err := b.Mend(cable.Means{})
	if err != nil || before[0].Collapse == nil || before[0].Weakest != 1 || before[0].Margin != -9 || len(got) != 2 {
		t.Fatalf("%+v %+v %v", before, got, err)
	}
	near(t, "doubled", got[0].After[0].Volts[1], (12+math.Sqrt(44))/2, 1e-10)
}

func drawBus(t *rapid.T) cable.Bus {
	n := rapid.IntRange(1, 8).Draw(t, "n")
	b := cable.Bus{Points: []cable.Point{{}}, States: []cable.State{
		{Source: cable.Source{Voltage: 13.8, Resistance: 0.1}, Loads: make([]cable.Load, n+1)},
		{Source: cable.Source{Voltage: 10.5, Resistance: 0.3}, Loads: make([]cable.Load, n+1)},
	}}
	for i := 1; i <= n; i++ {
		b.Points = append(b.Points, cable.Point{
			Parent: rapid.IntRange(0, i-1).Draw(t, "parent"), Least: rapid.Float64Range(7, 10).Draw(t, "least"),
			Run: cable.Run{Conductor: must(cable.Stranded(7, 0.2, cable.Copper)), Length: rapid.Float64Range(1, 60).Draw(t, "length"), Cores: 1, Temperature: 20},
		})
		for s := range b.States {
			b.States[s].Loads[i] = cable.Load{Current: rapid.Float64Range(0, 0.1).Draw(t, "amps"), Power: rapid.Float64Range(0, 1).Draw(t, "watts")}
		}
	}
	return b
}

// Each change, made by hand to the bus, mends it, with the voltages it names.
func TestChangesMend(t *testing.T) {
	means := cable.Means{
		Sizes: []cable.Conductor{must(cable.OfArea(0.5, cable.Copper)), must(cable.OfArea(1.5, cable.Copper))},
		Local: []cable.Source{{Voltage: 13.8}, {Voltage: 10.5}},
	}
	rapid.Check(t, func(t *rapid.T) {
		b := drawBus(t)
		before, changes, err := b.Mend(means)
		if err != nil {
			t.Fatal(err)
		}
		if again := must(b.Check()); again.Works() != before.Works() || before.Works() && changes != nil {
			t.Fatal("it works, and is mended")
		}
		for k, c := range changes {
			if k > 0 && c.Kind <= changes[k-1].Kind {
				t.Fatal("not in order of effort")
			}
			after := must(changed(b, c).Check())
			if !after.Works() {
				t.Fatalf("%+v doesn't mend", c)
			}
			for s := range after {
				if c.Kind != cable.LocalSupply && !closeTo(after[s].Volts, c.After[s].Volts, 1e-9) {
					t.Fatalf("%v, said %v", after[s].Volts, c.After[s].Volts)
				}
			}
		}
	})
}

// changed is a copy of a bus with a change. A local supply, whose source is as
// strong as the bus's own, is made by its effect: what it feeds is gone from the
// bus, which has to work without; TestMend has its voltages.
func changed(b cable.Bus, c cable.Change) cable.Bus {
	b.Points, b.States = slices.Clone(b.Points), slices.Clone(b.States)
	for s := range b.States {
		b.States[s].Loads = slices.Clone(b.States[s].Loads)
	}
	switch c.Kind {
	case cable.DoubleCores:
		for _, i := range c.Points {
			b.Points[i].Run.Cores *= 2
		}
	case cable.ThickerCable:
		for _, i := range c.Points {
			b.Points[i].Run.Conductor = c.Size
		}
	case cable.MoveLoad:
		from := c.Points[0]
		b.Points[c.To].Least, b.Points[from].Least = max(b.Points[c.To].Least, b.Points[from].Least), 0
		for s := range b.States {
			l := b.States[s].Loads
			l[c.To].Current += l[from].Current
			l[c.To].Power += l[from].Power
			l[from] = cable.Load{}
		}
	case cable.LocalSupply:
		behind := make([]bool, len(b.Points))
		for i := range b.Points {
			if behind[i] = i == c.Points[0] || i > 0 && behind[b.Points[i].Parent]; behind[i] {
				b.Points[i].Least = 0
				for s := range b.States {
					b.States[s].Loads[i] = cable.Load{}
				}
			}
		}
	}
	return b
}
