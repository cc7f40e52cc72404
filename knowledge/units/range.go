package units

import (
	"fmt"
	"math"
	"strconv"
)

// OutOfRange says that a formula has no answer for a quantity: it is negative
// where nothing negative exists, outside the table that the formula rests on,
// or no number at all.
type OutOfRange struct {
	Quantity  string // as said in a sentence: "length of the cable"
	Value     float64
	Unit      string  // symbol, empty for a bare number
	Low, High float64 // what holds; infinite where there is no bound
	Above     bool    // Low itself does not hold
}

func (e *OutOfRange) Error() string {
	return fmt.Sprintf("%s is %s; it must be %s", e.Quantity, withUnit(e.Value, e.Unit), e.meant())
}

func (e *OutOfRange) meant() string {
	low, high := withUnit(e.Low, e.Unit), withUnit(e.High, e.Unit)
	switch {
	case math.IsInf(e.Low, -1) && math.IsInf(e.High, 1):
		return "a number"
	case math.IsInf(e.High, 1) && e.Above:
		return "more than " + low
	case math.IsInf(e.High, 1):
		return low + " or more"
	case math.IsInf(e.Low, -1):
		return high + " or less"
	case e.Above:
		return "more than " + low + " and at most " + high
	}
	return low + " to " + high
}

func withUnit(x float64, unit string) string {
	s := strconv.FormatFloat(x, 'g', 6, 64)
	switch unit {
	case "":
		return s
	case "C":
		return s + " °C"
	}
	return s + " " + unit
}

// Within returns an *OutOfRange unless low <= x <= high and x is finite.
func Within(quantity string, x float64, unit string, low, high float64) error {
	if x >= low && x <= high && !math.IsInf(x, 0) {
		return nil
	}
	return &OutOfRange{Quantity: quantity, Value: x, Unit: unit, Low: low, High: high}
}

// Above returns an *OutOfRange unless x is finite and greater than low.
func Above(quantity string, x float64, unit string, low float64) error {
	if x > low && !math.IsInf(x, 0) {
		return nil
	}
	return &OutOfRange{Quantity: quantity, Value: x, Unit: unit, Low: low, High: math.Inf(1), Above: true}
}

// Number returns an *OutOfRange unless x is finite.
func Number(quantity string, x float64, unit string) error {
	return Within(quantity, x, unit, math.Inf(-1), math.Inf(1))
}
