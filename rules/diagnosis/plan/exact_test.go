package plan_test

import (
	"math"

	"ferrule/rules/diagnosis/plan"
)

// exact is the least expected minutes by trying everything, from the problem
// as it is written and nothing of the package's own.
func exact(p plan.Problem) float64 {
	s := solver{p: p, memo: map[state]float64{}}
	w := make([]float64, len(p.Causes))
	start := state{place: p.Place, ready: p.Ready}
	for i, c := range p.Causes {
		w[i] = c.P
		if math.IsInf(c.Repair, 1) {
			start.tried |= 1 << i
		}
	}
	for j, t := range p.Tests {
		if math.IsInf(t.Minutes, 1) {
			start.seen[j] = -1
		}
	}
	return s.value(start, w)
}

type solver struct {
	p    plan.Problem
	memo map[state]float64
}

// state is what was seen by test (outcome plus 1, -1 for a test that can't be
// done), the repairs tried, and where one stands.
type state struct {
	seen  [6]int8
	tried uint16
	place int
	ready uint16
}

func (s *solver) pay(minutes float64, at plan.Spot, st *state) float64 {
	if at.Place != 0 && at.Place != st.place {
		minutes += s.p.Walk
		st.place = at.Place
	}
	for k, m := range s.p.Setups {
		if bit := uint16(1) << k; at.Setups&bit != 0 && st.ready&bit == 0 {
			minutes += m
			st.ready |= bit
		}
	}
	return minutes
}

func (s *solver) value(st state, w []float64) float64 {
	if v, ok := s.memo[st]; ok {
		return v
	}
	weight, serves := 0.0, false
	for i, x := range w {
		weight += x
		serves = serves || st.tried>>i&1 == 0 && x*s.p.Causes[i].Mends > 0
	}
	best := math.Inf(1)
	if !math.IsInf(s.p.HandOver, 1) {
		best = s.p.HandOver * weight
	} else if !serves {
		best = 0
	}
	for i, c := range s.p.Causes {
		if !serves || st.tried>>i&1 != 0 {
			continue
		}
		next, after := st, append([]float64(nil), w...)
		cost := s.pay(c.Repair, c.At, &next)
		next.tried |= 1 << i
		after[i] *= 1 - c.Mends
		best = min(best, cost*weight+s.value(next, after))
	}
	for j, t := range s.p.Tests {
		if !serves || st.seen[j] != 0 {
			continue
		}
		next := st
		sum := s.pay(t.Minutes, t.At, &next) * weight
		for o := range t.Given[0] {
			next.seen[j] = int8(o + 1)
			after := make([]float64, len(w))
			for i := range w {
				after[i] = w[i] * t.Given[i][o]
			}
			sum += s.value(next, after)
		}
		best = min(best, sum)
	}
	s.memo[st] = best
	return best
}
