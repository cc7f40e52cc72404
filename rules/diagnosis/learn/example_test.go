package learn_test

import (
	"fmt"
	"slices"

	"ferrule/rules/diagnosis/learn"
)

func Example() {
	pack := invented()
	cases := []learn.Case{
		{ID: 1, Symptoms: []string{"weak_signal"}, Cause: "metal_case", Confirmed: learn.Measurement},
		{ID: 2, Symptoms: []string{"weak_signal"}, Cause: "metal_case", Confirmed: learn.SymptomGone},
	}
	l, err := learn.Learn(pack, slices.Values(cases), learn.Default())
	if err != nil {
		fmt.Println(err)
		return
	}
	n, err := l.Numbers(pack)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, line := range n.Explain()[:3] {
		fmt.Println(line)
	}
	// Output:
	// weak_signal: place_too_weak: the pack says 0.422 (as 20 cases), 0 of 2 cases do (they count as 1.5), now 0.393
	// weak_signal: metal_case: the pack says 0.317 (as 20 cases), 2 of 2 cases do (they count as 1.5), now 0.364
	// weak_signal: other_transmitter: the pack says 0.211 (as 20 cases), 0 of 2 cases do (they count as 1.5), now 0.196
}

func ExampleScore() {
	s, err := learn.Score(slices.Values([]learn.Forecast{
		{Probabilities: map[string]float64{"place_too_weak": 0.7, "metal_case": 0.3}, True: "place_too_weak", Minutes: 40},
		{Probabilities: map[string]float64{"place_too_weak": 0.5, "metal_case": 0.5}, True: "metal_case", Minutes: 90},
	}))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d cases: %.3f nats, Brier %.2f, first %d of %d, %.0f minutes\n", s.Forecasts, s.Log, s.Brier, s.First.Hits, s.First.Count, s.Minutes.Mean)
	// Output: 2 cases: 0.525 nats, Brier 0.34, first 1 of 2, 65 minutes
}
