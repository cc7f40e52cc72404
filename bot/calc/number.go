package calc

import (
	"math"
	"strconv"
	"strings"
)

// Show writes a number with three figures that count and its unit, as a person
// would: 38 %, 9.1 V, 85 mA, 2.2 kohm.
func Show(x float64, unit string) string {
	switch {
	case unit == "A" && x != 0 && math.Abs(x) < 0.9995:
		x, unit = x*1000, "mA"
	case unit == "ohm" && math.Abs(x) >= 1000 && math.Abs(x) < 1e6:
		x, unit = x/1000, "kohm"
	case unit == "ohm" && math.Abs(x) >= 1e6:
		x, unit = x/1e6, "Mohm"
	case unit == "C":
		unit = "°C"
	}
	return strings.TrimSpace(figures(x) + " " + unit)
}

// figures rounds to three figures that count, and never below them.
func figures(x float64) string {
	if x == 0 {
		return "0"
	}
	digits := 2 - int(math.Floor(math.Log10(math.Abs(x))))
	s := strconv.FormatFloat(x, 'f', max(0, min(digits, 6)), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
