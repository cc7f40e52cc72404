package power

import (
	"cmp"
	"sort"

	"ferrule/knowledge/units"
)

// The temperatures at which anything is said about a battery, °C.
const (
	coldest = -40
	hottest = 60
)

const maxVolts = 10e3 // of a table: keeps what is worked out from it a number

// OCVPoint is a state of charge, as a share, and the voltage in V that belongs
// to it.
type OCVPoint struct{ Share, Volts float64 }

// OCVTable is the open-circuit voltage of one type of battery, from empty to
// full, both rising. The caller may change it.
type OCVTable struct {
	Name      string
	Cells     int
	Points    []OCVPoint
	RestHours float64 // without load or charger before a reading holds
	Low, High float64 // °C between which it holds
	Source    Source
}

// restHours and the room temperatures are common practice, no source; public
// pages say 'several hours' and no temperature.
const (
	restHours = 4
	roomLow   = 15
	roomHigh  = 30
)

func lead12V(name string, source Source, points ...OCVPoint) OCVTable {
	return OCVTable{Name: name, Cells: 6, Points: points, RestHours: restHours, Low: roomLow, High: roomHigh, Source: source}
}

// FloodedOCV returns the table for flooded 12 V batteries.
//
// SOURCE: a public mailing list (weak). No standard has such a table.
func FloodedOCV() OCVTable {
	return lead12V("flooded", Source{"public mailing list; no standard table exists", WeakPage},
		OCVPoint{0, 11.6}, OCVPoint{0.25, 12.0}, OCVPoint{0.5, 12.2}, OCVPoint{0.75, 12.4}, OCVPoint{1, 12.6})
}

// SealedOCV returns the table for sealed 12 V batteries: its two ends, all that
// was found.
//
// SOURCE: a public page (weak). No standard has such a table.
func SealedOCV() OCVTable {
	return lead12V("sealed", Source{"public page, the two ends only; no standard table exists", WeakPage}, OCVPoint{0, 11.63}, OCVPoint{1, 12.89})
}

// HandbookOCV returns the table that handbooks commonly print for 12 V
// lead-acid batteries.
//
// SOURCE: from memory; 12.7 V for full is on a public page (weak).
func HandbookOCV() OCVTable {
	return lead12V("lead-acid, as handbooks print it", Source{"handbook habit; no standard table exists", FromMemory},
		OCVPoint{0, 11.9}, OCVPoint{0.25, 12.1}, OCVPoint{0.5, 12.3}, OCVPoint{0.75, 12.5}, OCVPoint{1, 12.7})
}

func (t *OCVTable) check() error {
	if err := cmp.Or(units.Within("number of cells", float64(t.Cells), "", 1, 1000), units.Within("number of points of the table", float64(len(t.Points)), "", 2, inf),
		units.Within("rest of the table", t.RestHours, "h", 0, inf), units.Number("lowest temperature of the table", t.Low, "C"),
		units.Within("highest temperature of the table", t.High, "C", t.Low, inf)); err != nil {
		return err
	}
	first, last := t.Points[0], t.Points[len(t.Points)-1]
	if err := cmp.Or(units.Within("first share of the table", first.Share, "", 0, 0), units.Within("last share of the table", last.Share, "", 1, 1),
		within("voltage of the table", first.Volts, "V", 0, maxVolts)); err != nil {
		return err
	}
	for i, p := range t.Points[1:] {
		before := t.Points[i]
		if err := cmp.Or(units.Above("share of the table", p.Share, "", before.Share), within("voltage of the table", p.Volts, "V", before.Volts, maxVolts)); err != nil {
			return err
		}
	}
	return nil
}

// volts interpolates a checked table at a share of 0 to 1; it never falls while
// the share rises.
func (t *OCVTable) volts(share float64) float64 {
	i := 1 + sort.Search(len(t.Points)-2, func(i int) bool { return t.Points[i+1].Share >= share })
	low, high := t.Points[i-1], t.Points[i]
	return min(high.Volts, line(low.Share, low.Volts, high.Share, high.Volts, share))
}

// line returns y at x on the line through two points with x1 < x2.
func line(x1, y1, x2, y2, x float64) float64 { return y1 + (y2-y1)*((x-x1)/(x2-x1)) }

// Volts returns the open-circuit voltage in V at a state of charge, a share of
// 0 to 1. Another share, or a table that does not rise from empty to full, is a
// *units.OutOfRange.
//
// SOURCE: the table's own; linear interpolation.
func (t OCVTable) Volts(share float64) (float64, error) {
	if err := cmp.Or(t.check(), units.Within("state of charge", share, "", 0, 1)); err != nil {
		return 0, err
	}
	return t.volts(share), nil
}

// Reading is a voltage at the terminals with nothing connected.
type Reading struct {
	Volts       float64
	RestHours   float64 // since load and charger were taken off
	Temperature float64 // °C
}

// StateOfCharge is what a reading says.
type StateOfCharge struct {
	Share          float64 // 0 to 1
	Beyond         bool    // the voltage is outside the table, and Share is its end
	Unrested       bool    // rested for less than the table wants: the reading does not hold yet
	OffTemperature bool    // the table does not hold at that temperature
}

// StateOfCharge reads the state of charge of a battery from its open-circuit
// voltage in V. What keeps the reading from holding comes back as flags, not
// as a correction. A quantity out of its range (temperature: -40 to 60 °C), or
// a table that does not rise from empty to full, is a *units.OutOfRange.
//
// SOURCE: the table's own; linear interpolation; several hours of rest by a
// public mailing list (weak).
func (t OCVTable) StateOfCharge(r Reading) (StateOfCharge, error) {
	if err := cmp.Or(t.check(), units.Within("open-circuit voltage", r.Volts, "V", 0, inf), units.Within("rest of the battery", r.RestHours, "h", 0, inf),
		units.Within(qTemperature, r.Temperature, "C", coldest, hottest)); err != nil {
		return StateOfCharge{}, err
	}
	s := StateOfCharge{Unrested: r.RestHours < t.RestHours, OffTemperature: r.Temperature < t.Low || r.Temperature > t.High}
	first, last := t.Points[0], t.Points[len(t.Points)-1]
	switch {
	case r.Volts < first.Volts:
		s.Beyond = true
	case r.Volts > last.Volts:
		s.Share, s.Beyond = 1, true
	default:
		i := 1 + sort.Search(len(t.Points)-2, func(i int) bool { return t.Points[i+1].Volts >= r.Volts })
		low, high := t.Points[i-1], t.Points[i]
		s.Share = min(high.Share, line(low.Volts, low.Share, high.Volts, high.Share, r.Volts))
	}
	return s, nil
}
