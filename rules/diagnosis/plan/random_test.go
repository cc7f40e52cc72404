package plan_test

import (
	"math"

	"ferrule/rules/diagnosis/plan"

	"pgregory.net/rapid"
)

// shape says what a drawn problem may hold.
type shape struct {
	causes, tests int
	spots         bool // places and set-ups
	plain         bool // every repair mends for certain, no handing over
}

func draw(t *rapid.T, s shape) plan.Problem {
	n := rapid.IntRange(1, s.causes).Draw(t, "causes")
	p := plan.Problem{HandOver: math.Inf(1)}
	if !s.plain && rapid.Bool().Draw(t, "hand over") {
		p.HandOver = minutes(t, "hand over minutes", 10, 120)
	}
	if s.spots {
		p.Walk = minutes(t, "walk", 0, 5)
		p.Place = rapid.IntRange(0, 2).Draw(t, "place")
		p.Setups = []float64{minutes(t, "lid", 0, 10), minutes(t, "on test", 0, 10)}
		p.Ready = uint16(rapid.IntRange(0, 3).Draw(t, "ready"))
	}
	for _, x := range distribution(t, "prior", n) {
		c := plan.Cause{P: x, Repair: minutes(t, "repair", 5, 60), Mends: 1, At: spot(t, s)}
		if !s.plain {
			c.Mends = float64(rapid.IntRange(0, 4).Draw(t, "mends")) / 4
			if rapid.IntRange(0, 5).Draw(t, "none") == 0 {
				c.Repair = math.Inf(1)
			}
		}
		p.Causes = append(p.Causes, c)
	}
	for range rapid.IntRange(0, s.tests).Draw(t, "tests") {
		p.Tests = append(p.Tests, drawTest(t, s, n))
	}
	return p
}

func drawTest(t *rapid.T, s shape, causes int) plan.Test {
	q := plan.Test{Minutes: minutes(t, "test", 1, 10), At: spot(t, s)}
	outcomes := rapid.IntRange(2, 3).Draw(t, "outcomes")
	for range causes {
		q.Given = append(q.Given, distribution(t, "row", outcomes))
	}
	return q
}

func minutes(t *rapid.T, name string, low, high int) float64 {
	return float64(rapid.IntRange(4*low, 4*high).Draw(t, name)) / 4
}

func spot(t *rapid.T, s shape) plan.Spot {
	if !s.spots {
		return plan.Spot{}
	}
	return plan.Spot{
		Place:  rapid.IntRange(0, 2).Draw(t, "at"),
		Setups: uint16(rapid.IntRange(0, 3).Draw(t, "needs")),
	}
}

// distribution draws probabilities, some of them 0.
func distribution(t *rapid.T, name string, n int) []float64 {
	out := make([]float64, n)
	sum := 0.0
	for i := range out {
		out[i] = float64(rapid.IntRange(0, 20).Draw(t, name))
		sum += out[i]
	}
	for i := range out {
		if sum == 0 {
			out[i] = 1 / float64(n)
		} else {
			out[i] /= sum
		}
	}
	return out
}
