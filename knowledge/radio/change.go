package radio

import "ferrule/knowledge/units"

// Change is what an alteration of a path would bring.
type Change struct {
	Gain          float64 // dB; negative: it would get worse
	Before, After Expected
}

// WithoutObstacle returns what the removal of the path's obstacle i would bring,
// counted from 0: a door opened, a cabinet moved, an aerial set beside the wall.
//
// Errors: as Expect, and *units.OutOfRange for an obstacle that the path has not.
func WithoutObstacle(p Path, i int) (Change, error) {
	if err := units.Within("number of the obstacle", float64(i), "", 0, float64(len(p.Obstacles)-1)); err != nil {
		return Change{}, err
	}
	return change(&p, &p, i)
}

// WithFloors returns what another number of floors on the way would bring.
//
// Errors: as Expect.
func WithFloors(p Path, floors int) (Change, error) {
	other := p
	other.Floors = floors
	return change(&p, &other, -1)
}

// AtDistance returns what another distance in metres would bring, with everything
// else on the path as it is.
//
// Errors: as Expect.
func AtDistance(p Path, metres float64) (Change, error) {
	other := p
	other.Metres = metres
	return change(&p, &other, -1)
}

func change(p, other *Path, without int) (c Change, err error) {
	if c.Before, err = expect(p, -1); err != nil {
		return Change{}, err
	}
	if c.After, err = expect(other, without); err != nil {
		return Change{}, err
	}
	c.Gain = c.After.Level - c.Before.Level
	return c, nil
}
