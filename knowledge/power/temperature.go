package power

import (
	"cmp"
	"sort"

	"ferrule/knowledge/units"
)

// Float is the float voltage of a battery and how it goes with the temperature.
type Float struct {
	Volts       float64 // of the whole battery
	Temperature float64 // °C at which it holds
	Cells       int
	PerCell     float64 // V for each °C, negative
	Source      Source
}

// SealedFloat returns the float voltage of sealed 12 V batteries, 13.6 V, less
// 3 mV per cell for each °C above 20 °C (-18 mV for 6 cells).
//
// SOURCE: 13.6 V, 0.2 V either way, by two public pages (weak); the compensation
// and its 20 °C from memory (handbooks: -3 to -5 mV per cell).
func SealedFloat() Float {
	return Float{Volts: 13.6, Temperature: 20, Cells: 6, PerCell: -0.003,
		Source: Source{"13.6 V by public pages; compensation by handbooks", FromMemory}}
}

// At returns the float voltage in V at a temperature in °C:
// V + cells per-cell (T - T0). A quantity out of its range (temperatures: -40
// to 60 °C, compensation: -10 to 0 mV per cell), or a voltage that is not above
// 0, is a *units.OutOfRange.
//
// SOURCE: the setting's own.
func (f Float) At(temperature float64) (float64, error) {
	if err := cmp.Or(units.Above("float voltage", f.Volts, "V", 0), units.Within("reference temperature", f.Temperature, "C", coldest, hottest),
		units.Within("number of cells", float64(f.Cells), "", 1, 1000), units.Within("compensation per cell and degree", f.PerCell, "V", -0.010, 0),
		units.Within(qTemperature, temperature, "C", coldest, hottest)); err != nil {
		return 0, err
	}
	volts := f.Volts + float64(f.Cells)*f.PerCell*(temperature-f.Temperature)
	if err := units.Above("float voltage", volts, "V", 0); err != nil {
		return 0, err
	}
	return volts, nil
}

// FactorPoint is the share of the rated capacity that is left at a temperature
// in °C.
type FactorPoint struct{ Temperature, Factor float64 }

// LeadAcidFactors returns the capacity of lead-acid batteries against the
// temperature, in a list that the caller may change. Warmth above 20 °C adds
// nothing, so that no answer counts on it.
//
// SOURCE: common practice, no source.
func LeadAcidFactors() []FactorPoint {
	return []FactorPoint{{-20, 0.5}, {-10, 0.65}, {0, 0.8}, {10, 0.9}, {20, 1}, {40, 1}}
}

// CapacityFactor returns the share of the rated capacity that is left at a
// temperature in °C, linear between points. A temperature outside the list, or
// a list whose temperatures don't rise, whose factors fall, or aren't above 0
// and at most 1, is a *units.OutOfRange.
//
// SOURCE: the list's own.
func CapacityFactor(points []FactorPoint, temperature float64) (float64, error) {
	if err := checkFactors(points); err != nil {
		return 0, err
	}
	if err := units.Within(qTemperature, temperature, "C", points[0].Temperature, points[len(points)-1].Temperature); err != nil {
		return 0, err
	}
	i := 1 + sort.Search(len(points)-2, func(i int) bool { return points[i+1].Temperature >= temperature })
	low, high := points[i-1], points[i]
	return min(high.Factor, line(low.Temperature, low.Factor, high.Temperature, high.Factor, temperature)), nil
}

func checkFactors(points []FactorPoint) error {
	if err := units.Within("number of points of the list", float64(len(points)), "", 2, inf); err != nil {
		return err
	}
	for i, p := range points {
		// The bounds keep differences of two temperatures finite.
		if err := cmp.Or(units.Within("temperature of the list", p.Temperature, "C", -273.15, 1000), part("factor of the list", p.Factor)); err != nil {
			return err
		}
		if i == 0 {
			continue
		}
		if err := cmp.Or(units.Above("temperature of the list", p.Temperature, "C", points[i-1].Temperature),
			units.Within("factor of the list", p.Factor, "", points[i-1].Factor, 1)); err != nil {
			return err
		}
	}
	return nil
}
