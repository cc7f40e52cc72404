package cable

import (
	"math"

	"ferrule/knowledge/units"
)

const (
	mostLength  = 1e5 // m
	mostCores   = 50
	mostCurrent = 1e4 // A
	leastVolts  = 1e-3
	mostVolts   = 1e4 // V
	mostOhms    = 1e9
	mostPower   = 1e6 // W
)

// Run is a two-wire run of cable: out on one pole and back on the other.
type Run struct {
	Conductor   Conductor
	Length      float64 // m, one way; 0 to 100000
	Cores       int     // in parallel in each pole; 1 to 50
	Temperature float64 // of the cores, °C; -40 to 90
}

// Ohms returns the resistance out and back in ohm: 2 L R'/cores (Ohm's law). It
// fails with a *units.OutOfRange.
func (r Run) Ohms() (float64, error) {
	if err := units.Within("length of the cable", r.Length, "m", 0, mostLength); err != nil {
		return 0, err
	}
	perMetre, err := r.ohmsPerMetre()
	return r.Length * perMetre, err
}

// ohmsPerMetre is that of a metre of run, both poles.
func (r Run) ohmsPerMetre() (float64, error) {
	if err := units.Within("number of cores in each pole", float64(r.Cores), "", 1, mostCores); err != nil {
		return 0, err
	}
	one, err := r.Conductor.OhmsPerMetre(r.Temperature)
	return 2 * one / float64(r.Cores), err
}

// Drop returns the voltage lost in V to a current in A drawn at the far end:
// 2 L I R'/cores (Ohm's law). It fails with a *units.OutOfRange.
func (r Run) Drop(current float64) (float64, error) {
	if err := units.Within("current of the load", current, "A", 0, mostCurrent); err != nil {
		return 0, err
	}
	ohms, err := r.Ohms()
	return ohms * current, err
}

// DropOfEvenLoads returns the voltage in V lost at the far end to a total
// current in A drawn by n equal loads at even distances, the last at the end:
// I R (n+1)/(2n), half of Drop for very many. Source: circuit theory, from
// memory; the tests sum it up. It fails with a *units.OutOfRange.
func (r Run) DropOfEvenLoads(total float64, n int) (float64, error) {
	if err := units.Within("number of loads", float64(n), "", 1, 1e6); err != nil {
		return 0, err
	}
	drop, err := r.Drop(total)
	return drop * (float64(n) + 1) / (2 * float64(n)), err
}

// VoltageAtEnd returns what a current in A at the far end leaves of a source's
// voltage in V (Ohm's law). It fails with a *units.OutOfRange, or with a
// *Collapse when nothing is left.
func (r Run) VoltageAtEnd(source, current float64) (float64, error) {
	if err := sourceVolts(source); err != nil {
		return 0, err
	}
	drop, err := r.Drop(current)
	if err != nil {
		return 0, err
	}
	if drop >= source {
		return 0, &Collapse{Node: 1}
	}
	return source - drop, nil
}

// GreatestLength returns the length in m, one way, of this cable at which a
// current in A leaves the least voltage in V of a source's: (Vs - V) cores/(2 I
// R') (Ohm's law). The Length of the run doesn't matter. It fails with a
// *units.OutOfRange.
func (r Run) GreatestLength(source, least, current float64) (float64, error) {
	if err := sourceVolts(source); err != nil {
		return 0, err
	}
	if err := units.Within("least voltage", least, "V", 0, source); err != nil {
		return 0, err
	}
	if err := units.Above("current of the load", current, "A", 0); err != nil {
		return 0, err
	}
	perMetre, err := r.ohmsPerMetre()
	if err != nil {
		return 0, err
	}
	// The quotients apart, since a very small current would make their product 0.
	length := (source - least) / perMetre / current
	if math.IsInf(length, 0) {
		return 0, units.Number("greatest length of the cable", length, "m")
	}
	return length, nil
}

func sourceVolts(v float64) error {
	return units.Within("voltage of the source", v, "V", leastVolts, mostVolts)
}
