// Package units converts between the units in which technicians write and the
// physics packages calculate, and words the refusal of a quantity for which a
// formula has no answer. The physics packages beside it import it and nothing
// else of the module.
//
// The exact definitions are those of NIST SP 811 (2008), appendix B.8: the foot
// is 0.3048 m, the inch 25.4 mm, the yard 0.9144 m, the degree Fahrenheit
// (t - 32) / 1.8 in degrees Celsius; the multiples are the SI prefixes.
package units

import (
	"maps"
	"slices"
)

// Dimension is what a unit measures. Only units of one dimension convert into
// each other.
type Dimension uint8

// The dimensions of the trade.
const (
	Share Dimension = iota + 1
	Voltage
	Current
	Resistance
	Length
	Area
	Gain  // dB
	Level // dBm
	Duration
	Charge
	Temperature
	Rate
	Frequency
	Power
	NoScale // bars, points: understood, but no scale defines them
)

// Unit is a unit of a dimension: a value less the zero, times num, over den, is
// in the dimension's base. Numerator and denominator are whole, so that 72 mV
// becomes 0.072 V and not its neighbour. Units are compared with ==.
type Unit struct {
	dim      Dimension
	num, den float64
	zero     float64
}

// The units.
var (
	Percent = Unit{Share, 1, 1, 0}

	Volt      = Unit{Voltage, 1, 1, 0}
	Millivolt = Unit{Voltage, 1, 1e3, 0}
	Kilovolt  = Unit{Voltage, 1e3, 1, 0}

	Ampere      = Unit{Current, 1, 1, 0}
	Milliampere = Unit{Current, 1, 1e3, 0}
	Microampere = Unit{Current, 1, 1e6, 0}

	Ohm     = Unit{Resistance, 1, 1, 0}
	Kiloohm = Unit{Resistance, 1e3, 1, 0}
	Megaohm = Unit{Resistance, 1e6, 1, 0}

	Metre      = Unit{Length, 1, 1, 0}
	Centimetre = Unit{Length, 1, 1e2, 0}
	Millimetre = Unit{Length, 1, 1e3, 0}
	Kilometre  = Unit{Length, 1e3, 1, 0}
	Foot       = Unit{Length, 3048, 10000, 0}
	Inch       = Unit{Length, 254, 10000, 0}
	Yard       = Unit{Length, 9144, 10000, 0}

	SquareMillimetre = Unit{Area, 1, 1, 0}

	Decibel          = Unit{Gain, 1, 1, 0}
	DecibelMilliwatt = Unit{Level, 1, 1, 0}

	Second      = Unit{Duration, 1, 1, 0}
	Millisecond = Unit{Duration, 1, 1e3, 0}
	Minute      = Unit{Duration, 60, 1, 0}
	Hour        = Unit{Duration, 3600, 1, 0}
	Day         = Unit{Duration, 86400, 1, 0}
	Week        = Unit{Duration, 7 * 86400, 1, 0}

	AmpereHour      = Unit{Charge, 1, 1, 0}
	MilliampereHour = Unit{Charge, 1, 1e3, 0}

	Celsius    = Unit{Temperature, 1, 1, 0}
	Fahrenheit = Unit{Temperature, 5, 9, 32}

	KilobitPerSecond = Unit{Rate, 1, 1, 0}
	MegabitPerSecond = Unit{Rate, 1e3, 1, 0}

	Hertz     = Unit{Frequency, 1, 1, 0}
	Megahertz = Unit{Frequency, 1e6, 1, 0}

	Watt      = Unit{Power, 1, 1, 0}
	Milliwatt = Unit{Power, 1, 1e3, 0}

	Bar = Unit{NoScale, 1, 1, 0}
)

var bySymbol = map[string]Unit{
	"%": Percent, "V": Volt, "mV": Millivolt, "A": Ampere, "mA": Milliampere, "uA": Microampere, "ohm": Ohm, "kohm": Kiloohm,
	"m": Metre, "mm": Millimetre, "ft": Foot, "mm2": SquareMillimetre, "dB": Decibel, "dBm": DecibelMilliwatt, "s": Second, "min": Minute,
	"h": Hour, "d": Day, "Ah": AmpereHour, "mAh": MilliampereHour, "C": Celsius, "F": Fahrenheit, "kbit/s": KilobitPerSecond,
	"Hz": Hertz, "MHz": Megahertz, "W": Watt, "mW": Milliwatt,
}

// BySymbol returns a unit by its symbol, as packs write it: %, V, mA, ohm, mm2,
// dBm, Ah, C and the like.
func BySymbol(symbol string) (Unit, bool) {
	u, ok := bySymbol[symbol]
	return u, ok
}

// Symbols lists the symbols that BySymbol knows, in order.
func Symbols() []string { return slices.Sorted(maps.Keys(bySymbol)) }

// Dimension returns what the unit measures.
func (u Unit) Dimension() Dimension { return u.dim }

// In converts x from u into another unit; false if they measure unlike things.
func (u Unit) In(other Unit, x float64) (float64, bool) {
	switch {
	case u == other:
		return x, true
	case u.dim != other.dim || u.dim == 0:
		return 0, false
	}
	return (x-u.zero)*(u.num*other.den)/(u.den*other.num) + other.zero, true
}
