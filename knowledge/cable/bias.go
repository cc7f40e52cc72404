package cable

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// PairOhms returns the resistance in ohm between the lines of a data pair:
// terminators of a resistance in ohm (0.1 to 1e6) each, and unit loads of 12
// kilohm each, all in parallel; the resistance of the cable is left out. Source:
// TIA-485-A for the unit load; Ohm's law. Without terminators and unit loads
// there is nothing between the lines. It fails with a *units.OutOfRange.
func PairOhms(count int, each, loads float64) (float64, error) {
	if err := cmp.Or(terminators(count), units.Within("resistance of the terminator", each, "ohm", 0.1, 1e6), unitLoads(loads)); err != nil {
		return 0, err
	}
	siemens := float64(count)/each + loads/inputOhms
	if err := units.Above("number of terminators and unit loads", siemens, "", 0); err != nil {
		return 0, err
	}
	if ohms := 1 / siemens; !math.IsInf(ohms, 0) {
		return ohms, nil
	}
	return 0, units.Within("number of unit loads", loads, "", 1e-6, 1e4)
}

// BiasCurrent returns the current in A that keeps a voltage in V (more than 0,
// to 100) between the lines at rest, with a resistance in ohm between them (0.001
// to 1e9), as PairOhms gives it. Source: Ohm's law. It fails with a
// *units.OutOfRange.
func BiasCurrent(volts, between float64) (float64, error) {
	err := cmp.Or(biasVolts(volts), betweenOhms(between))
	if err != nil {
		return 0, err
	}
	return volts / between, nil
}

// GreatestBias returns the greatest resistance in ohm of each of two equal bias
// resistors, one from each line to either side of a supply in V (more than the
// voltage between the lines, to 100), that keep a voltage in V between the lines
// at rest: (Vcc - V)/2/I, with I of BiasCurrent. Source: Ohm's law. It fails
// with a *units.OutOfRange.
func GreatestBias(supply, volts, between float64) (float64, error) {
	current, err := BiasCurrent(volts, between)
	if err != nil {
		return 0, err
	}
	if err := cmp.Or(units.Within("supply of the bias", supply, "V", 0, 100), units.Above("supply of the bias", supply, "V", volts)); err != nil {
		return 0, err
	}
	ohms := (supply - volts) / 2 / current
	return ohms, units.Number("resistance of the bias", ohms, "ohm")
}

// BiasVoltage returns the voltage in V between the lines at rest, from a supply
// in V (more than 0, to 100), the resistors in ohm from one line to it and from
// the other to 0 V (0.1 to 1e9 each), and the resistance in ohm between the lines
// (0.001 to 1e9). Source: voltage divider. It fails with a *units.OutOfRange.
func BiasVoltage(supply, up, down, between float64) (float64, error) {
	if err := cmp.Or(
		units.Above("supply of the bias", supply, "V", 0),
		units.Within("supply of the bias", supply, "V", 0, 100),
		units.Within("resistance of the bias", up, "ohm", 0.1, mostOhms),
		units.Within("resistance of the bias", down, "ohm", 0.1, mostOhms),
		betweenOhms(between),
	); err != nil {
		return 0, err
	}
	return supply * (between / (up + between + down)), nil
}

func biasVolts(v float64) error {
	return cmp.Or(units.Above("voltage between the lines at rest", v, "V", 0), units.Within("voltage between the lines at rest", v, "V", 0, 100))
}

func betweenOhms(r float64) error {
	return units.Within("resistance between the lines", r, "ohm", 1e-3, mostOhms)
}
