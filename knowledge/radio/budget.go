package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// DipoleGain is the dB from effective radiated power, which is against a half-wave
// dipole, to equivalent isotropic radiated power. Source: 10 log10 1.64, rounded up
// as the trade does (from memory).
const DipoleGain = 2.15

const boltzmann = 1.380649e-23 // J/K, exact

// DBm returns a power in watts as dBm.
//
// Errors: *units.OutOfRange for a power that is not above 0.
//
// Source: the definition, 10 log10 of the milliwatts.
func DBm(watts float64) (float64, error) {
	if err := units.Above("power", watts, "W", 0); err != nil {
		return 0, err
	}
	return 10*math.Log10(watts) + 30, nil
}

// Watts returns a power in dBm as watts.
//
// Errors: *units.OutOfRange outside -300 to 300 dBm.
//
// Source: the definition.
func Watts(dBm float64) (float64, error) {
	if err := inLevel("power", dBm); err != nil {
		return 0, err
	}
	return math.Pow(10, (dBm-30)/10), nil
}

func inLevel(quantity string, dBm float64) error {
	return units.Within(quantity, dBm, "dBm", -300, 300)
}

// EIRP returns the equivalent isotropic radiated power of an effective radiated
// power, both in dBm: DipoleGain more.
//
// Errors: *units.OutOfRange outside -300 to 300 dBm.
//
// Source: the definitions (ITU Radio Regulations, article 1; from memory).
func EIRP(erp float64) (float64, error) {
	if err := inLevel("effective radiated power", erp); err != nil {
		return 0, err
	}
	return erp + DipoleGain, nil
}

// ERP returns the effective radiated power of an equivalent isotropic radiated
// power, both in dBm: DipoleGain less.
//
// Errors and source: as EIRP.
func ERP(eirp float64) (float64, error) {
	if err := inLevel("equivalent isotropic radiated power", eirp); err != nil {
		return 0, err
	}
	return eirp - DipoleGain, nil
}

// NoiseFloor returns the level in dBm of the noise in a receiver: k T B, at a
// temperature in kelvins (290 by custom) and a bandwidth in hertz, and the noise
// figure in dB on top. Noise made by man is not in it.
//
// Errors: *units.OutOfRange for a temperature or bandwidth that is not above 0 or is
// above 1e6 K or 3000 GHz, or a noise figure outside 0 to 100 dB.
//
// Source: textbook; k is exact in the SI.
func NoiseFloor(kelvin, bandwidth, noiseFigure float64) (float64, error) {
	if err := cmp.Or(
		units.Within("temperature of the receiver", kelvin, "K", 1e-3, 1e6),
		units.Within("bandwidth", bandwidth, "Hz", 1e-3, highestHz),
		units.Within("noise figure", noiseFigure, "dB", 0, 100),
	); err != nil {
		return 0, err
	}
	return 10*math.Log10(boltzmann*kelvin*bandwidth) + 30 + noiseFigure, nil
}

// Link is a link budget.
type Link struct {
	ERP      float64 // dBm, effective radiated power of the sender
	Losses   float64 // dB; aerials badly placed, cables, the metal they stand on, at both ends
	PathLoss float64 // dB between isotropic aerials
	Gain     float64 // dBi, the receiving aerial's
}

// Level returns the level in dBm at the receiver: the e.r.p. and DipoleGain less the
// losses and the path loss, and the gain.
//
// Errors: *units.OutOfRange for a power outside -300 to 300 dBm, losses outside 0 to
// 1000 dB, a path loss outside -100 to 20000 dB, a gain outside -100 to 100 dBi.
//
// Source: Friis, in dB.
func (l Link) Level() (float64, error) {
	if err := cmp.Or(
		inLevel("effective radiated power", l.ERP),
		units.Within("losses of aerials and installation", l.Losses, "dB", 0, mostLoss),
		units.Within("path loss", l.PathLoss, "dB", -100, 2*mostWalls),
		units.Within("gain of the receiving aerial", l.Gain, "dBi", -100, 100),
	); err != nil {
		return 0, err
	}
	return l.ERP + DipoleGain - l.Losses - l.PathLoss + l.Gain, nil
}

// Margin returns the dB by which the level lies above the receiver's sensitivity in
// dBm, negative below it.
//
// Errors: as Level, and *units.OutOfRange for a sensitivity outside -300 to 300 dBm.
func (l Link) Margin(sensitivity float64) (float64, error) {
	if err := inLevel("sensitivity of the receiver", sensitivity); err != nil {
		return 0, err
	}
	level, err := l.Level()
	if err != nil {
		return 0, err
	}
	return level - sensitivity, nil
}
