package cable_test

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

// decode reads a tree from any bytes. Small numbers mean ordinary quantities; a
// marked one takes eight bytes as they are.
func decode(data []byte) (cable.Tree, cable.Source) {
	next := func() byte {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return b
	}
	quantity := func(unit float64) float64 {
		b := next()
		if b != 255 || len(data) < 8 {
			return float64(b) * unit
		}
		x := math.Float64frombits(binary.LittleEndian.Uint64(data))
		data = data[8:]
		return x
	}
	source := cable.Source{Voltage: quantity(0.2), Resistance: quantity(0.05)}
	var tree cable.Tree
	for i := 0; len(data) > 0 && i < 200; i++ {
		n := cable.Node{Load: cable.Load{Current: quantity(0.002), Power: quantity(0.02)}}
		if i > 0 {
			n.Parent, n.Resistance = int(int8(next())), quantity(0.1)
			if n.Parent >= 0 {
				n.Parent %= i
			}
		}
		tree = append(tree, n)
	}
	return tree, source
}

// FuzzSolve wants voltages that keep Kirchhoff's laws, or a typed error.
func FuzzSolve(f *testing.F) {
	f.Add([]byte{60, 1, 0, 0, 10, 50, 0, 20, 20, 0, 1, 30})
	f.Add([]byte{60, 0, 0, 0, 0, 180, 0, 100})
	f.Add([]byte{60, 0, 0, 0, 0, 181, 0, 100, 0, 0, 255, 0})
	f.Add([]byte{255, 1, 2, 3, 4, 5, 6, 7, 8, 9})
	f.Add([]byte{60, 0, 0, 0, 1, 1, 200, 255, 0, 0, 0, 0, 0, 0, 0xf0, 0x7f})
	f.Fuzz(func(t *testing.T, data []byte) {
		tree, source := decode(data)
		v, err := new(cable.Solver).Solve(nil, tree, source)
		var c *cable.Collapse
		var out *units.OutOfRange
		switch {
		case errors.As(err, &c):
			if c.Node < 0 || c.Node >= len(tree) {
				t.Fatal(c.Node)
			}
			return
		case errors.As(err, &out):
			return
		case err != nil || len(v) != len(tree):
			t.Fatal(len(v), err)
		}
		// What the sums lose to rounding grows with the steepness at a voltage
		// near 0 and near collapse; ordinary networks keep to a microvolt.
		ordinary := true
		for i := range v {
			if !(v[i] > 0 && v[i] <= source.Voltage*(1+1e-9)) {
				t.Fatalf("node %d has %v of %v V", i, v[i], source.Voltage)
			}
			ordinary = ordinary && v[i] > 0.01*source.Voltage
		}
		if !ordinary {
			return
		}
		for i, x := range bySums(tree, source, v) {
			if math.Abs(x-v[i]) > 1e-6*source.Voltage {
				t.Fatalf("node %d has %v, its currents leave %v", i, v[i], x)
			}
		}
	})
}
