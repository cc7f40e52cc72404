package learn

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Minutes is how long something takes. The intervals are for the next time, not
// for the mean: so many of the next ones fall inside.
type Minutes struct {
	Median, Low80, High80, Low95, High95 float64
	Cases                                int // that were timed; 0: the pack alone
}

// moments are what times leave behind: their number, the mean of their logs and
// the squares about it.
type moments struct {
	N       int     `json:"n"`
	Mean    float64 `json:"mean_log"`
	Squares float64 `json:"squares"`
}

// momentsOf takes sorted logs, so that the sums do not depend on the order in
// which they came.
func momentsOf(logs []float64) moments {
	m := moments{N: len(logs)}
	if m.N == 0 {
		return m
	}
	for _, x := range logs {
		m.Mean += x
	}
	m.Mean /= float64(m.N)
	for _, x := range logs {
		m.Squares += (x - m.Mean) * (x - m.Mean)
	}
	return m
}

// predict gives the predictive distribution of the next time, a Student t of the
// log: normal-inverse-gamma with the prior median and spread counting as
// MinutesCases observations. Source: Gelman and others, Bayesian Data Analysis,
// 3.3, from memory.
func predict(median float64, seen moments, s Settings) Minutes {
	n := float64(seen.N)
	prior := math.Log(median)
	cases := s.MinutesCases + n
	mean := (s.MinutesCases*prior + n*seen.Mean) / cases
	squares := s.MinutesCases*s.MinutesSpread*s.MinutesSpread + seen.Squares +
		s.MinutesCases*n/cases*(seen.Mean-prior)*(seen.Mean-prior)
	spread := math.Sqrt(squares / cases * (cases + 1) / cases)
	t := distuv.StudentsT{Sigma: 1, Nu: cases}
	t80, t95 := spread*t.Quantile(0.9), spread*t.Quantile(0.975)
	out := Minutes{
		Median: math.Exp(mean), Cases: seen.N,
		Low80: math.Exp(mean - t80), High80: math.Exp(mean + t80),
		Low95: math.Exp(mean - t95), High95: math.Exp(mean + t95),
	}
	if seen.N == 0 {
		out.Median = median // not by way of its log
	}
	return out
}

// timed tells whether a pack's minutes can be a prior.
func timed(minutes float64) bool { return minutes >= leastMinutes && minutes <= mostMinutes }
