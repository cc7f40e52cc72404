package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// GroundReflection is the reflection coefficient of the ground at grazing
// incidence, for any ground and either polarisation: the wave comes back whole and
// turned over. Source: textbook (Rappaport 4.6).
const GroundReflection = -1.0

func inHeights(ht, hr float64) error {
	return cmp.Or(
		units.Within("height of the sending aerial", ht, "m", 0.01, 1e4),
		units.Within("height of the receiving aerial", hr, "m", 0.01, 1e4),
	)
}

// TwoRay returns the loss in dB between aerials at the heights ht and hr over level
// ground, the distance in metres measured along it: the direct wave and the one
// that the ground reflects, added with their phases. Near by it swings about free
// space with nulls; far off it becomes PlaneEarth.
//
// Errors: *units.OutOfRange for a frequency or distance that FreeSpace refuses, a
// height outside 1 cm to 10 km, a reflection coefficient outside -1 to 1
// (GroundReflection where nothing else is known).
//
// Source: textbook (Rappaport 4.6), the exact sum.
func TwoRay(hz, metres, ht, hr, reflection float64) (float64, error) {
	if err := cmp.Or(inRadio(hz), inHeights(ht, hr), units.Within("reflection coefficient of the ground", reflection, "", -1, 1)); err != nil {
		return 0, err
	}
	if err := inFarField(hz, metres); err != nil {
		return 0, err
	}
	direct, reflected := math.Hypot(metres, ht-hr), math.Hypot(metres, ht+hr)
	// Not reflected-direct: far off the two differ in the last digits only.
	further := 4 * ht * hr / (direct + reflected)
	return freeSpace(hz, direct) - 20*math.Log10(together(reflection, further/reflected, math.Pi*hz/speedOfLight*further)), nil
}

// together returns |1 + g (1-short) exp(-2j half)|, exact where it is nearly 0.
func together(g, short, half float64) float64 {
	size := math.Abs(g) * (1 - short)
	rest := (1 - math.Abs(g)) + math.Abs(g)*short // 1 - size
	turn := math.Sin(half)
	if g > 0 {
		turn = math.Cos(half)
	}
	return math.Hypot(rest, 2*math.Sqrt(size)*turn)
}

// PlaneEarth returns the loss in dB over level ground far from the sending aerial:
// 40 log10 d - 20 log10 ht - 20 log10 hr, distance and heights in metres. It does
// not depend on frequency. Nearer than the Crossover it says too little: OpenArea
// takes the larger of it and free space.
//
// Errors: *units.OutOfRange for a distance outside 1 cm to 1e9 m or a height outside
// 1 cm to 10 km.
//
// Source: textbook (Rappaport 4.6).
func PlaneEarth(metres, ht, hr float64) (float64, error) {
	if err := cmp.Or(units.Within("distance", metres, "m", 0.01, farthest), inHeights(ht, hr)); err != nil {
		return 0, err
	}
	return planeEarth(metres, ht, hr), nil
}

func planeEarth(metres, ht, hr float64) float64 {
	return 40*math.Log10(metres) - 20*math.Log10(ht*hr)
}

// Breakpoint returns the distance in metres, 4 ht hr/lambda, at which the first
// Fresnel zone touches the ground: beyond it the level falls faster.
//
// Errors: *units.OutOfRange for a frequency outside 3 kHz to 3000 GHz or a height
// outside 1 cm to 10 km.
//
// Source: ITU-R P.1411 (by a public page).
func Breakpoint(hz, ht, hr float64) (float64, error) {
	if err := cmp.Or(inRadio(hz), inHeights(ht, hr)); err != nil {
		return 0, err
	}
	return 4 * ht * hr * hz / speedOfLight, nil
}

// Crossover returns the distance in metres, 4 pi ht hr/lambda, at which free space
// and plane earth are equal.
//
// Errors: as Breakpoint. Source: textbook (from memory).
func Crossover(hz, ht, hr float64) (float64, error) {
	d, err := Breakpoint(hz, ht, hr)
	return math.Pi * d, err
}

// OpenArea returns the loss in dB in an open area: the larger of free space and
// plane earth. It leaves out the nulls of TwoRay.
//
// Errors: *units.OutOfRange as FreeSpace and PlaneEarth have. Source: textbook.
func OpenArea(hz, metres, ht, hr float64) (float64, error) {
	free, err := FreeSpace(hz, metres)
	if err != nil {
		return 0, err
	}
	ground, err := PlaneEarth(metres, ht, hr)
	if err != nil {
		return 0, err
	}
	return max(free, ground), nil
}
