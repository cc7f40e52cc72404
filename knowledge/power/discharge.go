package power

import (
	"cmp"

	"ferrule/knowledge/units"
)

// CutOffPerCell is the voltage in V of a lead-acid cell at which the
// deep-discharge protection disconnects: 10.5 V for 12 V.
//
// SOURCE: common practice, no source.
const CutOffPerCell = 1.75

const maxRise = 100

// Discharge is a discharge at a constant current.
type Discharge struct {
	OCV        OCVTable
	Capacity   float64 // Ah, held to RateHours
	RateHours  float64
	Exponent   float64 // Peukert's, 1 to 2
	Resistance float64 // ohm inside the full battery
	Rise       float64 // share by which the resistance is larger when empty, 0 (constant) to 100
	Current    float64 // A
	Start      float64 // state of charge at the beginning, above 0 and at most 1
	CutOff     float64 // V; 0 takes CutOffPerCell for each cell
}

// CurvePoint is a point of a discharge: hours since its beginning, volts at the
// terminals under the load, and the state of charge as a share.
type CurvePoint struct{ Hours, Volts, Share float64 }

// End is how a discharge ends.
type End struct {
	CurvePoint
	Empty bool // the charge is used up, above the cut-off voltage
}

// End returns the point at which the voltage reaches the cut-off, or at which
// the battery is empty. Model and errors as in [Discharge.Curve].
//
// SOURCE: as [Discharge.Curve].
func (d Discharge) End() (End, error) {
	full, err := d.check()
	if err != nil {
		return End{}, err
	}
	return d.end(full), nil
}

// Curve fills points with the discharge from its beginning to its end, evenly
// in time, for drawing, and returns its end; it takes at least two points.
//
// The state of charge falls evenly, so that a full battery is empty after
// Peukert's time H (C/(I H))^k, or after C/I below the rated current, where the
// law promises too much. The voltage is that of the table less the current
// times R (1 + rise (1 - share)). It never rises along the curve.
//
// A quantity out of its range, fewer than two points, a voltage at the
// beginning that is not above the cut-off, or a time beyond all numbers, is a
// *units.OutOfRange.
//
// SOURCE: Peukert's law in its textbook form (from memory), Ohm's law, the
// table's own source; the rise of the resistance is common practice, no source.
func (d Discharge) Curve(points []CurvePoint) (End, error) {
	full, err := d.check()
	if err != nil {
		return End{}, err
	}
	if err := units.Within("number of points", float64(len(points)), "", 2, inf); err != nil {
		return End{}, err
	}
	end := d.end(full)
	last := len(points) - 1
	for i := range points[:last] {
		part := float64(i) / float64(last)
		share := d.Start - (d.Start-end.Share)*part
		// Rounding must not put the last step below the end.
		points[i] = CurvePoint{Hours: end.Hours * part, Volts: max(end.Volts, d.volts(share)), Share: share}
	}
	points[last] = end.CurvePoint
	return end, nil
}

// check returns the hours that the full battery lasts.
func (d *Discharge) check() (float64, error) {
	if d.CutOff == 0 {
		d.CutOff = CutOffPerCell * float64(d.OCV.Cells)
	}
	if err := cmp.Or(d.OCV.check(), units.Within(qResistance, d.Resistance, "ohm", 0, inf), units.Within("rise of the resistance", d.Rise, "", 0, maxRise),
		part("state of charge", d.Start), units.Above("cut-off voltage", d.CutOff, "V", 0)); err != nil {
		return 0, err
	}
	full, err := PeukertHours(d.Capacity, d.RateHours, d.Current, d.Exponent)
	if err != nil {
		return 0, err
	}
	full = min(full, d.Capacity/d.Current)
	return full, units.Above("voltage at the beginning of the discharge", d.volts(d.Start), "V", d.CutOff)
}

// volts is the voltage under the load at a state of charge.
func (d *Discharge) volts(share float64) float64 {
	return d.OCV.volts(share) - d.Current*d.Resistance*(1+d.Rise*(1-share))
}

// end goes down the table from the beginning. Between two of its points the
// voltage is a straight line over the state of charge, so the crossing is exact.
func (d *Discharge) end(full float64) End {
	high := CurvePoint{Share: d.Start, Volts: d.volts(d.Start)}
	for i := len(d.OCV.Points) - 1; i >= 0; i-- {
		share := d.OCV.Points[i].Share
		if share >= high.Share {
			continue
		}
		low := CurvePoint{Share: share, Volts: d.volts(share)}
		if low.Volts <= d.CutOff {
			share = min(high.Share, line(low.Volts, low.Share, high.Volts, high.Share, d.CutOff))
			return End{CurvePoint: CurvePoint{Hours: (d.Start - share) * full, Volts: d.CutOff, Share: share}}
		}
		high = low
	}
	high.Hours = (d.Start - high.Share) * full
	return End{CurvePoint: high, Empty: true}
}
