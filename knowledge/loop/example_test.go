package loop_test

import (
	"fmt"

	"ferrule/knowledge/loop"
)

func ExampleParse() {
	for _, code := range []string{"4K7K", "2k2", "4.7 kohm", "4m7"} {
		fmt.Println(loop.Parse(code))
	}
	// Output:
	// {4700 10} <nil>
	// {2200 0} <nil>
	// {4700 0} <nil>
	// {0 0} loop: "4m7" can be 4L7 or 4M7; write the one that is meant
}

func ExampleLoop_States() {
	l := loop.Double(loop.Resistor{Ohms: 2200, Tolerance: 1}, loop.Resistor{Ohms: 4700, Tolerance: 1})
	l.Cable = 15.68 // 100 m of 7/0.2 mm
	states, err := l.States()
	if err != nil {
		fmt.Println(err)
	}
	for _, s := range states {
		if s.Resistance.Open {
			fmt.Println(s.State, "is open")
			continue
		}
		fmt.Printf("%v %.2f to %.2f ohm\n", s.State, s.Resistance.Low, s.Resistance.High)
	}
	// Output:
	// short 0.00 to 15.68 ohm
	// normal 2193.68 to 2237.68 ohm
	// alarm 6846.68 to 6984.68 ohm
	// cut is open
}

func ExampleClassifier_Classify() {
	l := loop.Double(loop.Resistor{Ohms: 2200, Tolerance: 1}, loop.Resistor{Ohms: 2200, Tolerance: 1})
	c, err := loop.NewClassifier(l, loop.Settings{ShortLimit: 100, OpenLimit: 50e3})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, ohms := range []float64{2210, 3000} {
		r, err := c.Classify(loop.Reading{Ohms: ohms, Uncertainty: 10})
		if err != nil {
			fmt.Println(err)
		}
		fmt.Printf("%g ohm: %v, %v; between %v and %v; the panel shows %v for %g ohm more\n", ohms, r.Verdict, r.State, r.Lower, r.Upper, r.Panel, r.Margin)
	}
	// Output:
	// 2210 ohm: one state, normal; between no state and no state; the panel shows normal for 1080 ohm more
	// 3000 ohm: between states, no state; between normal and alarm; the panel shows normal for 290 ohm more
}

func ExampleExplain() {
	list, err := loop.Explain(loop.Single(loop.Resistor{Ohms: 2200, Tolerance: 1}), loop.Reading{Ohms: 4400})
	if err != nil {
		fmt.Println(err)
	}
	for _, e := range list[:2] {
		fmt.Printf("%v, %v: %.0f ohm\n", e.Cause, e.State, e.Ohms)
	}
	// Output:
	// second end-of-line resistor in series, normal: 2200 ohm
	// added resistance in series, normal: 2200 ohm
}
