package cable_test

import (
	"errors"
	"math"
	"testing"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

var nan, inf = math.NaN(), math.Inf(1)

// bad lists what isn't between two bounds, with what is no number at all.
func bad(x ...float64) []float64 { return append(x, nan, inf, -inf) }

func TestBadInput(t *testing.T) {
	copper := must(cable.OfArea(0.5, cable.Copper))
	run := cable.Run{Conductor: copper, Length: 10, Cores: 1, Temperature: 20}
	good := cable.Pair{Length: 10, Rate: 9600, UnitLoads: 1, Terminators: 2, Bias: 1}
	solve := func(change func(*cable.Tree, *cable.Source)) error {
		tree, source := cable.Tree{{}, {Resistance: 1}}, cable.Source{Voltage: 12}
		change(&tree, &source)
		_, err := new(cable.Solver).Solve(nil, tree, source)
		return err
	}
	check := func(change func(*cable.Bus)) error {
		b := chain(9)
		change(&b)
		_, err := b.Check()
		return err
	}
	for _, c := range []struct {
		quantity string
		values   []float64
		call     func(x float64) error
	}{
		{"section of the conductor", bad(0, -1, 1001), func(x float64) error { return fail(cable.OfArea(x, cable.Copper)) }},
		{"section of the conductor", bad(0, 0.3), func(x float64) error { return fail(cable.Listed(cable.Class5, x, cable.Copper)) }},
		{"material of the conductor", []float64{3, 200}, func(x float64) error { return fail(cable.OfArea(1, cable.Material(x))) }},
		{"material of the conductor", []float64{3}, func(x float64) error { return fail(cable.AWG(22, cable.Material(x))) }},
		{"class of the conductor", []float64{0, 2, 6}, func(x float64) error { return fail(cable.Listed(cable.Class(x), 0.5, cable.Copper)) }},
		{"number of strands", []float64{0, -7, 10001}, func(x float64) error { return fail(cable.Stranded(int(x), 0.2, cable.Copper)) }},
		{"diameter of the strand", bad(0, -0.2, 31), func(x float64) error { return fail(cable.Stranded(7, x, cable.Copper)) }},
		{"diameter of the strand", bad(0, -0.2, 31), func(x float64) error { return fail(cable.Solid(x, cable.Copper)) }},
		{"section of the conductor", []float64{30}, func(x float64) error { return fail(cable.Stranded(10000, x, cable.Copper)) }},
		{"gauge number of the conductor", []float64{-4, 57}, func(x float64) error { return fail(cable.AWG(int(x), cable.Copper)) }},
		{"gauge number of the conductor", []float64{-4, 57}, func(x float64) error { return fail(cable.AWGDiameter(int(x))) }},
		{"resistance of the conductor", bad(0, -1, 1e4), func(x float64) error { return fail(cable.OfResistance(x)) }},
		{"resistance of the conductor", []float64{20}, func(x float64) error { return fail(cable.Conductor{}.OhmsPerMetre(x)) }},
		{"temperature coefficient", bad(-1, 0.011), func(x float64) error { return fail(copper.WithCoefficient(x)) }},
		{"temperature coefficient", bad(-1, 0.011), func(x float64) error { return fail(cable.TemperatureFactor(20, x)) }},
		{"temperature of the cable", bad(-41, 91), func(x float64) error { return fail(cable.TemperatureFactor(x, 0.004)) }},
		{"temperature of the cable", bad(-41, 91), func(x float64) error { return fail(copper.OhmsPerMetre(x)) }},
		{"temperature of the cable", bad(-41, 91), func(x float64) error { r := run; r.Temperature = x; return fail(r.Ohms()) }},
		{"length of the cable", bad(-1, 1e6), func(x float64) error { r := run; r.Length = x; return fail(r.Ohms()) }},
		{"length of the cable", bad(-1, 1e6), func(x float64) error { r := run; r.Length = x; return fail(r.Drop(1)) }},
		{"length of the cable", bad(-1, 1e6), func(x float64) error { r := run; r.Length = x; return fail(r.Segment(0)) }},
		{"number of cores in each pole", []float64{0, -1, 51}, func(x float64) error { r := run; r.Cores = int(x); return fail(r.Ohms()) }},
		{"number of cores in each pole", []float64{0}, func(x float64) error { r := run; r.Cores = int(x); return fail(r.GreatestLength(12, 9, 1)) }},
		{"resistance of the conductor", []float64{0}, func(x float64) error { r := run; r.Conductor = cable.Conductor{}; return fail(r.Ohms()) }},
		{"current of the load", bad(-1, 1e5), func(x float64) error { return fail(run.Drop(x)) }},
		{"current of the load", bad(-1, 1e5), func(x float64) error { return fail(run.DropOfEvenLoads(x, 2)) }},
		{"current of the load", bad(-1, 1e5), func(x float64) error { return fail(run.VoltageAtEnd(12, x)) }},
		{"current of the load", bad(-1, 0), func(x float64) error { return fail(run.GreatestLength(12, 9, x)) }},
		{"greatest length of the cable", []float64{5e-324}, func(x float64) error { return fail(run.GreatestLength(12, 9, x)) }},
		{"number of loads", []float64{0, -1, 2e6}, func(x float64) error { return fail(run.DropOfEvenLoads(1, int(x))) }},
		{"voltage of the source", bad(0, -1, 1e5), func(x float64) error { return fail(run.VoltageAtEnd(x, 0.1)) }},
		{"voltage of the source", bad(0, -1, 1e5), func(x float64) error { return fail(run.GreatestLength(x, 9, 0.1)) }},
		{"least voltage", bad(-1, 12.1), func(x float64) error { return fail(run.GreatestLength(12, x, 0.1)) }},

		{"voltage of the source", bad(0, -1, 1e5), func(x float64) error { return solve(func(_ *cable.Tree, s *cable.Source) { s.Voltage = x }) }},
		{"internal resistance of the source", bad(-1, 1e10), func(x float64) error { return solve(func(_ *cable.Tree, s *cable.Source) { s.Resistance = x }) }},
		{"number of nodes", []float64{0}, func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { *t = nil }) }},
		{"parent of the node", []float64{-1, 1, 2}, func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[1].Parent = int(x) }) }},
		{"parent of the node", []float64{-1, 1}, func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[0].Parent = int(x) }) }},
		{"resistance of the segment", bad(-1, 1e10), func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[1].Resistance = x }) }},
		{"resistance of the segment", bad(-1, 1), func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[0].Resistance = x }) }},
		{"current of the load", bad(-1, 1e5), func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[1].Current = x }) }},
		{"power of the load", bad(-1, 1e7), func(x float64) error { return solve(func(t *cable.Tree, _ *cable.Source) { (*t)[0].Power = x }) }},

		{"number of points", []float64{0}, func(x float64) error { return check(func(b *cable.Bus) { b.Points = nil }) }},
		{"number of states", []float64{0}, func(x float64) error { return check(func(b *cable.Bus) { b.States = nil }) }},
		{"number of loads", []float64{2}, func(x float64) error { return check(func(b *cable.Bus) { b.States[1].Loads = b.States[1].Loads[:2] }) }},
		{"parent of the node", []float64{-1, 2}, func(x float64) error { return check(func(b *cable.Bus) { b.Points[2].Parent = int(x) }) }},
		{"least voltage of the device", bad(-1, 1e5), func(x float64) error { return check(func(b *cable.Bus) { b.Points[2].Least = x }) }},
		{"length of the cable", bad(-1), func(x float64) error { return check(func(b *cable.Bus) { b.Points[2].Run.Length = x }) }},
		{"current of the load", bad(-1), func(x float64) error { return check(func(b *cable.Bus) { b.States[0].Loads[1].Current = x }) }},
		{"power of the load", bad(-1), func(x float64) error { return check(func(b *cable.Bus) { b.States[1].Loads[1].Power = x }) }},
		{"voltage of the source", bad(0), func(x float64) error { return check(func(b *cable.Bus) { b.States[1].Source.Voltage = x }) }},
		{"number of the state", []float64{-1, 2}, func(x float64) error { _, _, err := chain(9).LeastSource(int(x)); return err }},
		{"number of local sources", []float64{1}, func(x float64) error { return mend(cable.Means{Local: []cable.Source{{Voltage: 12}}}) }},
		{"voltage of the source", bad(0), func(x float64) error {
			return mend(cable.Means{Local: []cable.Source{{Voltage: 12}, {Voltage: x}}})
		}},
		{"resistance of the conductor", []float64{0}, func(x float64) error { return mend(cable.Means{Sizes: make([]cable.Conductor, 1)}) }},

		{"length of the cable", bad(-1, 1e6), func(x float64) error { p := good; p.Length = x; return fail(p.Check(cable.TIA485())) }},
		{"rate of the bus", bad(-1, 0, 1e10), func(x float64) error { p := good; p.Rate = x; return fail(p.Check(cable.TIA485())) }},
		{"number of unit loads", bad(-1, 1e5), func(x float64) error { p := good; p.UnitLoads = x; return fail(p.Check(cable.TIA485())) }},
		{"number of terminators", []float64{-1, 101}, func(x float64) error { p := good; p.Terminators = int(x); return fail(p.Check(cable.TIA485())) }},
		{"lowest voltage of the line", bad(-1e5), func(x float64) error { p := good; p.Low = x; return fail(p.Check(cable.TIA485())) }},
		{"highest voltage of the line", bad(-1, 1e5), func(x float64) error { p := good; p.High = x; return fail(p.Check(cable.TIA485())) }},
		{"voltage between the lines at rest", bad(-1, 101), func(x float64) error { p := good; p.Bias = x; return fail(p.Check(cable.TIA485())) }},
		{"greatest rate times length", bad(-1), func(x float64) error { l := cable.TIA485(); l.RateLength = x; return fail(good.Check(l)) }},
		{"greatest length of the cable", bad(-1), func(x float64) error { l := cable.TIA485(); l.Length = x; return fail(good.Check(l)) }},
		{"greatest number of unit loads", bad(-1), func(x float64) error { l := cable.TIA485(); l.UnitLoads = x; return fail(good.Check(l)) }},
		{"lowest common-mode voltage", bad(), func(x float64) error { l := cable.TIA485(); l.Low = x; return fail(good.Check(l)) }},
		{"highest common-mode voltage", bad(1e5), func(x float64) error { l := cable.TIA485(); l.High = x; return fail(good.Check(l)) }},
		{"least voltage between the lines at rest", bad(-1), func(x float64) error { l := cable.TIA485(); l.Bias = x; return fail(good.Check(l)) }},
		{"number of terminators", []float64{-1}, func(x float64) error { return fail(cable.PairOhms(int(x), 120, 1)) }},
		{"resistance of the terminator", bad(0, -1, 1e7), func(x float64) error { return fail(cable.PairOhms(2, x, 1)) }},
		{"number of unit loads", bad(-1, 1e-306, 1e5), func(x float64) error { return fail(cable.PairOhms(0, 120, x)) }},
		{"number of terminators and unit loads", []float64{0}, func(x float64) error { return fail(cable.PairOhms(0, 120, x)) }},
		{"voltage between the lines at rest", bad(0, -1, 101), func(x float64) error { return fail(cable.BiasCurrent(x, 60)) }},
		{"resistance between the lines", bad(0, -1, 1e10), func(x float64) error { return fail(cable.BiasCurrent(0.2, x)) }},
		{"supply of the bias", bad(0, -1, 0.2, 101), func(x float64) error { return fail(cable.GreatestBias(x, 0.2, 60)) }},
		{"resistance of the bias", []float64{5e-324}, func(x float64) error { return fail(cable.GreatestBias(5, x, 60)) }},
		{"supply of the bias", bad(0, -1, 101), func(x float64) error { return fail(cable.BiasVoltage(x, 560, 560, 60)) }},
		{"resistance of the bias", bad(0, -1, 1e10), func(x float64) error { return fail(cable.BiasVoltage(5, x, 560, 60)) }},
		{"resistance of the bias", bad(0, -1, 1e10), func(x float64) error { return fail(cable.BiasVoltage(5, 560, x, 60)) }},
		{"resistance between the lines", bad(0, -1), func(x float64) error { return fail(cable.BiasVoltage(5, 560, 560, x)) }},
		{"resistance between the lines", bad(-1, 1e10), func(x float64) error { return fail(cable.ReadPair(x, 120, 0)) }},
		{"resistance of the terminator", bad(0, -1, 1e5), func(x float64) error { return fail(cable.ReadPair(60, x, 0)) }},
		{"resistance of the cable", bad(-1, 1e7), func(x float64) error { return fail(cable.ReadPair(60, 120, x)) }},
	} {
		for _, x := range c.values {
			var out *units.OutOfRange
			if err := c.call(x); !errors.As(err, &out) || out.Quantity != c.quantity {
				t.Errorf("%s %v: %v", c.quantity, x, err)
			}
		}
	}
}

func fail[T any](_ T, err error) error { return err }

func mend(m cable.Means) error {
	_, _, err := chain(9).Mend(m)
	return err
}

func TestNodeError(t *testing.T) {
	_, err := new(cable.Solver).Solve(nil, cable.Tree{{}, {}, {Parent: 5}}, cable.Source{Voltage: 12})
	var at *cable.NodeError
	if !errors.As(err, &at) || at.Node != 2 || err.Error() != "node 2: parent of the node is 5; it must be 0 to 1" {
		t.Error(err)
	}
}
