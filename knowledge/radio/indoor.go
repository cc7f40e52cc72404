package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// Building is a kind of building, as ITU-R P.1238 divides them.
type Building uint8

// The kinds of building.
const (
	Office Building = iota + 1
	Commercial
	Residential
)

const mostFloors = 100

// cell is a cell of table 2 together with its cell of table 3. The table heads
// its columns 900 MHz and 1.8-2 GHz; that the first holds from 800 MHz to 1 GHz is
// our setting, no source.
type cell struct {
	building    Building
	low, high   float64 // Hz
	n           float64
	floors      []float64 // loss for 1, 2 ... floors, where the table lists them
	first, each float64   // else the loss of the first floor and of each further one
	most        int       // floors for which the table has a value
}

var cells = [...]cell{
	{building: Office, low: 800e6, high: 1e9, n: 33, floors: []float64{9, 19, 24}, most: 3},
	{building: Commercial, low: 800e6, high: 1e9, n: 20},
	{building: Office, low: 1.8e9, high: 2e9, n: 30, first: 15, each: 4, most: mostFloors},
	{building: Commercial, low: 1.8e9, high: 2e9, n: 22, first: 6, each: 3, most: mostFloors},
	{building: Residential, low: 1.8e9, high: 2e9, n: 28, first: 4, each: 4, most: mostFloors},
}

// Indoor returns the loss in dB between two aerials in one building, over a
// distance in metres and through a number of floors, all walls and furniture
// included on average: 20 log10 f(MHz) + N log10 d + Lf(n) - 28.
//
// With N = 20 it lies 0.45 dB below free space: the formula's constant is rounded.
//
// Errors: *units.OutOfRange where the tables have no value. There is none for a
// residential building near 900 MHz, none for floors of a commercial building
// there, none for more than 3 floors of an office there, and none at 1 m or below.
//
// Source: ITU-R P.1238, the coefficient form of the older revisions (to about -9),
// tables 2 and 3. Later revisions use another form.
func Indoor(b Building, hz, metres float64, floors int) (float64, error) {
	c, err := findCell(b, hz)
	if err != nil {
		return 0, err
	}
	if err := cmp.Or(
		units.Above("distance", metres, "m", 1),
		units.Within("distance", metres, "m", 1, farthest),
		units.Within("number of floors", float64(floors), "", 0, float64(c.most)),
	); err != nil {
		return 0, err
	}
	return 20*math.Log10(hz/1e6) + c.n*math.Log10(metres) + c.floorLoss(floors) - 28, nil
}

func (c *cell) floorLoss(floors int) float64 {
	switch {
	case floors == 0:
		return 0
	case c.floors != nil:
		return c.floors[floors-1]
	}
	return c.first + c.each*float64(floors-1)
}

// findCell refuses with the range of the nearest cell of the same building.
func findCell(b Building, hz float64) (*cell, error) {
	if b < Office || b > Residential {
		return nil, units.Within("kind of building", float64(b), "", float64(Office), float64(Residential))
	}
	if err := inRadio(hz); err != nil {
		return nil, err
	}
	var near *cell
	for i := range cells {
		c := &cells[i]
		if c.building == b && (near == nil || c.away(hz) < near.away(hz)) {
			near = c
		}
	}
	return near, units.Within(b.quantity(), hz, "Hz", near.low, near.high)
}

func (c *cell) away(hz float64) float64 { return max(c.low-hz, hz-c.high, 0) }

func (b Building) quantity() string {
	switch b {
	case Office:
		return "frequency for an office"
	case Commercial:
		return "frequency for a commercial building"
	}
	return "frequency for a residential building"
}
