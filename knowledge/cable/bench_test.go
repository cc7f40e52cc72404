package cable_test

import (
	"testing"

	"ferrule/knowledge/cable"
)

func sixty(watts float64) cable.Tree {
	tree := cable.Tree{{}}
	for i := 1; i < 60; i++ {
		tree = append(tree, cable.Node{Parent: (i - 1) * (i % 4) / 4, Resistance: 0.8, Load: cable.Load{Current: 0.012, Power: watts}})
	}
	return tree
}

func BenchmarkSolve(b *testing.B) {
	for _, c := range []struct {
		name  string
		watts float64
	}{{"current", 0}, {"power", 0.1}} {
		b.Run(c.name, func(b *testing.B) {
			var s cable.Solver
			tree, dst := sixty(c.watts), make([]float64, 60)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := s.Solve(dst, tree, cable.Source{Voltage: 13.8, Resistance: 0.1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRun(b *testing.B) {
	run := cable.Run{Conductor: must(cable.Stranded(7, 0.2, cable.Copper)), Length: 100, Cores: 2, Temperature: 20}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := run.VoltageAtEnd(13.8, 0.3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMend(b *testing.B) {
	bus := cable.Bus{States: make([]cable.State, 2)}
	run := cable.Run{Conductor: must(cable.Stranded(7, 0.2, cable.Copper)), Length: 10, Cores: 1, Temperature: 20}
	for i, n := range sixty(0.1) {
		bus.Points = append(bus.Points, cable.Point{Parent: n.Parent, Run: run, Least: 10})
		for s := range bus.States {
			bus.States[s].Loads = append(bus.States[s].Loads, sixty(0.1)[i].Load)
		}
	}
	bus.States[0].Source, bus.States[1].Source = cable.Source{Voltage: 13.8}, cable.Source{Voltage: 10.8}
	b.ReportAllocs()
	for b.Loop() {
		if before, changes, err := bus.Mend(cable.Means{}); err != nil || before.Works() || len(changes) == 0 {
			b.Fatal(before.Works(), changes, err)
		}
	}
}
