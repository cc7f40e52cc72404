package cable

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// Termination is what a meter across an unpowered data pair tells.
type Termination uint8

// What it can tell.
const (
	TerminationUnclear Termination = iota // no number of terminators fits
	PairShorted
	NoTerminator
	OneTerminator
	OneAtFarEnd // beyond the resistance of the cable
	TwoTerminators
	ThreeTerminators
)

// within is the greatest ratio of a reading to what is expected. It leaves room
// for resistors of 5 %, the receivers' inputs and bias resistors, and stays
// below half of the way from two terminators to three. Common practice, no
// source.
const within = 1.18

// ReadPair says what a reading in ohm at one end of an unpowered data pair means
// (0 to 1e9; for a reading beyond the meter's range, the range). It needs the
// terminator's resistance in ohm (1 to 10000, usually 120), and the cable's out
// and back (0 to 1e6), which is in series with the far terminator: 120 ohm at
// both ends give 60 on a short cable, and 72 over 60 ohm of cable. Three give 40
// with no cable to speak of. A reading of over ten times the terminator means
// that there is none, one of less than a tenth of it a short near by; a short far
// off reads as the cable on the way to it, and can't be told from terminators.
//
// Where one terminator here and one at the far end can't be told apart it says
// OneTerminator. On a powered bus the reading means nothing. Sources: 60, 120
// and 40 ohm from resistors in parallel; the bounds are common practice, no
// source. It fails with a *units.OutOfRange.
func ReadPair(ohms, terminator, loop float64) (Termination, error) {
	if err := cmp.Or(
		units.Within("resistance between the lines", ohms, "ohm", 0, mostOhms),
		units.Within("resistance of the terminator", terminator, "ohm", 1, 1e4),
		units.Within("resistance of the cable", loop, "ohm", 0, 1e6),
	); err != nil {
		return TerminationUnclear, err
	}
	far := terminator + loop
	switch {
	case ohms > 10*terminator && ohms > within*far:
		return NoTerminator, nil
	case ohms < terminator/10:
		return PairShorted, nil
	}
	expected := [...]struct {
		Termination
		ohms float64
	}{
		{OneTerminator, terminator},
		{OneAtFarEnd, far},
		{TwoTerminators, parallel(terminator, far)},
		{ThreeTerminators, parallel(terminator/2, far)},
	}
	best, nearest := TerminationUnclear, within
	for _, e := range expected {
		if ratio := math.Max(ohms/e.ohms, e.ohms/ohms); ratio < nearest {
			best, nearest = e.Termination, ratio
		}
	}
	return best, nil
}

func parallel(a, b float64) float64 { return a * b / (a + b) }
