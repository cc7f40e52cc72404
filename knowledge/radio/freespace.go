package radio

import (
	"math"

	"ferrule/knowledge/units"
)

const (
	speedOfLight       = 299792458.0      // m/s, exact
	vacuumPermittivity = 8.8541878128e-12 // F/m, CODATA 2018

	// Radio waves are those below 3000 GHz, and the bands are numbered from
	// 3 kHz on (ITU Radio Regulations, articles 1 and 2; from memory).
	lowestHz  = 3e3
	highestHz = 3e12

	farthest = 1e9 // metres; a longer path is a typing error
)

func inRadio(hz float64) error { return units.Within("frequency", hz, "Hz", lowestHz, highestHz) }

// inFarField holds a distance against the edge of the reactive near field,
// lambda/(2 pi): nearer by, free space would amplify.
func inFarField(hz, metres float64) error {
	return units.Within("distance", metres, "m", nearest(hz), farthest)
}

func nearest(hz float64) float64 { return speedOfLight / hz / (2 * math.Pi) }

// Wavelength returns the wavelength in metres of a frequency in hertz, in free
// space: c/f.
//
// Errors: *units.OutOfRange for a frequency outside 3 kHz to 3000 GHz.
func Wavelength(hz float64) (float64, error) {
	if err := inRadio(hz); err != nil {
		return 0, err
	}
	return speedOfLight / hz, nil
}

// FreeSpace returns the basic transmission loss in dB over a distance in metres
// with nothing near: 20 log10(4 pi d f / c). This is the exact form; the rounded
// constant 32.4 of the Recommendation gives 0.048 dB less.
//
// Errors: *units.OutOfRange for a frequency outside 3 kHz to 3000 GHz, or a
// distance below lambda/(2 pi), where no far field exists, or above 1e9 m.
//
// Source: ITU-R P.525 (Friis).
func FreeSpace(hz, metres float64) (float64, error) {
	if err := inRadio(hz); err != nil {
		return 0, err
	}
	if err := inFarField(hz, metres); err != nil {
		return 0, err
	}
	return freeSpace(hz, metres), nil
}

func freeSpace(hz, metres float64) float64 {
	return 20 * math.Log10(4*math.Pi*metres*hz/speedOfLight)
}
