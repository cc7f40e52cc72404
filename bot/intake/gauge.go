package intake

import (
	"math"
	"slices"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

const thinnestGauge = 40

// gauge reads 24 AWG, AWG 24 and 22 gauge as the area of a core.
func (s *scan) gauge(i int) (quantity, bool) {
	q := quantity{first: i, last: i + 1, units: []units.Unit{units.SquareMillimetre}}
	switch {
	case s.isGauge(i + 1):
		q.last = i + 2
	case s.isGauge(i - 1):
		q.first = i - 1
	default:
		return q, false
	}
	n, ok := parseNumber(s.tokens[i].text)
	if !ok || n < 0 || n > thinnestGauge || n != math.Trunc(n) {
		return q, false
	}
	core, err := cable.AWG(int(n), cable.Copper)
	q.low, q.high = core.Area(), core.Area()
	return q, err == nil
}

func (s *scan) isGauge(i int) bool { return s.is(i, "awg") || s.is(i, "gauge") || s.is(i, "ga") }

// coresTimes reads cable as it is printed, 4 x 0.22 or 2x0,5mm2: what stands
// behind the cross is the area of a core.
func (s *scan) coresTimes(i int) (quantity, bool) {
	q := quantity{first: i, low: 0, units: []units.Unit{units.SquareMillimetre}}
	at := i + 1
	if !s.is(at, "x") && !s.is(at, "×") || s.kind(at+1) != number || s.tokens[at+1].line {
		return q, false
	}
	cores, ok := parseNumber(s.tokens[i].text)
	area, ok2 := parseNumber(s.tokens[at+1].text)
	if !ok || !ok2 || cores != math.Trunc(cores) || cores < 1 || cores > mostCores || area <= 0 || area > thickestCore {
		return q, false
	}
	q.low, q.high, q.last = area, area, at+2
	u, end, ok := s.unitAt(q.last)
	switch {
	case ok && slices.Contains(u, units.SquareMillimetre):
		q.last = end
	case ok, area == math.Trunc(area):
		return q, false // 3 x 1.5 V are cells, and 2 x 4 says nothing
	}
	return q, true
}

// What is printed on the cables of this trade stays below these.
const (
	mostCores    = 50
	thickestCore = 16.0
)
