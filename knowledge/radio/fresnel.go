package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// ClearShare is how much of the first Fresnel zone's radius must be clear for a path
// to count as free. Source: common practice, ITU-R P.530 among others (from memory).
const ClearShare = 0.6

// FresnelRadius returns the radius in metres of the nth Fresnel zone at a point d1
// metres from one end and d2 metres from the other: sqrt(n lambda d1 d2/(d1+d2)).
//
// Errors: *units.OutOfRange for a frequency outside 3 kHz to 3000 GHz, a distance
// that is 0 or negative or above 1e9 m, a zone outside 1 to 1000.
//
// Source: textbook; ITU-R P.530 has it for the first zone as 17.3 sqrt(d1 d2/(f d))
// in km and GHz (by a public page).
func FresnelRadius(hz, d1, d2 float64, n int) (float64, error) {
	if err := cmp.Or(
		inRadio(hz),
		inSection("distance to the sending aerial", d1),
		inSection("distance to the receiving aerial", d2),
		units.Within("number of the Fresnel zone", float64(n), "", 1, 1000),
	); err != nil {
		return 0, err
	}
	// The root of each, for the product of two short distances underflows.
	return math.Sqrt(float64(n)*speedOfLight/hz) * math.Sqrt(d1) * math.Sqrt(d2/(d1+d2)), nil
}

func inSection(quantity string, metres float64) error {
	return cmp.Or(units.Above(quantity, metres, "m", 0), units.Within(quantity, metres, "m", 0, farthest))
}

// Clearance is how an obstacle stands to the line between two aerials.
type Clearance struct {
	Radius float64 // metres, of the first Fresnel zone there
	Over   float64 // metres from the obstacle's top up to the line; negative: it cuts the line
	Share  float64 // Over by Radius
	Clear  bool    // Share is at least ClearShare
}

// FirstZone returns how much of the first Fresnel zone is clear above an obstacle
// of a height in metres, d1 metres from the sending aerial at height ht and d2
// metres from the receiving one at height hr. The earth is taken as flat.
//
// Errors: *units.OutOfRange as FresnelRadius has, for an aerial's height outside
// 1 cm to 10 km, an obstacle's outside 0 to 10 km.
//
// Source: geometry; the criterion of 60 % is common practice.
func FirstZone(hz, d1, d2, ht, hr, obstacle float64) (Clearance, error) {
	radius, err := FresnelRadius(hz, d1, d2, 1)
	if err != nil {
		return Clearance{}, err
	}
	if err := cmp.Or(inHeights(ht, hr), units.Within("height of the obstacle", obstacle, "m", 0, 1e4)); err != nil {
		return Clearance{}, err
	}
	over := ht + (hr-ht)*(d1/(d1+d2)) - obstacle
	share := over / radius
	if err := units.Number("share of the Fresnel zone", share, ""); err != nil {
		return Clearance{}, err
	}
	return Clearance{Radius: radius, Over: over, Share: share, Clear: share >= ClearShare}, nil
}
