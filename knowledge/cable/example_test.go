package cable_test

import (
	"fmt"

	"ferrule/knowledge/cable"
)

// A keypad that draws 0.3 A at the end of 100 m of 7/0.2.
func ExampleRun_VoltageAtEnd() {
	conductor, _ := cable.Stranded(7, 0.2, cable.Copper)
	run := cable.Run{Conductor: conductor, Length: 100, Cores: 1, Temperature: 20}
	nominal, _ := run.VoltageAtEnd(13.8, 0.3)
	run.Conductor, _ = conductor.Greatest()
	least, _ := run.VoltageAtEnd(13.8, 0.3)
	fmt.Printf("%.2f V, and at least %.2f V\n", nominal, least)
	// Output: 9.10 V, and at least 8.04 V
}

// A device that draws a constant power collapses where the line can't carry it.
func ExampleSolver_Solve() {
	var s cable.Solver
	for _, watts := range []float64{3, 4} {
		tree := cable.Tree{{}, {Parent: 0, Resistance: 10, Load: cable.Load{Power: watts}}}
		volts, err := s.Solve(nil, tree, cable.Source{Voltage: 12})
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%.3f V\n", volts[1])
	}
	// Output:
	// 8.449 V
	// this bus cannot work: it collapses (worst at node 1)
}

func ExampleBus_Mend() {
	conductor, _ := cable.Stranded(7, 0.2, cable.Copper)
	run := cable.Run{Conductor: conductor, Length: 40, Cores: 1, Temperature: 20}
	bus := cable.Bus{
		Points: []cable.Point{{}, {Parent: 0, Run: run, Least: 9}, {Parent: 1, Run: run, Least: 9}},
		States: []cable.State{
			{Source: cable.Source{Voltage: 13.8}, Loads: []cable.Load{{}, {Current: 0.08}, {Current: 0.05}}},
			{Source: cable.Source{Voltage: 10.5}, Loads: []cable.Load{{}, {Current: 0.15}, {Current: 0.1}}},
		},
	}
	before, changes, _ := bus.Mend(cable.Means{})
	fmt.Printf("before: point %d lacks %.2f V\n", before[1].Weakest, -before[1].Margin)
	for _, c := range changes {
		fmt.Printf("kind %d at %v: point %d has %.2f V to spare\n", c.Kind, c.Points, c.After[1].Weakest, c.After[1].Margin)
	}
	// Output:
	// before: point 2 lacks 0.70 V
	// kind 1 at [1]: point 2 has 0.09 V to spare
	// kind 4 at [1]: point 2 has 0.25 V to spare
}
