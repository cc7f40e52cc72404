package cable_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/cable"
)

func TestDrop(t *testing.T) {
	seven := must(cable.Stranded(7, 0.2, cable.Copper))
	half, _ := must(cable.Listed(cable.Class1, 0.5, cable.Copper)).Greatest()
	for _, c := range []struct {
		name      string
		run       cable.Run
		amps      float64
		want      float64
		precision float64
	}{
		// electrician2.com, lesson on voltage drop: 100 ft of No. 16, 4.99 ohm/1000 ft, 4 A. Recomputed 3.992.
		{"100 ft", cable.Run{must(cable.OfResistance(4.99 / 304.8)), 30.48, 1, 20}, 4, 3.992, 5e-4},
		// A published worked example: 20 m, 1.3 mm2, 0.01785 ohm mm2/m, 1 A.
		{"20 m", cable.Run{must(cable.OfResistance(0.01785 / 1.3)), 20, 1, 20}, 1, 0.549, 5e-4},
		// IACS, 0.017241 ohm mm2/m: five digits.
		{"100 m of 7/0.2", cable.Run{seven, 100, 1, 20}, 0.3, 4.7040, fiveDigits*4.7040 + 5e-5},
		{"doubled", cable.Run{seven, 100, 2, 20}, 0.3, 4.7040 / 2, fiveDigits*4.7040 + 5e-5},
		// IEC 60228 table A.1, 36.0 ohm/km.
		{"0.5 mm2 class 1", cable.Run{half, 100, 1, 20}, 0.3, 2.160, 5e-4},
	} {
		near(t, c.name, must(c.run.Drop(c.amps)), c.want, c.precision)
	}
	run := cable.Run{Conductor: seven, Length: 100, Cores: 1, Temperature: 20}
	near(t, "left of 13.8 V", must(run.VoltageAtEnd(13.8, 0.3)), 9.096, 6.5e-4) // IACS, as above
	near(t, "shares", must(cable.Run{must(cable.OfResistance(4.99 / 304.8)), 30.48, 1, 20}.Drop(4))/24, 0.1663, 5e-5)
	near(t, "share of 12 V, second example", must(cable.Run{must(cable.OfResistance(0.01785 / 1.3)), 20, 1, 20}.Drop(1))/12, 0.0458, 5e-5)
	// IACS: 156.799 ohm/km of loop; 15.680 ohm and a 2k2 end-of-line resistor make 2215.68.
	near(t, "loop of 1 km", must(cable.Run{seven, 1000, 1, 20}.Ohms()), 156.799, fiveDigits*156.799+5e-4)
	near(t, "loop with 2k2", must(run.Ohms())+2200, 2215.68, 5e-3)
}

// Circuit theory, summed up load by load.
func TestEvenLoads(t *testing.T) {
	run := cable.Run{Conductor: must(cable.OfResistance(0.05)), Length: 100, Cores: 1, Temperature: 20} // 10 ohm
	for n := 1; n <= 40; n++ {
		const total = 0.6
		drop := 0.0
		for segment := 1; segment <= n; segment++ {
			drop += 10.0 / float64(n) * total * float64(n-segment+1) / float64(n)
		}
		near(t, "drop", must(run.DropOfEvenLoads(total, n)), drop, 1e-12)

		tree := cable.Tree{{}}
		for i := range n {
			tree = append(tree, cable.Node{Parent: i, Resistance: 10 / float64(n), Load: cable.Load{Current: total / float64(n)}})
		}
		v := must(new(cable.Solver).Solve(nil, tree, cable.Source{Voltage: 13.8}))
		near(t, "end of the chain", v[n], 13.8-drop, 1e-12)
	}
	near(t, "very many", must(run.DropOfEvenLoads(1, 1e6)), 5, 1e-5)
}

func TestGreatestLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		run := cable.Run{
			Conductor: must(cable.OfArea(rapid.Float64Range(0.1, 4).Draw(t, "area"), cable.Copper)), Length: 1,
			Cores: rapid.IntRange(1, 4).Draw(t, "cores"), Temperature: rapid.Float64Range(-40, 90).Draw(t, "celsius"),
		}
		source := rapid.Float64Range(10, 30).Draw(t, "source")
		least := source * rapid.Float64Range(0.1, 0.95).Draw(t, "least")
		amps := rapid.Float64Range(0.01, 5).Draw(t, "amps")
		length := must(run.GreatestLength(source, least, amps))
		if run.Length = length; run.Length > 1e5 {
			return
		}
		if v := must(run.VoltageAtEnd(source, amps)); v < least-1e-9 || v > least+1e-9 {
			t.Fatalf("%v m leave %v of %v V, want %v", length, v, source, least)
		}
	})
	// From the drop of 4.7040 V at 100 m and 0.3 A (IACS): 3.3 V are lost at 70.15 m.
	run := cable.Run{Conductor: must(cable.Stranded(7, 0.2, cable.Copper)), Length: 1, Cores: 1, Temperature: 20}
	near(t, "length", must(run.GreatestLength(13.8, 10.5, 0.3)), 70.15, 5e-3)
}

func TestNothingLeft(t *testing.T) {
	run := cable.Run{Conductor: must(cable.Stranded(7, 0.2, cable.Copper)), Length: 100, Cores: 1, Temperature: 20}
	_, err := run.VoltageAtEnd(13.8, 1)
	var c *cable.Collapse
	if !errors.As(err, &c) || err.Error() != "this bus cannot work: it collapses (worst at node 1)" {
		t.Error(err)
	}
}
