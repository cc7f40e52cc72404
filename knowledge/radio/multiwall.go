package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// The losses in dB of the COST 231 multi-wall model, fitted at 1800 MHz (from
// memory), and its exponent for floors. At 868 MHz they say too much loss.
//
// Light walls are plasterboard, particle board and thin (below 10 cm) light
// concrete, heavy ones are more than 10 cm of concrete or brick (from memory).
//
// Source: COST 231 final report (1999), 4.7.
const (
	LightWall     = 3.4
	HeavyWall     = 6.9
	Floor         = 18.3
	FloorExponent = 0.46
)

const (
	mostLoss  = 1000.0  // dB of one obstacle
	mostWalls = 10000.0 // dB of all together
)

// Crossing is what a straight line between two aerials goes through. Its zero
// value is nothing.
type Crossing struct {
	Constant  float64 // dB; the model's own constant, mostly 0
	Walls     float64 // dB; the sum over all walls, from any source
	Floors    int
	FloorLoss float64 // dB for the first floor; Floor unless something better is known
	Exponent  float64 // b in the term of the floors; FloorExponent unless fitted anew
}

// Cost231 returns the crossing of light walls, heavy walls and floors with the
// model's own losses.
//
// Errors: *units.OutOfRange for a number below 0 or above 100.
//
// Source: COST 231 final report (1999), 4.7.
func Cost231(light, heavy, floors int) (Crossing, error) {
	if err := cmp.Or(
		units.Within("number of light walls", float64(light), "", 0, 100),
		units.Within("number of heavy walls", float64(heavy), "", 0, 100),
		inFloors(floors),
	); err != nil {
		return Crossing{}, err
	}
	return Crossing{
		Walls:     float64(light)*LightWall + float64(heavy)*HeavyWall,
		Floors:    floors,
		FloorLoss: Floor,
		Exponent:  FloorExponent,
	}, nil
}

func inFloors(floors int) error {
	return units.Within("number of floors", float64(floors), "", 0, mostFloors)
}

// FloorsLoss returns the loss in dB of a number of floors of which the first
// alone has floorLoss dB: k^((k+2)/(k+1)-b) times that, so that each further floor
// adds less than the one before. No floor has no loss.
//
// Errors: *units.OutOfRange for a number of floors outside 0 to 100, a loss
// outside 0 to 1000 dB, an exponent b outside 0 to 1.
//
// Source: COST 231 final report (1999), 4.7.
func FloorsLoss(floors int, floorLoss, b float64) (float64, error) {
	if err := cmp.Or(
		inFloors(floors),
		units.Within("loss of a floor", floorLoss, "dB", 0, mostLoss),
		units.Within("exponent of the floors", b, "", 0, 1),
	); err != nil {
		return 0, err
	}
	return floorsLoss(floors, floorLoss, b), nil
}

func floorsLoss(floors int, floorLoss, b float64) float64 {
	switch floors {
	case 0:
		return 0
	case 1:
		return floorLoss
	}
	k := float64(floors)
	return math.Pow(k, (k+2)/(k+1)-b) * floorLoss
}

// MultiWall returns the loss in dB over a distance in metres through walls and
// floors: free space, the constant, the walls' losses and the floors' term.
//
// Errors: *units.OutOfRange as FreeSpace and FloorsLoss have, and for a constant
// outside -100 to 1000 dB or walls outside 0 to 10000 dB.
//
// Source: COST 231 final report (1999), 4.7, stated for 800 to 2000 MHz; see
// MultiWallExtrapolated. Losses of walls from elsewhere, such as Slab, fit as well.
func MultiWall(hz, metres float64, c Crossing) (float64, error) {
	free, err := FreeSpace(hz, metres)
	if err != nil {
		return 0, err
	}
	if err := cmp.Or(
		units.Within("constant of the multi-wall model", c.Constant, "dB", -100, mostLoss),
		units.Within("sum of the wall losses", c.Walls, "dB", 0, mostWalls),
	); err != nil {
		return 0, err
	}
	floors, err := FloorsLoss(c.Floors, c.FloorLoss, c.Exponent)
	if err != nil {
		return 0, err
	}
	return free + c.Constant + c.Walls + floors, nil
}

// MultiWallExtrapolated says whether a frequency in hertz lies outside the range
// that the multi-wall model states, 800 to 2000 MHz.
//
// Source: secondary copies of COST 231 final report (1999), 4.7; one says 800 to
// 1900 MHz.
func MultiWallExtrapolated(hz float64) bool { return !(hz >= 800e6 && hz <= 2000e6) }
